"""Draws of an athlete from what was typed in alone."""

import numpy as np
import pytest

from counting.pacing.model.athlete import FORMS
from counting.pacing.model.exertion import (
    after_rep,
    cycle_time_s,
    fresh,
    levels_of,
    rep_cost,
    rested,
    success_probability,
    work_of,
)
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import unbroken_sets
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


def reps_to_failure(athletes, movement, sets, rest_s):
    """Reps of several sets to failure with a rest between, shape ``(n,)``."""
    random = np.random.default_rng(0)
    work, count = work_of(athletes, movement), len(athletes)
    missing, _ = fresh(athletes)
    done = np.zeros(count)
    for number in range(sets):
        if number:
            missing = rested(athletes, missing, rest_s)
        spent, going = np.zeros(count), np.full(count, True)
        while going.any():
            cost, levels = rep_cost(work, spent), levels_of(missing)
            went = going & (random.random(count) < success_probability(work, levels, cost))
            time_s = cycle_time_s(work, levels, 1.0)
            missing = np.where(going, after_rep(athletes, work, missing, cost, time_s), missing)
            done, spent, going = done + went, spent + going, went
    return done


# Published: five sets to failure with 1 and 2 min of rest, 26.67 ± 3.44 and 33.16 ± 6.14 reps
# (Speretta et al. 2012, n = 6); three sets to failure of a four-rep maximum, 9.33 ± 1.87 (Iglesias-
# Soler et al., Int J Sports Physiol Perform 2014;9:637, n = 9). So few people tell a coefficient of
# variation (0.13, 0.19, 0.20) within a third or so.
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("movement", "able", "sets", "rest_s"),
    [("push-up", 9.0, 5, 60.0), ("push-up", 9.0, 5, 120.0), ("front squat", 4.0, 3, 180.0)],
)
def test_people_who_type_in_the_same_differ_as_published_ones_do(
    form, movement, able, sets, rest_s
):
    fit = fit_athlete([], (movement,), unbroken_sets({movement: able}), forms=(form,))
    reps = reps_to_failure(fit.forms[0].draws, movement, sets, rest_s)
    assert 0.10 <= np.std(reps) / np.mean(reps) <= 0.25
