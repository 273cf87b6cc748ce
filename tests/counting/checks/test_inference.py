"""True values of a film's reps from readings that share an error, on simulated films."""

import numpy as np
import pytest

from counting.checks.inference import (
    CASES,
    COMMON_FREEDOM,
    OWN_FREEDOM,
    TrueValues,
    posterior_of_reps,
)
from counting.checks.judge import combined
from counting.decision.agreement import expected_calibration_error
from counting.decision.conformance import Risk, call_tails, decide
from counting.decision.counting_reps import (
    UNKNOWN_SHARE,
    count_distribution,
    shared_error,
)

DEPTHS = TrueValues(usual=-4.0, usual_spread=1.5, lowest=-10.0, highest=25.0)
COMMON, OWN = 2.0, 0.7


def judged(readings, own=OWN, common=COMMON, limit=0.0, relation="at most", before=DEPTHS):
    n = len(readings)
    return posterior_of_reps(
        np.asarray(readings, float), np.full(n, own), np.full(n, common), before, limit, relation
    )


def draw_films(rng, films, reps, true_of):
    """True values and readings of films whose common errors are as long-tailed as stated."""
    for _ in range(films):
        true = true_of(reps)
        common = COMMON * rng.standard_t(COMMON_FREEDOM)
        yield true, true + common + OWN * rng.standard_t(OWN_FREEDOM, reps)


@pytest.fixture(scope="module")
def simulated():
    """2400 reps, each as likely as not of the usual kind, else anything."""
    rng = np.random.default_rng(11)

    def true_of(reps):
        usual = rng.normal(DEPTHS.usual, DEPTHS.usual_spread, reps)
        other = rng.uniform(DEPTHS.lowest, DEPTHS.highest, reps)
        return np.where(rng.random(reps) < 0.5, usual, other)

    rows = []
    for true, readings in draw_films(rng, 300, 8, true_of):
        known = judged(readings)
        rows += list(zip(true, known.value, known.uncertainty, known.probability_met, strict=True))
    return np.array(rows)


def test_stated_probabilities_come_true(simulated):
    true, _, _, probability = simulated.T
    assert expected_calibration_error(list(probability), list(true <= 0)) < 0.03


def test_stated_intervals_hold_the_truth_in_93_to_97_percent(simulated):
    true, value, uncertainty, _ = simulated.T
    assert 0.93 <= np.mean(np.abs(value - true) <= 1.96 * uncertainty) <= 0.975


def test_definite_verdicts_are_wrong_no_more_often_than_stated(simulated):
    true, _, _, probability = simulated.T
    verdicts = np.array([decide(p, Risk()) for p in probability])
    assert np.mean(true[verdicts == "met"] > 0) < 0.05
    assert np.mean(true[verdicts == "not met"] <= 0) < 0.05


@pytest.mark.slow
def test_who_always_stops_short_is_refused_in_every_share_of_faults():
    """Films of six reps with none to six of them 10 cm high: a bad rep is refused alike in each."""
    rng = np.random.default_rng(3)
    refused, passed = [], []
    for short in range(1, 7):
        verdicts = []
        for _, readings in draw_films(
            rng, 150, 6, lambda n, short=short: np.where(np.arange(n) < short, 10.0, -4.0)
        ):
            verdicts += [decide(p, Risk()) for p in judged(readings).probability_met[:short]]
        refused.append(verdicts.count("not met") / len(verdicts))
        passed.append(verdicts.count("met") / len(verdicts))
    assert min(refused) > 0.9
    assert max(refused) - min(refused) < 0.06
    assert max(passed) < 0.01


def test_equal_readings_are_equal_verdicts_however_long_the_film():
    short, long = judged([-2.5] * 8), judged([-2.5] * 144)
    assert np.ptp(long.probability_met) < 1e-12
    assert long.probability_met[0] == pytest.approx(short.probability_met[0], abs=1e-12)


def test_other_reps_never_move_the_level_of_one():
    alone = judged([6.0])
    company = judged([6.0, -4.0, -4.1, -3.9, 30.0])
    assert company.probability_met[0] == pytest.approx(alone.probability_met[0], abs=1e-12)
    assert company.value[0] == pytest.approx(alone.value[0], abs=1e-9)


def test_the_interval_is_the_one_the_probability_comes_from():
    """It ends at the limit where 97.5 % of what remains lies on one side of it."""
    for reading in np.linspace(-3.0, 12.0, 31):
        known = judged([reading])
        outside = known.value[0] - 1.96 * known.uncertainty[0] > 0.0
        if abs(known.probability_met[0] - 0.025) > 1e-3:
            assert outside == (known.probability_met[0] < 0.025)


@pytest.mark.parametrize("relation", ["at most", "at least"])
@pytest.mark.parametrize("risk", [Risk(), Risk(0.99, 0.2)])
def test_the_limit_lies_in_the_calls_interval_exactly_where_the_check_is_too_close(relation, risk):
    for reading in np.linspace(-12.0, 12.0, 41):
        known = judged([reading], relation=relation)
        low, high = known.interval(0, call_tails(relation, risk))
        assert (low < 0.0 < high) == (decide(float(known.probability_met[0]), risk) == "too close")


def test_a_rep_is_an_even_bet_before_looking_however_many_checks_it_has():
    """Worthless readings leave what was known before: all checks together are met in a half."""
    before = TrueValues(usual=-4.0, usual_spread=0.5, lowest=0.0, highest=25.0)
    for checks in (1, 2, 4):
        known = posterior_of_reps(
            np.array([0.0]), np.array([1e6]), np.array([1e6]), before, 0.0, "at most", 0, checks
        )
        assert known.probability_met[0] ** checks == pytest.approx(0.5, abs=0.01)


def test_a_rep_not_read_is_an_even_bet():
    known = judged([np.nan, -4.0])
    assert known.probability_met[0] == 0.5
    assert np.isnan(known.value[0])
    assert known.given_film[:, 0].mean() == pytest.approx(0.5)


def test_a_worthless_reading_never_makes_a_definite_verdict():
    known = judged([-4.0, 40.0], own=60.0, common=80.0)
    assert np.all((known.probability_met > 0.05) & (known.probability_met < 0.95))


def test_a_limit_from_below_mirrors_one_from_above():
    mirrored = TrueValues(usual=4.0, usual_spread=1.5, lowest=-25.0, highest=10.0)
    up = judged([3.0, -5.0], relation="at least", before=mirrored)
    down = judged([-3.0, 5.0])
    assert up.probability_met == pytest.approx(down.probability_met, abs=1e-9)
    assert up.value == pytest.approx(-down.value, abs=1e-9)


@pytest.mark.parametrize("limit", [-40.0, 0.0, 40.0])
def test_any_limit_may_be_asked_for(limit):
    met = judged([-4.0], limit=limit).probability_met[0]
    assert (met > 0.95) == (limit > 0.0) or limit == 0.0
    assert np.isfinite(met)


def test_what_is_known_given_the_films_error_averages_to_what_is_known():
    known = judged([-1.0, -1.0, 2.0])
    assert known.given_film.shape == (CASES, 3)
    assert known.given_film.mean(axis=0) == pytest.approx(known.probability_met, abs=0.05)


@pytest.mark.slow
def test_a_count_that_knows_of_the_shared_error_holds_the_truth_more_often():
    """Films in which all reps are alike, good together or bad together."""
    rng = np.random.default_rng(5)
    held_shared, held_apart = [], []
    for _ in range(250):
        true = rng.uniform(-6.0, 6.0) + np.zeros(8)
        common = COMMON * rng.standard_t(COMMON_FREEDOM)
        before = TrueValues(usual=0.0, usual_spread=1000.0, lowest=-10.0, highest=10.0)
        known = judged(true + common + OWN * rng.standard_t(OWN_FREEDOM, 8), before=before)
        good = int((true <= 0).sum())
        for held, shared in ((held_shared, shared_error(known.given_film)), (held_apart, 0.0)):
            passed = np.cumsum(count_distribution(list(known.probability_met), shared))
            held.append(passed[good] > 0.05 and (good == 0 or passed[good - 1] < 0.95))
    assert np.mean(held_shared) > 0.8
    assert np.mean(held_apart) < np.mean(held_shared) - 0.05


def test_checks_that_nobody_read_make_every_count_as_likely_as_any_other():
    """Bayes (1763): of a share of which nothing is known each number of hits is as likely."""
    judged_reps = combined([None], 6, Risk())
    assert judged_reps.probability_good == pytest.approx(np.full(6, 0.5))
    counts = count_distribution(list(judged_reps.probability_good), judged_reps.shared_error)
    assert counts == pytest.approx(np.full(7, 1 / 7), abs=1e-3)
    assert judged_reps.shared_error == pytest.approx(UNKNOWN_SHARE, abs=1e-3)


def test_a_rep_that_was_not_read_shares_what_is_unknown_with_its_like():
    one = judged([np.nan, -8.0, np.nan])
    np.testing.assert_array_equal(one.given_film[:, 0], one.given_film[:, 2])
    assert one.given_film[:, 0].mean() == pytest.approx(0.5)
    assert np.ptp(one.given_film[:, 0]) > 0.9
    assert one.probability_met[0] == 0.5


@pytest.mark.parametrize(("errors_beyond", "is_read"), [(1.9, True), (2.1, False)])
def test_a_reading_far_beyond_all_that_was_labelled_is_none(
    errors_beyond: float, *, is_read: bool
) -> None:
    error = float(np.hypot(COMMON, OWN))
    low, high = DEPTHS.lowest, DEPTHS.highest
    for reading in (low - errors_beyond * error, high + errors_beyond * error):
        known = judged([reading])
        assert np.isfinite(known.value[0]) == is_read
        assert is_read or known.probability_met[0] == 0.5
