"""Plans tried on athletes of another make: the tool's equations are not used on both sides."""

from dataclasses import replace

import numpy as np
import pytest

from counting.pacing.measure.trial import CAPACITIES, formats, modelled_people, tried
from counting.pacing.search.course import Course, Station
from counting.pacing.search.plan import Stint, uniform_plan
from tests.counting.pacing.independent import people


def alone(reps, cap_s=900.0):
    return Course("one", (Station("chest-to-bar pull-up", reps, 1, 1, 1),), cap_s, True)


def test_the_other_make_does_as_many_reps_unbroken_as_it_is_said_to():
    for person in people():
        film = person.film(alone(80), (Stint((80,), ()),), 3)
        first = [rep for rep in film.reps if rep.set_number == 1]
        able = person.capacities["chest-to-bar pull-up"]
        assert len(first) - 1 == pytest.approx(able, rel=0.2, abs=1.5)


def test_the_other_make_recovers_in_part_in_a_short_rest_and_more_in_a_long_one():
    person = people()[2]
    done = {}
    for rest_s in (20.0, 240.0):
        plan = (Stint((14, 14), (rest_s,)),)
        outcomes = person.play(alone(28, 1200.0), plan, range(30))
        done[rest_s] = np.mean([outcome.failed for outcome in outcomes])
    assert done[240.0] < done[20.0]


def test_equal_days_are_equal_luck_and_others_are_not():
    person, course = people()[0], formats()["rounds for time"]
    plan = uniform_plan(course, {}, 5.0)
    one, same, other = (person.play(course, plan, range(day, day + 1))[0] for day in (1, 1, 2))
    assert one == same
    assert one != other


@pytest.mark.parametrize("make", [people, modelled_people])
def test_nobody_counts_reps_after_the_bell(make):
    course = formats()["on the minute"]
    crowded = replace(
        course, stations=tuple(replace(station, reps=60) for station in course.stations)
    )
    for person in make()[:2]:
        plan = uniform_plan(crowded, dict.fromkeys(crowded.movements, (5,)), 5.0)
        for outcome in person.play(crowded, plan, range(3)):
            assert outcome.reps < 600
            assert outcome.end_s == np.inf


def test_all_eight_type_in_what_the_formats_need():
    needed = {movement for course in formats().values() for movement in course.movements}
    assert all(needed <= capacities.keys() for capacities in CAPACITIES)


@pytest.mark.slow
def test_a_typed_plan_beats_going_unbroken_and_respects_the_capacity():
    person, course = people()[1], formats()["tie-break, then to the cap"]
    found = tried("tie-break", course, person, 1, filmed=False)
    assert found.score > found.unbroken
    assert found.failed < found.unbroken_failed
    assert found.largest_share <= 1.0
