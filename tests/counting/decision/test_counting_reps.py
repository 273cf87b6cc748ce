"""The count of a film as a distribution."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from counting.decision.counting_reps import (
    HIDDEN,
    count_distribution,
    count_reps,
    shared_error,
    with_hidden,
)


def test_equal_probabilities_give_the_binomial():
    assert count_distribution([0.3] * 6) == pytest.approx(binom.pmf(range(7), 6, 0.3))


def test_unequal_probabilities_against_every_outcome_enumerated():
    p = [0.9, 0.5, 0.2, 0.97]
    expected = np.zeros(5)
    for outcome in itertools.product([0, 1], repeat=4):
        expected[sum(outcome)] += np.prod(
            [q if o else 1 - q for o, q in zip(outcome, p, strict=True)]
        )
    assert count_distribution(p) == pytest.approx(expected)


@given(st.lists(st.floats(0.01, 0.99), max_size=12), st.floats(0, 0.8))
def test_a_shared_error_keeps_the_mean(p, shared):
    distribution = count_distribution(p, shared)
    assert distribution.sum() == pytest.approx(1.0)
    assert np.arange(len(p) + 1) @ distribution == pytest.approx(sum(p), abs=0.02 * (len(p) + 1))


def test_a_shared_error_widens_the_count():
    p = [0.7] * 20
    k = np.arange(21)

    def variance(shared):
        d = count_distribution(p, shared)
        return (k * k) @ d - (k @ d) ** 2

    assert variance(0.5) > 3 * variance(0.0)


def test_what_errors_share_spreads_the_count_as_widely_as_the_cases_do():
    """Ten reps in four cases of the film's error: all good, all bad, or in between."""
    given_film = np.array([[1.0] * 10, [0.0] * 10, [0.9] * 10, [0.2] * 10])
    expected = given_film.sum(axis=1)
    variance = np.mean((given_film * (1 - given_film)).sum(axis=1)) + expected.var()
    p = list(given_film.mean(axis=0))
    shared = shared_error(given_film)
    d, k = count_distribution(p, shared), np.arange(11)
    assert (k * k) @ d - (k @ d) ** 2 == pytest.approx(variance, rel=0.03)
    assert shared > 0.8


def test_reps_that_are_known_apart_share_nothing():
    assert shared_error(np.full((5, 6), 0.7)) < 0.01


def test_counts_and_their_interval():
    count = count_reps(["good", "no-rep", "too close", "good"], [0.99, 0.01, 0.6, 0.97])
    assert (count.good, count.no_rep, count.too_close) == (2, 1, 1)
    assert (count.lowest, count.highest) == (2, 3)
    assert count.distribution.index(max(count.distribution)) == 3


def test_reps_that_may_be_hidden_widen_the_count():
    """One stretch of up to two: none good where none is there, or each falls to an even bet."""
    none, one, two = HIDDEN
    expected = [none + one / 2 + two / 4, one / 2 + two / 2, two / 4]
    assert with_hidden(np.array([1.0]), [2]) == pytest.approx(expected)
    assert with_hidden(np.array([1.0]), [1]) == pytest.approx(
        [none + (one + two) / 2, (one + two) / 2]
    )
    assert with_hidden(np.array([0.0, 1.0]), []) == pytest.approx([0.0, 1.0])


def test_hidden_reps_enter_the_interval_too():
    count = count_reps(["good", "good"], [0.99, 0.99], hidden=[2, 1])
    assert (count.lowest, count.highest) == (2, 5)
    assert len(count.distribution) == 6
    assert sum(count.distribution) == pytest.approx(1.0)


def test_no_reps_at_all():
    assert count_reps([], []).distribution == (1.0,)


def test_lists_of_unequal_length_are_refused():
    with pytest.raises(ValueError, match="1 verdicts but 2"):
        count_reps(["good"], [0.9, 0.8])


def test_one_rep_shares_its_error_with_none_and_stands_with_its_own_probability():
    assert shared_error(np.array([[0.3], [0.9], [0.1]])) == 0.0
    assert count_distribution([0.43], 0.0) == pytest.approx([0.57, 0.43])
