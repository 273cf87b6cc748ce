"""Agreement statistics against published tables and examples."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats import inter_rater, proportion

from counting.decision.agreement import (
    bland_altman,
    cohen_kappa,
    expected_calibration_error,
    reliability,
    wilson_interval,
)


@pytest.mark.parametrize(
    ("hits", "trials", "low", "high"),
    [
        # Newcombe 1998, table I (cases from memory, limits computed)
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        # computed from the definition
        (95, 100, 0.8882, 0.9785),
        (99, 100, 0.9455, 0.9982),
        (100, 100, 0.9630, 1.0),
        (20, 20, 0.8389, 1.0),
        (285, 300, 0.9192, 0.9695),
        (300, 300, 0.9874, 1.0),
    ],
)
def test_wilson_interval(hits, trials, low, high):
    assert wilson_interval(hits, trials) == pytest.approx((low, high), abs=6e-5)


def test_wilson_without_trials_says_nothing():
    assert wilson_interval(0, 0) == (0.0, 1.0)


def test_more_hits_than_trials_are_refused():
    with pytest.raises(ValueError, match="3 hits of 2"):
        wilson_interval(3, 2)


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_wilson_holds_the_share_and_stays_a_probability(case):
    low, high = wilson_interval(*case)
    assert 0.0 <= low <= case[0] / case[1] <= high <= 1.0


@pytest.mark.parametrize(
    ("table", "observed", "kappa"),
    [
        pytest.param([[20, 5], [10, 15]], 0.70, 0.40, id="common textbook example"),
        pytest.param([[85, 5], [5, 5]], 0.90, 0.4444, id="one category prevails"),
        pytest.param([[45, 5], [5, 45]], 0.90, 0.8000, id="balanced, same raw agreement"),
    ],
)
def test_cohen_kappa(table, observed, kappa):
    result = cohen_kappa(table)
    assert result.observed == pytest.approx(observed)
    assert result.kappa == pytest.approx(kappa, abs=5e-5)


def test_kappa_says_nothing_where_all_fall_into_one_category():
    assert math.isnan(cohen_kappa([[9, 0], [0, 0]]).kappa)


def test_a_table_that_is_not_square_is_refused():
    with pytest.raises(ValueError, match="square"):
        cohen_kappa([[1, 2, 3], [4, 5, 6]])


# Bland and Altman, Lancet 1986, table 1: peak expiratory flow, l/min, 17 subjects
WRIGHT_1 = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI_1 = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_bland_altman_1986():
    result = bland_altman(WRIGHT_1, MINI_1)
    assert result.n == 17
    assert result.bias == pytest.approx(-2.1176, abs=5e-5)
    assert result.sd == pytest.approx(38.7651, abs=5e-5)
    assert (result.lower, result.upper) == pytest.approx((-78.0973, 73.8620), abs=5e-4)
    assert result.bias_se == pytest.approx(9.4019, abs=5e-5)
    assert result.limit_se == pytest.approx(16.2846, abs=5e-5)
    assert result.t == pytest.approx(2.1199, abs=5e-5)


def test_high_correlation_is_no_agreement():
    assert np.corrcoef(WRIGHT_1, MINI_1)[0, 1] == pytest.approx(0.9433, abs=5e-5)


def test_pairs_with_a_gap_are_left_out():
    assert bland_altman([1.0, math.nan, 3.0, 5.0], [0.0, 1.0, 2.0, 5.0]).n == 3


def test_one_pair_is_too_few():
    with pytest.raises(ValueError, match="at least two"):
        bland_altman([1.0], [1.0])


def test_reliability_of_a_small_made_up_set():
    stated = [0.05, 0.05, 0.95, 0.95, 0.95, 1.0]
    happened = [False, False, True, True, True, False]
    rows = reliability(stated, happened)
    assert [(r.n, round(r.stated, 4), r.observed) for r in rows] == [
        (2, 0.05, 0.0),
        (4, 0.9625, 0.75),
    ]
    expected = (2 * 0.05 + 4 * 0.2125) / 6
    assert expected_calibration_error(stated, happened) == pytest.approx(expected)


def test_honest_probabilities_have_a_small_calibration_error():
    rng = np.random.default_rng(3)
    p = rng.uniform(0, 1, 20_000)
    happened = rng.uniform(0, 1, p.size) < p
    assert expected_calibration_error(p, happened) < 0.012
    assert expected_calibration_error(np.sqrt(p), happened) > 0.1


def test_without_a_forecast_there_is_no_calibration_error() -> None:
    assert math.isnan(expected_calibration_error([], []))


def test_chance_agreement_takes_each_rater_s_own_habits() -> None:
    # By hand from the definition: 9 and 11 rows, 12 and 8 columns of 20.
    found = cohen_kappa([[8, 1], [4, 7]])
    assert found.expected == pytest.approx((9 * 12 + 11 * 8) / 20**2)
    assert found.kappa == pytest.approx((0.75 - 0.49) / 0.51)


def test_bins_of_reliability_are_tenths_and_certainty_is_in_the_last() -> None:
    rows = reliability([0.05, 0.85, 0.9, 1.0], [False, True, True, True])
    assert [(row.lower, row.upper, row.n) for row in rows] == [
        (0.0, 0.1, 1),
        (0.8, 0.9, 1),
        (0.9, 1.0, 2),
    ]
    assert expected_calibration_error([0.91, 0.99], [True, False]) == pytest.approx(0.45)


def test_two_pairs_are_enough_for_limits_of_agreement() -> None:
    found = bland_altman([1.0, 3.0], [0.0, 0.0])
    assert found.bias == pytest.approx(2.0)


def test_all_hits_reach_certainty_and_no_further() -> None:
    assert wilson_interval(20, 20)[1] == 1.0


kappas = st.lists(st.lists(st.integers(0, 40), min_size=3, max_size=3), min_size=3, max_size=3)


@given(kappas)
def test_kappa_agrees_with_statsmodels(table):
    ours = cohen_kappa(table).kappa
    if not math.isnan(ours):
        theirs = inter_rater.cohens_kappa(np.array(table, float), return_results=False)
        assert ours == pytest.approx(theirs, abs=1e-9)


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_wilson_agrees_with_statsmodels(case):
    theirs = proportion.proportion_confint(*case, alpha=0.05, method="wilson")
    assert wilson_interval(*case) == pytest.approx(theirs, abs=1e-9)
