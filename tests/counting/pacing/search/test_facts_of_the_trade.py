"""What every coach knows must come out of the model; none of it is written in as a rule.

All facts here are common practice, no source. Each must hold under both forms of recovery.
"""

from functools import cache

import numpy as np
import pytest

from counting.pacing.model.athlete import FORMS
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import unbroken_sets
from counting.pacing.search.best import TIE_BREAK_NOISE, WITHIN_NOISE
from counting.pacing.search.forecast import forecast
from counting.pacing.search.plan import Stint, uniform_plan
from counting.pacing.search.utility import Scale, utility
from tests.counting.pacing.athletes import usual_athlete

PLAYS = 200

pytestmark = [pytest.mark.parametrize("form", FORMS), pytest.mark.slow]


def many(athlete):
    return athlete.take(np.zeros(PLAYS, dtype=np.int64))


def athlete_with(course, form, muscle_ups, pulls, thrusters=25):
    return usual_athlete(
        course.movements,
        form,
        thruster=thrusters,
        chest_to_bar_pull_up=pulls,
        bar_muscle_up=muscle_ups,
    )


@pytest.fixture(scope="module")
def best(best_plan):
    """The plan advised to an athlete, sought once for all tests that ask for it."""

    @cache
    def make(course, form, muscle_ups, pulls, thrusters=25):
        return best_plan(course, athlete_with(course, form, muscle_ups, pulls, thrusters))

    return make


def score_of(course, played):
    """Worth of the plays in reps, on one scale for all plans of a workout."""
    return utility(course, played, Scale(finish_s=600.0, tie_break_s=400.0, reps=course.reps))


def sizes(plan, course, movement):
    return [
        size
        for station, stint in zip(course.stations, plan, strict=True)
        if station.movement == movement
        for size in stint.sets
    ]


def tie_break_s(course, athlete, plan):
    return float(np.median(forecast(many(athlete), course, plan, 1).clock_at(course.tie_break_rep)))


def with_opening(course, plan, opening, rests_s):
    """Same plan with the stations before the tie-break in other sets."""
    return tuple(
        Stint(opening[station.movement], rests_s[station.movement]) if station.block == 1 else stint
        for station, stint in zip(course.stations, plan, strict=True)
    )


UNBROKEN = {"thruster": (9,), "chest-to-bar pull-up": (9,)}
NO_RESTS = {"thruster": (), "chest-to-bar pull-up": ()}


class TestCannotDoTheDecisiveMovement:
    def test_only_the_earlier_part_counts(self, form, ladder, best):
        course = ladder()
        athlete = athlete_with(course, form, muscle_ups=0.4, pulls=12)
        played = forecast(many(athlete), course, best(course, form, 0.4, 12), 1)
        assert np.all(played.reps == course.tie_break_rep)

    def test_the_plan_reaches_the_tie_break_sooner_than_any_uniform_plan(self, form, ladder, best):
        course = ladder()
        athlete = athlete_with(course, form, muscle_ups=0.4, pulls=12)
        found_s = tie_break_s(course, athlete, best(course, form, 0.4, 12))
        for size in (9, 5, 3):
            for rest_s in (5.0, 12.0):
                plan = uniform_plan(course, dict.fromkeys(UNBROKEN, (size,)), rest_s)
                assert found_s <= tie_break_s(course, athlete, plan) + 2.0

    def test_submaximal_sets_with_short_breaks_beat_a_fast_start_with_a_collapse(
        self, form, ladder
    ):
        course = ladder()
        athlete = athlete_with(course, form, muscle_ups=0.4, pulls=12)
        plan = uniform_plan(course, {"bar muscle-up": (1,)}, 20.0)
        short = {"thruster": (5, 4), "chest-to-bar pull-up": (3, 2, 2, 2)}
        rests = {"thruster": (5.0,), "chest-to-bar pull-up": (8.0,) * 3}
        rushed_s = tie_break_s(course, athlete, with_opening(course, plan, UNBROKEN, NO_RESTS))
        broken_s = tie_break_s(course, athlete, with_opening(course, plan, short, rests))
        assert broken_s < rushed_s - 15.0


class TestOneOrAFewOfTheDecisiveMovement:
    @pytest.mark.parametrize("muscle_ups", [1.5, 2.5])
    def test_the_plan_starts_slower_and_leaves_minutes_for_attempts(
        self, form, ladder, muscle_ups, best
    ):
        course = ladder()
        athlete = athlete_with(course, form, muscle_ups, pulls=12)
        slowed = forecast(many(athlete), course, best(course, form, muscle_ups, 12), 1)
        rushed = forecast(
            many(athlete), course, uniform_plan(course, {"bar muscle-up": (1,)}, 10.0), 1
        )
        first_round = 18
        assert np.median(slowed.clock_at(first_round)) > np.median(rushed.clock_at(first_round))
        assert course.cap_s - np.median(slowed.clock_at(course.tie_break_rep)) >= 180.0

    def test_the_plan_never_races_for_the_tie_break(self, form, ladder, best):
        course = ladder()
        able = athlete_with(course, form, muscle_ups=1.5, pulls=12)
        racing = best(course, form, 0.4, 12)
        assert (
            tie_break_s(course, able, best(course, form, 1.5, 12))
            >= (1.0 - 2.0 * TIE_BREAK_NOISE) * tie_break_s(course, able, racing) - 1.0
        )

    def test_the_plan_earns_more_attempts_than_racing_to_the_tie_break(self, form, ladder, best):
        course = ladder()
        able = athlete_with(course, form, muscle_ups=1.5, pulls=12)
        racing = uniform_plan(course, {"bar muscle-up": (1,)}, 10.0)
        found = forecast(many(able), course, best(course, form, 1.5, 12), 1)
        rushed = forecast(many(able), course, racing, 1)
        assert np.mean(found.reps) > np.mean(rushed.reps)

    def test_one_rep_outweighs_any_tie_break(self, form, ladder, best):
        course = ladder()
        able = athlete_with(course, form, muscle_ups=1.5, pulls=12)
        played = forecast(many(able), course, best(course, form, 1.5, 12), 1)
        score = score_of(course, played)
        with_rep, without = score[played.reps > 72], score[played.reps == 72]
        assert with_rep.size
        assert not without.size or with_rep.min() > without.max()


class TestAMaximumOfFiveOrSix:
    @pytest.mark.parametrize("muscle_ups", [5.0, 6.0])
    def test_the_plan_uses_singles_or_sets_of_two_or_three(self, form, ladder, muscle_ups, best):
        course = ladder()
        assert max(sizes(best(course, form, muscle_ups, 18), course, "bar muscle-up")) <= 3

    def test_small_sets_with_short_rests_beat_sets_to_the_limit(self, form, ladder, best):
        course = ladder()
        athlete = athlete_with(course, form, muscle_ups=5.5, pulls=18)
        plan = best(course, form, 5.5, 18)
        small = np.mean(forecast(many(athlete), course, plan, 1).reps)
        for size in (5, 6):
            for rest_s in (30.0, 60.0, 90.0, 120.0):
                final = uniform_plan(course, {"bar muscle-up": (size,)}, rest_s)[-1]
                to_the_limit = forecast(many(athlete), course, (*plan[:-1], final), 1)
                assert small > np.mean(to_the_limit.reps)


class TestAMaximumWellOverTen:
    def test_the_plan_begins_with_small_sets_not_singles(self, form, ladder, best):
        course = ladder()
        first = sizes(best(course, form, 18.0, 32, 30), course, "bar muscle-up")[:3]
        assert min(first) >= 2
        assert max(first) <= 6

    def test_small_sets_beat_the_limit_and_singles_come_only_late(self, form, ladder, best):
        course = ladder()
        athlete = athlete_with(course, form, muscle_ups=18.0, pulls=32, thrusters=30)
        plan = best(course, form, 18.0, 32, 30)
        score = {}
        for name, sets, rest_s in (("4+3", (4, 3), 10.0), ("limit", (14, 16), 60.0)):
            final = uniform_plan(course, {"bar muscle-up": sets}, rest_s)[-1]
            played = forecast(many(athlete), course, (*plan[:-1], final), 1)
            score[name] = float(np.mean(score_of(course, played)))
        assert score["4+3"] > score["limit"]
        chosen = sizes(plan, course, "bar muscle-up")
        assert 1 not in chosen[: len(chosen) // 2]


WAYS_OF_FIVE = (
    ((5,), 6.0),
    ((3, 2), 6.0),
    ((2, 2, 1), 6.0),
    ((2, 1, 1, 1), 16.0),
    ((1,) * 5, 10.0),
)


@pytest.mark.parametrize("muscle_ups", [6, 8, 14])
def test_ten_lighter_pulls_are_broken_when_a_harder_pull_follows(
    form, rounds_of, muscle_ups, best_plan
):
    # Each way of pulling is judged with the muscle-ups that suit it best, so that neither profits
    # from muscle-ups that were chosen for the other.
    course = rounds_of([("thruster", 9), ("pull-up", 10), ("bar muscle-up", 5)], 4, 900.0)
    athlete = usual_athlete(
        course.movements, form, pull_up=35, thruster=30, bar_muscle_up=muscle_ups
    )
    plan = best_plan(course, athlete)
    break_s = float(athlete.shortest_break_s[0, athlete.column("pull-up")])

    def best_of(pulls):
        found = []
        for sets, rest_s in WAYS_OF_FIVE:
            pattern = {"pull-up": pulls, "bar muscle-up": Stint(sets, (rest_s,) * (len(sets) - 1))}
            altered = tuple(
                pattern.get(station.movement, stint)
                for station, stint in zip(course.stations, plan, strict=True)
            )
            played = forecast(many(athlete), course, altered, 1)
            found.append((float(np.mean(score_of(course, played))), float(np.mean(played.failing))))
        return max(found)

    whole, broken = best_of(Stint((10,), ())), best_of(Stint((6, 4), (break_s,)))
    within = WITHIN_NOISE * course.reps if muscle_ups > 6 else 0.0
    assert broken[0] > whole[0] - within
    assert broken[1] < whole[1] + 1.0


def test_a_minute_of_ordered_rest_does_not_repay_an_overspent_first_part(form, ladder):
    course = ladder(rest_s=60.0)
    athlete = athlete_with(course, form, muscle_ups=6.0, pulls=16, thrusters=22)
    final = uniform_plan(course, {"bar muscle-up": (1,)}, 15.0)
    measured = {"thruster": (5, 4), "chest-to-bar pull-up": (3, 3, 3)}
    rests = {"thruster": (5.0,), "chest-to-bar pull-up": (10.0,) * 2}
    overspent = forecast(many(athlete), course, with_opening(course, final, UNBROKEN, NO_RESTS), 1)
    kept = forecast(many(athlete), course, with_opening(course, final, measured, rests), 1)
    first = course.tie_break_rep
    pull = athlete.groups.index("pull")
    assert overspent.before[first, pull] < kept.before[first, pull] - 0.05
    assert np.mean(kept.reps) > np.mean(overspent.reps)


class TestReadiness:
    """The rule of thumb: which pull-ups make a first bar muscle-up, and a long set of them."""

    @staticmethod
    def believed(form, typed):
        fit = fit_athlete([], ("bar muscle-up",), unbroken_sets(typed), draws=200)
        return next(item.draws for item in fit.forms if item.form == form)

    def test_seven_pull_ups_and_six_or_seven_to_the_chest_make_a_first_likely(self, form):
        draws = self.believed(form, {"pull-up": 7, "chest-to-bar pull-up": 6.5})
        assert np.mean(draws.unbroken[:, draws.column("bar muscle-up")] >= 1.0) > 0.5

    def test_three_pull_ups_do_not(self, form):
        draws = self.believed(form, {"pull-up": 3, "chest-to-bar pull-up": 2})
        assert np.mean(draws.unbroken[:, draws.column("bar muscle-up")] >= 1.0) < 0.1

    def test_ten_unbroken_make_a_long_set_realistic_and_four_do_not(self, form, rounds_of):
        course = rounds_of([("bar muscle-up", 30)], 1, 540.0)
        plan = uniform_plan(course, {"bar muscle-up": (1,)}, 10.0)
        finishes = {}
        for reps in (4, 10):
            draws = self.believed(form, {"bar muscle-up": reps})
            finishes[reps] = np.mean(forecast(draws, course, plan, 1).reps == 30)
        assert finishes[10] > 0.5
        assert finishes[4] < 0.1
