"""The dynamic programme against enumerating every sequence of decisions."""

from dataclasses import replace

import numpy as np
import pytest

from counting.pacing.model.athlete import FORMS, usual_athlete
from counting.pacing.model.day import Noise
from counting.pacing.search.best import Grid, Labels, best_plan, played, value_of
from counting.pacing.search.course import Course, Station
from counting.pacing.search.forecast import forecast
from counting.pacing.search.options import chunks_of

EVERY_STATE_ITS_OWN = Grid(level=1e-9, tie_break_s=1e-9)


def best_by_enumeration(course, athlete):
    """Play all sequences of options, none left out, and return the greatest value."""
    labels = Labels(
        levels=np.ones((1, len(athlete.groups) + 1)),
        spent=np.zeros(1),
        clock_s=np.zeros(1),
        tie_break_s=np.full(1, np.inf),
        parent=np.zeros(1, dtype=np.int64),
        option=np.zeros(1, dtype=np.int64),
    )
    best, sequences = -np.inf, 1
    for chunk in chunks_of(course, athlete):
        step = played(course, chunk, athlete, labels)
        sequences *= len(chunk.options)
        reps = chunk.first_rep + step.reps_in_time
        value = value_of(course, reps, step.labels.clock_s, step.labels.tie_break_s)
        best = max(best, float(np.max(value)))
        going = step.possible & (step.labels.clock_s < course.cap_s)
        if not going.any():
            break
        labels = replace(
            step.labels,
            **{name: array[going] for name, array in vars(step.labels).items()},
        )
    return best, sequences


SMALL = {
    "finished within the cap": Course(
        "small", (Station("pull-up", 4, 1, 1, 1), Station("bar muscle-up", 2, 1, 1, 2)), 200.0, True
    ),
    "cut off by the cap": Course(
        "small",
        (
            Station("thruster", 3, 1, 1, 1),
            Station("bar muscle-up", 4, 1, 1, 2),
            Station("thruster", 3, 1, 2, 1),
        ),
        60.0,
        True,
    ),
    "with a tie-break": Course(
        "small",
        (Station("chest-to-bar pull-up", 5, 1, 1, 1), Station("bar muscle-up", 5, 2, 1, 1)),
        90.0,
        True,
        tie_break_rep=5,
    ),
    "with an ordered rest": Course(
        "small",
        (
            Station("push-up", 4, 1, 1, 1),
            Station("bar muscle-up", 3, 2, 1, 1, fixed_rest_s=20.0),
        ),
        90.0,
        True,
    ),
}


@pytest.mark.parametrize("name", SMALL)
@pytest.mark.parametrize("form", FORMS)
def test_the_best_plan_is_the_best_of_all(form, name):
    course = SMALL[name]
    athlete = usual_athlete(course.movements, form, bar_muscle_up=3.2)
    by_hand, sequences = best_by_enumeration(course, athlete)
    assert sequences > 100
    found = best_plan(course, athlete, EVERY_STATE_ITS_OWN)
    assert found.value == pytest.approx(by_hand, abs=1e-9)


@pytest.mark.parametrize("name", SMALL)
def test_the_usual_grid_loses_next_to_nothing(name):
    course = SMALL[name]
    athlete = usual_athlete(course.movements, "linear", bar_muscle_up=3.2)
    by_hand, _ = best_by_enumeration(course, athlete)
    assert best_plan(course, athlete).value >= by_hand - 0.01


@pytest.mark.parametrize("form", FORMS)
def test_the_value_found_is_what_the_plan_earns(form, rounds_of):
    course = rounds_of([("thruster", 8), ("chest-to-bar pull-up", 6)], 3, 600.0)
    athlete = usual_athlete(course.movements, form, thruster=30, chest_to_bar_pull_up=25)
    found = best_plan(course, athlete)
    finish_s = forecast(athlete, course, found.plan, 0, Noise(0.0, 0.0)).rep_s[0, -1]
    assert found.value == pytest.approx(course.reps + 0.9 * (1 - finish_s / 600.0), abs=0.01)


def test_endurance_has_steps_that_no_gradient_could_follow():
    course = Course("steps", (Station("bar muscle-up", 12, 1, 1, 1),), 120.0, True)
    values = [
        best_plan(course, usual_athlete(course.movements, "linear", bar_muscle_up=reps)).value
        for reps in np.linspace(1.5, 3.5, 9)
    ]
    assert values == sorted(values)
    assert len({int(value) for value in values}) >= 3


def test_a_plan_covers_every_rep_even_beyond_reach(rounds_of):
    course = rounds_of([("pull-up", 5), ("bar muscle-up", 20)], 2, 300.0)
    athlete = usual_athlete(course.movements, "linear", bar_muscle_up=0.3)
    plan = best_plan(course, athlete).plan
    assert [stint.reps for stint in plan] == [5, 20, 5, 20]
