"""Draws of an athlete from what was typed in alone."""

import numpy as np
import pytest

from counting.pacing.model.typed import draws_after


def test_draws_of_a_linear_measurement_are_those_of_the_exact_posterior():
    # Two standard normal numbers whose sum is measured as 2 with a standard deviation of 0.5: the
    # posterior has mean 2 / 2.25 each, variance 1 - 1 / 2.25, and covariance -1 / 2.25.
    measured = lambda scores: (np.sum(scores, axis=1, keepdims=True) - 2.0) / 0.5  # noqa: E731
    drawn = draws_after(measured, np.array([0.9, 0.9]), 20_000)
    assert np.mean(drawn, axis=0) == pytest.approx([0.889, 0.889], abs=0.02)
    assert np.cov(drawn.T) == pytest.approx(np.array([[0.556, -0.444], [-0.444, 0.556]]), abs=0.02)


def test_no_measurement_leaves_the_prior():
    drawn = draws_after(lambda scores: np.empty((len(scores), 0)), np.zeros(3), 5000)
    assert np.std(drawn, axis=0) == pytest.approx(np.ones(3), abs=0.05)


def test_a_measurement_that_bends_is_met_by_every_draw():
    # exp(score) is measured as 20 within 5 %, far from what was believed, and flat below.
    measured = lambda scores: (np.logaddexp(0.0, scores[:, :1]) - 4.0) / 0.05  # noqa: E731
    drawn = draws_after(measured, np.array([3.9]), 2000)
    assert np.max(np.abs(measured(drawn))) < 6.0


def test_a_little_change_of_what_is_typed_in_changes_every_draw_a_little():
    def drawn(value):
        return draws_after(lambda s: (np.exp(s[:, :1]) - value) / 0.1, np.array([0.7]), 500)

    assert np.max(np.abs(drawn(2.0) - drawn(2.02))) < 0.03
