"""Every second of difference to the last film has a cause, and the causes add up."""

import numpy as np
import pytest

from counting.pacing.card.causes import causes_of
from counting.pacing.card.writing import document_of
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.fit import fit_athlete
from counting.pacing.search.advice import advise
from counting.pacing.search.course import Course, Station

STATIONS = (Station("pull-up", 6, 1, 1, 1), Station("burpee", 4, 1, 1, 2))
COURSE = Course("two", STATIONS, 300.0, True)


def film(refused=()):
    """Pull-ups 3 s after the start in 2+2+2 with 12 s between, burpees 10 s later unbroken."""
    reps, clock_s = [], 3.0
    for number, size in enumerate((2, 2, 2), start=1):
        for _ in range(size):
            reps.append(SeenRep("pull-up", clock_s, clock_s + 2.0, number, False, (1, 1, 1)))
            clock_s += 2.0
        clock_s += 12.0
    clock_s -= 2.0
    for index in range(4 + len(refused)):
        bad = index in refused
        reps.append(
            SeenRep(
                "burpee",
                clock_s,
                clock_s + 4.0,
                9,
                None if bad else False,
                (1, 1, 2),
                refused=float(bad),
                fault="stand up fully" if bad else None,
            )
        )
        clock_s += 4.0
    return Attempt(tuple(reps), 0.0)


@pytest.fixture(scope="module")
def advice():
    return advise(fit_athlete([film()], COURSE.movements, draws=120), COURSE, seed=1)


def test_the_film_is_divided_as_it_was(advice):
    filmed = {cause.words: cause.film_s for cause in causes_of(advice)}
    assert filmed == {
        "pull-ups: reps": 12.0,
        "pull-ups: breaks": 24.0,
        "burpees: reps": 16.0,
        "between stations": 13.0,
    }


def test_the_causes_add_up_to_the_film_and_to_the_plan(advice):
    causes = causes_of(advice)
    assert sum(cause.film_s for cause in causes) == pytest.approx(film().reps[-1].end_s)
    ends_s = advice.forecast.rep_s[:, -1]
    planned_s = float(np.mean(ends_s[np.isfinite(ends_s)]))
    assert sum(cause.plan_s for cause in causes) == pytest.approx(planned_s)


def test_without_a_film_there_is_nothing_to_compare():
    assert causes_of(advise(fit_athlete([], COURSE.movements, draws=60), COURSE, seed=1)) == []


def test_refused_reps_are_told_with_fault_and_worth():
    fit = fit_athlete([film(refused=(1, 3, 5))], COURSE.movements, draws=120)
    document = document_of(advise(fit, COURSE, seed=1), ["film"], [], seed=1)
    (told,) = document.no_reps
    assert "burpees: 3 of 7 filmed reps would not count (stand up fully)" in told
    worth_s = float(told.rsplit("you gain ", 1)[1].removesuffix(" s."))
    assert 3.0 < worth_s < 30.0
