"""Checks of one rep are dependent; bounds by Fréchet 1935."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from counting.decision.combination import (
    conditional_probabilities,
    joint_bounds,
    probability_all,
    rep_state,
)
from counting.decision.conformance import Risk

probability_lists = st.lists(st.floats(0, 1), min_size=1, max_size=5)


def test_two_checks_with_a_shared_error_against_the_bivariate_normal():
    p, shared = [0.9, 0.8], 0.4
    expected = multivariate_normal([0, 0], [[1, shared], [shared, 1]]).cdf(norm.ppf(p))
    assert probability_all(p, shared) == pytest.approx(expected, abs=1e-5)


def test_without_a_shared_error_probabilities_multiply():
    assert probability_all([0.9, 0.8, 0.7], 0.0) == pytest.approx(0.9 * 0.8 * 0.7)


def test_a_wholly_shared_error_leaves_the_worst_check():
    assert probability_all([0.9, 0.8], 0.99) == pytest.approx(0.8, abs=0.02)


def test_a_rep_without_checks_is_good():
    assert probability_all([]) == 1.0
    assert rep_state([], Risk()) == "good"


@pytest.mark.parametrize(
    ("p", "lower", "upper"),
    [
        ([0.9, 0.8], 0.7, 0.8),
        ([0.9, 0.8, 0.6], 0.3, 0.6),
        ([0.3, 0.4], 0.0, 0.3),
        ([0.25], 0.25, 0.25),
        ([], 1.0, 1.0),
    ],
)
def test_bounds_worked_by_hand(p, lower, upper):
    """Fréchet 1935: from the sum of all that can fail apart to the worst alone."""
    assert joint_bounds(p) == pytest.approx((lower, upper))


def test_a_share_outside_zero_to_one_is_refused():
    for shared in (-0.1, 1.0):
        with pytest.raises(ValueError, match="must be from 0 to below 1"):
            conditional_probabilities([0.5], shared)


def test_the_rule_holds_right_at_its_limits():
    """Two checks at 0.95 with independent errors leave 0.9025, at 0.9486 each 0.89984."""
    risk = Risk(0.95, 0.05)
    assert rep_state([0.95], risk) == "good"
    assert rep_state([0.9499], risk) == "too close"
    assert rep_state([0.05, 0.99], risk) == "no-rep"
    assert rep_state([0.0501, 0.99], risk) == "too close"
    assert rep_state([0.95, 0.95], risk, 0.0) == "good"
    assert rep_state([0.95, 0.95, 0.998], risk, 0.0) == "good"
    assert rep_state([0.95, 0.95, 0.997], risk, 0.0) == "too close"
    lenient = Risk(0.8, 0.2)
    assert rep_state([0.8, 0.8], lenient, 0.0) == "good"
    assert rep_state([0.8, 0.8, 0.9], lenient, 0.0) == "too close"
    assert rep_state([0.2, 0.9], lenient) == "no-rep"


@given(probability_lists, st.floats(0, 0.95))
def test_the_probability_lies_between_the_bounds(p, shared):
    lower, upper = joint_bounds(p)
    assert lower - 1e-12 <= probability_all(p, shared) <= upper + 1e-12


@given(st.floats(0.001, 0.999), st.floats(0, 0.9))
def test_the_shared_error_leaves_a_single_check_alone(p, shared):
    assert probability_all([p], shared) == pytest.approx(p, abs=2e-3)


@given(probability_lists)
def test_a_no_rep_holds_under_any_dependence(p):
    if rep_state(p, Risk()) == "no-rep":
        assert all(probability_all(p, shared) <= 0.05 for shared in (0.0, 0.3, 0.9))


@given(probability_lists)
def test_a_good_rep_meets_each_check_and_doubles_its_risk_at_most(p):
    if rep_state(p, Risk()) == "good":
        assert min(p) >= 0.95
        assert probability_all(p) >= 0.90
        assert rep_state([*p, 0.94], Risk()) == "too close"


@pytest.mark.parametrize(
    ("p", "expected"),
    [
        ([0.99, 0.98], "good"),
        ([0.97, 0.97], "good"),
        ([0.99, 0.94], "too close"),
        ([0.97] * 5, "too close"),
        ([0.999, 0.04], "no-rep"),
        ([0.2, 0.2, 0.2], "too close"),
        ([0.999, 0.5], "too close"),
    ],
)
def test_verdict_of_a_rep(p, expected):
    """Five checks at 0.97 leave a joint probability of about 0.87: more than twice the risk."""
    assert rep_state(p, Risk()) == expected


def test_drawn_errors_reproduce_the_joint_probability():
    rng = np.random.default_rng(7)
    p, shared, n = np.array([0.95, 0.85, 0.7]), 0.5, 200_000
    common = rng.normal(size=(n, 1))
    error = np.sqrt(shared) * common + np.sqrt(1 - shared) * rng.normal(size=(n, 3))
    met = (error <= norm.ppf(p)).all(axis=1).mean()
    assert probability_all(list(p), shared) == pytest.approx(met, abs=0.004)


@pytest.mark.parametrize("shared", [-0.1, 1.0])
def test_an_impossible_shared_error_is_refused(shared):
    with pytest.raises(ValueError, match="shared error"):
        conditional_probabilities([0.5], shared)


def test_a_tenth_of_the_error_is_shared_unless_said_otherwise():
    p = [0.9, 0.8]
    expected = multivariate_normal([0, 0], [[1, 0.1], [0.1, 1]]).cdf(norm.ppf(p))
    assert probability_all(p) == pytest.approx(expected, abs=1e-5)


def test_nothing_to_meet_is_met_for_certain():
    assert joint_bounds([]) == (1.0, 1.0)


def test_a_probability_right_at_a_limit_of_the_rule_is_definite():
    rule = Risk(met_at_least=0.75, not_met_at_most=0.25)
    assert rep_state([0.75], rule) == "good"
    assert rep_state([0.25], rule) == "no-rep"
