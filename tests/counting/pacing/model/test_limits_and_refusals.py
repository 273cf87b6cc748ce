"""What a film tells of the limit, and of reps that did not count."""

from dataclasses import replace

import numpy as np
import pytest

from counting.pacing.model.attempt import Attempt, SeenRep, with_limits
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.refusals import reasons_of, refusals_of
from counting.pacing.model.replay import replay
from tests.counting.pacing.athletes import usual_athlete


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

    def test_tries_that_end_their_sets_failed_and_those_within_sets_were_refused(self):
        ended, within = reps_of(6, 6, 6, 6), reps_of(6, 6, 6, 6)
        for index in (5, 11, 17):
            ended[index] = replace(ended[index], gave_out=None, refused=1.0)
            within[index - 3] = replace(within[index - 3], gave_out=None, refused=1.0)
        told = [refusals_of([Attempt(tuple(reps), 0.0)], "pull-up") for reps in (ended, within)]
        assert told[0].refused < 0.5
        assert told[1].refused > 2.5

    def test_what_a_weak_athlete_failed_at_a_strong_one_was_refused(self):
        reps = reps_of(6, 6, 6)
        reps[5] = replace(reps[5], gave_out=None, refused=1.0)
        reasons = reasons_of(Attempt(tuple(reps), 0.0))
        weak, strong = (reasons.refused(np.full(len(reps), p))[5] for p in (0.2, 0.9999))
        assert weak < 0.05
        assert strong > 0.8

    @pytest.mark.parametrize(("where", "weaker"), [(7, True), (4, False)])
    def test_a_try_that_ends_its_set_speaks_for_a_weak_athlete(self, where, weaker):
        reps = reps_of(8, 8, 8)
        reps[where] = replace(reps[where], gave_out=None, refused=1.0)
        athletes = (usual_athlete(("pull-up",), "linear", pull_up=able) for able in (8.0, 30.0))
        attempt = Attempt(tuple(reps), 0.0)
        weak, strong = (float(replay(each, attempt).surprise[0, where]) for each in athletes)
        assert (weak < strong) == weaker

    def test_a_movement_that_no_film_shows_has_none(self):
        draws = fit_athlete([self.attempt({1})], ("burpee",), draws=100).draws(100, 0)
        assert np.all(draws.refused[:, draws.column("burpee")] == 0.0)
