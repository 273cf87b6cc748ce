"""Plans that can be told in a breath, and the search among them."""

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest

from counting.pacing.model.athlete import FORMS
from counting.pacing.model.day import Noise
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import Known, KnownMovement, unbroken_sets
from counting.pacing.search.advice import advise
from counting.pacing.search.best import Table, search
from counting.pacing.search.course import Course, Station
from counting.pacing.search.plan import uniform_plan
from counting.pacing.search.schemes import (
    RESTS_S,
    SetPattern,
    burden,
    limits_of,
    plan_of,
    sets_of,
    sizes_of,
)
from tests.counting.pacing.athletes import usual_athlete


def advised(course, known, seed=0):
    fit = fit_athlete([], course.movements, known, seed, draws=150, at_kg=course.at_kg)
    return advise(fit, course, seed=seed)


def largest(advice, movement):
    return max(
        size
        for station, stint in zip(advice.course.stations, advice.chosen, strict=True)
        if station.movement == movement
        for size in stint.sets
    )


class TestSets:
    @pytest.mark.parametrize(("reps", "size"), list(product((1, 7, 10, 21, 30), (1, 3, 8, 30))))
    @pytest.mark.parametrize("later", [None, 1, 2, 5])
    def test_sets_never_grow_and_never_exceed_the_size(self, reps, size, later):
        sets = sets_of(reps, SetPattern(size, later=later), alone=True, late=False)
        assert sum(sets) == reps
        assert max(sets) <= size
        assert all(after <= before for before, after in pairwise(sets))

    def test_one_number_gives_equal_sets(self):
        assert sets_of(21, SetPattern(7), alone=False, late=False) == (7, 7, 7)
        assert sets_of(15, SetPattern(7), alone=False, late=False) == (5, 5, 5)


class TestBurden:
    def course(self):
        stations = tuple(Station("pull-up", 6, 1, number, 1) for number in (1, 2))
        return Course("two rounds", stations, 120.0, True)

    def test_rounds_alike_come_before_few_numbers(self):
        course = self.course()
        (kind,) = course.kinds
        limits = limits_of(course, Known(), usual_athlete(course.movements, "linear"))
        patterns = [
            SetPattern(3),
            SetPattern(3, 20.0),
            SetPattern(3, 20.0, wait_s=15.0),
            SetPattern(6, later=3),
        ]
        ranks = [
            burden(course, {kind: pattern}, plan_of(course, {kind: pattern}, limits), limits)
            for pattern in patterns
        ]
        assert ranks == sorted(ranks)
        assert len(set(ranks)) == 4

    @pytest.mark.parametrize(("reps", "numbers"), [((6, 6), 0), ((8, 8), 1), ((9, 9), 2)])
    def test_unbroken_sets_need_no_number_equal_ones_one_and_others_two(self, reps, numbers):
        stations = tuple(Station("pull-up", own, 1, n, 1) for n, own in enumerate(reps, start=1))
        course = Course("two rounds", stations, 120.0, True)
        (kind,) = course.kinds
        limits = limits_of(course, Known(), usual_athlete(course.movements, "linear"))
        scheme = {kind: SetPattern(6)}
        assert burden(course, scheme, plan_of(course, scheme, limits), limits) == (0, numbers)

    def test_a_change_that_no_station_shows_is_none(self):
        course = self.course()
        (kind,) = course.kinds
        limits = limits_of(course, Known(), usual_athlete(course.movements, "linear"))
        scheme = {kind: SetPattern(6, later=6)}
        assert burden(course, scheme, plan_of(course, scheme, limits), limits) == (0, 0)


class TestCapacity:
    @pytest.mark.parametrize("muscle_ups", [0.3, 1.0, 1.7, 5.0])
    @pytest.mark.slow
    def test_no_set_is_above_capacity_nor_grows_within_a_round(self, ladder, muscle_ups):
        course = ladder(rounds=3)
        typed = {"thruster": 14.0, "chest-to-bar pull-up": 8.0, "bar muscle-up": muscle_ups}
        advice = advised(course, unbroken_sets(typed))
        for movement, unbroken in typed.items():
            assert largest(advice, movement) <= max(unbroken, 1.0)
        for item in (*advice.equals, advice.bad_day):
            for stint in item.plan:
                assert all(after <= before for before, after in pairwise(stint.sets))

    def test_a_heavier_bar_means_smaller_sets(self, rounds_of):
        plans = {}
        for kg in (43.0, 80.0):
            course = rounds_of([("thruster", 12)], 3, 600.0)
            stations = tuple(replace(station, load_kg=kg) for station in course.stations)
            course = replace(course, stations=stations)
            known = Known({"thruster": KnownMovement(unbroken=25.0, at_kg=43.0)})
            plans[kg] = advised(course, known)
        assert largest(plans[80.0], "thruster") <= 3
        assert largest(plans[43.0], "thruster") >= 6

    def test_loads_that_change_by_round_have_ways_of_their_own(self):
        stations = tuple(
            Station("thruster", 8, 1, number, 1, load_kg=kg)
            for number, kg in enumerate((40.0, 60.0, 75.0), start=1)
        )
        course = Course("heavier and heavier", stations, 400.0, True)
        known = Known({"thruster": KnownMovement(maximum_kg=85.0)})
        advice = advised(course, known)
        sizes = [max(stint.sets) for stint in advice.chosen]
        assert sizes == sorted(sizes, reverse=True)
        assert sizes[-1] < sizes[0]


SMALL = {
    "finished within the cap": Course(
        "small", (Station("pull-up", 6, 1, 1, 1), Station("bar muscle-up", 4, 1, 1, 2)), 300.0, True
    ),
    "cut off by the cap": Course(
        "small", tuple(Station("bar muscle-up", 4, 1, n, 1) for n in (1, 2, 3)), 60.0, True
    ),
    "with a tie-break": Course(
        "small",
        (Station("chest-to-bar pull-up", 8, 1, 1, 1), Station("bar muscle-up", 8, 2, 1, 1)),
        150.0,
        True,
        tie_break_rep=8,
    ),
    "with deadlines": Course(
        "small",
        tuple(
            Station("burpee", 9, 1, n, 1, not_before_s=40.0 * (n - 1), deadline_s=40.0 * n)
            for n in (1, 2, 3)
        ),
        120.0,
        False,
    ),
}


@pytest.mark.parametrize("name", SMALL)
@pytest.mark.parametrize("form", FORMS)
def test_the_search_comes_within_the_noise_of_every_plan_with_one_rest(form, name):
    course = SMALL[name]
    known = {"bar_muscle_up": 3.2} if "bar muscle-up" in course.movements else {}
    athlete = usual_athlete(course.movements, form, **known)
    plays = athlete.take(np.zeros(60, dtype=np.int64))
    table = Table(course, plays, limits_of(course, Known(), athlete), Noise(), seed=0)
    search(table)
    found = table.rated[0].value
    patterns = [sizes_of(course, kind, table.limits) for kind in course.kinds]
    every = [
        {kind: SetPattern(size, rest_s) for kind, size in zip(course.kinds, sizes, strict=True)}
        for sizes in product(*patterns)
        for rest_s in RESTS_S
    ]
    assert len(every) >= 10
    assert found >= max(item.value for item in table.rate(every)) - table.noise


@pytest.mark.slow
def test_the_plan_is_at_least_as_good_as_every_uniform_one(rounds_of):
    course = rounds_of([("thruster", 10), ("chest-to-bar pull-up", 8)], 4, 900.0)
    known = unbroken_sets({"thruster": 20.0, "chest-to-bar pull-up": 10.0})
    fit = fit_athlete([], course.movements, known, draws=150)
    draws = fit.draws(150, 0)
    table = Table(course, draws, limits_of(course, known, draws), fit.noise, 0)
    search(table)
    for size, rest_s in product((10, 5, 3, 1), (5.0, 12.0, 25.0)):
        plan = uniform_plan(course, dict.fromkeys(course.movements, (size,)), rest_s)
        (played,) = table.play([plan])
        assert table.rated[0].value >= float(np.mean(table.values(played))) - table.noise


def test_a_plan_covers_every_rep_even_beyond_reach(rounds_of, best_plan):
    course = rounds_of([("pull-up", 5), ("bar muscle-up", 20)], 2, 300.0)
    plan = best_plan(course, usual_athlete(course.movements, "linear", bar_muscle_up=0.3))
    assert [stint.reps for stint in plan] == [5, 20, 5, 20]
    assert {max(stint.sets) for stint in plan[1::2]} == {1}


def test_the_scheme_written_out_is_the_plan(ladder):
    course = ladder(rounds=2)
    limits = limits_of(course, Known(), usual_athlete(course.movements, "linear"))
    kinds = course.kinds
    scheme = {
        kinds[0]: SetPattern(5),
        kinds[1]: SetPattern(3, 20.0),
        kinds[2]: SetPattern(2, 40.0, wait_s=15.0),
    }
    plan = plan_of(course, scheme, limits)
    assert [stint.sets for stint in plan[:2]] == [(5, 4), (3, 3, 3)]
    assert plan[1].rests_s == (20.0, 20.0)
    assert plan[-1].rest_before_s == 15.0


class TestStability:
    def test_no_seed_gives_another_plan(self, rounds_of):
        course = rounds_of([("thruster", 9), ("chest-to-bar pull-up", 6)], 2, 400.0)
        typed = unbroken_sets({"thruster": 25.0, "chest-to-bar pull-up": 14.0})
        assert advised(course, typed, 0).chosen == advised(course, typed, 7).chosen

    @pytest.mark.slow
    def test_noise_of_two_per_cent_leaves_the_sets_in_nine_of_ten_draws(self, rounds_of):
        course = rounds_of([("thruster", 9), ("chest-to-bar pull-up", 9)], 4, 900.0)
        typed = {"thruster": 25.0, "chest-to-bar pull-up": 14.0}
        random = np.random.default_rng(0)
        seen = []
        for _ in range(10):
            noisy = {name: v * np.exp(0.02 * random.standard_normal()) for name, v in typed.items()}
            seen.append([stint.sets for stint in advised(course, unbroken_sets(noisy)).chosen])
        assert max(seen.count(item) for item in seen) >= 9
