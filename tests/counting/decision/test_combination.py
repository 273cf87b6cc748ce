"""From checks to the rep."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from counting.decision.combination import (
    NODE_WEIGHTS,
    conditional_probabilities,
    rep_state,
)
from counting.decision.conformance import Risk

probability_lists = st.lists(st.floats(0, 1), min_size=1, max_size=5)


def state(p, risk):
    return rep_state(p, float(np.prod(p)), risk)


def test_two_errors_that_share_a_part_against_the_bivariate_normal():
    p, shared = [0.9, 0.8], 0.4
    expected = multivariate_normal([0, 0], [[1, shared], [shared, 1]]).cdf(norm.ppf(p))
    joint = NODE_WEIGHTS @ conditional_probabilities(p, shared).prod(axis=1)
    assert joint == pytest.approx(expected, abs=1e-5)


@given(st.floats(0.001, 0.999), st.floats(0, 0.9))
def test_a_shared_part_leaves_each_alone(p, shared):
    assert NODE_WEIGHTS @ conditional_probabilities([p], shared) == pytest.approx(p, abs=2e-3)


def test_a_rep_without_checks_is_good():
    assert state([], Risk()) == "good"


def test_a_share_outside_zero_to_one_is_refused():
    for shared in (-0.1, 1.0):
        with pytest.raises(ValueError, match="must be from 0 to below 1"):
            conditional_probabilities([0.5], shared)


def test_the_rule_holds_right_at_its_limits():
    """Two checks at 0.95 with independent errors leave 0.9025, at 0.9486 each 0.89984."""
    risk = Risk(0.95, 0.05)
    assert state([0.95], risk) == "good"
    assert state([0.9499], risk) == "too close"
    assert state([0.05, 0.99], risk) == "no-rep"
    assert state([0.0501, 0.99], risk) == "too close"
    assert state([0.95, 0.95], risk) == "good"
    assert state([0.95, 0.95, 0.998], risk) == "good"
    assert state([0.95, 0.95, 0.997], risk) == "too close"
    lenient = Risk(0.8, 0.2)
    assert state([0.8, 0.8], lenient) == "good"
    assert state([0.8, 0.8, 0.9], lenient) == "too close"
    assert state([0.2, 0.9], lenient) == "no-rep"


@given(probability_lists)
def test_a_no_rep_holds_under_any_dependence(p):
    if state(p, Risk()) == "no-rep":
        assert min(p) <= 0.05


@given(probability_lists)
def test_a_good_rep_meets_each_check_and_doubles_its_risk_at_most(p):
    if state(p, Risk()) == "good":
        assert min(p) >= 0.95
        assert np.prod(p) >= 0.90
        assert state([*p, 0.94], Risk()) == "too close"


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
    assert state(p, Risk()) == expected


@pytest.mark.parametrize("shared", [-0.1, 1.0])
def test_an_impossible_shared_error_is_refused(shared):
    with pytest.raises(ValueError, match="shared error"):
        conditional_probabilities([0.5], shared)


def test_a_probability_right_at_a_limit_of_the_rule_is_definite():
    rule = Risk(met_at_least=0.75, not_met_at_most=0.25)
    assert state([0.75], rule) == "good"
    assert state([0.25], rule) == "no-rep"
