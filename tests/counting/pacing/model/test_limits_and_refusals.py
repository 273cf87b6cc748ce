"""What a film tells of the limit, and of reps that did not count."""

from dataclasses import replace

import numpy as np
import pytest

from counting.pacing.model.athlete import usual_athlete
from counting.pacing.model.attempt import Attempt, SeenRep, with_limits
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.refusals import refusals_of
from counting.pacing.model.replay import replay


def reps_of(*sets, times=None):
    """Sets of pull-ups with ten seconds between; ``times`` replaces times by number from 0."""
    reps, clock_s, count = [], 0.0, 0
    for number, size in enumerate(sets, start=1):
        for _ in range(size):
            time_s = (times or {}).get(count, 1.7)
            reps.append(SeenRep("pull-up", clock_s, clock_s + time_s, number, False, (1, 1, 1)))
            clock_s += time_s
            count += 1
        clock_s += 10.0
    return reps


def test_a_slow_no_rep_that_ends_a_set_gave_out():
    reps = reps_of(6, 4, times={5: 3.5})
    reps[5] = replace(reps[5], gave_out=None)
    assert with_limits(reps)[5].gave_out is True


def test_a_quick_no_rep_says_nothing_of_strength():
    reps = reps_of(6, 4)
    reps[5] = replace(reps[5], gave_out=None)
    assert with_limits(reps)[5].gave_out is None


def test_a_drop_after_a_slow_rep_is_evidence_and_a_plain_break_is_none():
    slow, plain = reps_of(6, 4, times={5: 3.0}), reps_of(6, 4)
    assert [rep.let_go for rep in with_limits(slow)].count(True) == 1
    assert not any(rep.let_go for rep in with_limits(plain))


def test_letting_go_speaks_for_an_athlete_at_the_limit():
    attempt = Attempt(with_limits(reps_of(8, 4, times={7: 3.0})), 0.0)
    weak, strong = (usual_athlete(("pull-up",), "linear", pull_up=reps) for reps in (9.0, 30.0))
    surprise = [float(replay(athlete, attempt).surprise[0, 7]) for athlete in (weak, strong)]
    assert surprise[0] < surprise[1]


def test_a_limit_that_was_seen_lowers_the_capacity_believed():
    free = Attempt(tuple(reps_of(8, 4)), 0.0)
    held = Attempt(with_limits(reps_of(8, 4, times={7: 3.2})), 0.0)
    believed = []
    for attempt in (free, held):
        draws = fit_athlete([attempt], draws=150).draws(300, 0)
        believed.append(np.median(draws.unbroken[:, 0]))
    assert believed[1] < believed[0]


class TestRefusals:
    def attempt(self, refused, fault="hips below knees"):
        reps = tuple(
            replace(rep, refused=float(i in refused), fault=fault if i in refused else None)
            for i, rep in enumerate(reps_of(13))
        )
        return Attempt(reps, 0.0)

    def test_four_of_thirteen_with_their_fault_and_when(self):
        seen = refusals_of([self.attempt({9, 10, 11, 12})], "pull-up")
        assert (seen.tried, seen.refused, seen.fault) == (13, 4, "hips below knees")
        assert seen.late

    def test_refused_reps_give_a_rate_between_what_was_seen_and_few(self):
        draws = fit_athlete([self.attempt({1, 4, 7, 10})], draws=150).draws(300, 0)
        assert np.mean(draws.refused[:, 0]) == pytest.approx(4.25 / 18, abs=0.03)

    def test_a_movement_that_no_film_shows_has_none(self):
        draws = fit_athlete([self.attempt({1})], ("burpee",), draws=100).draws(100, 0)
        assert np.all(draws.refused[:, draws.column("burpee")] == 0.0)
