"""Where a plan differs from the last film, second by second, each under its cause."""

from typing import Final

import numpy as np

from counting.pacing.card.document import CausePart
from counting.pacing.model.attempt import Attempt
from counting.pacing.search.advice import Advice
from counting.pacing.search.course import Course
from counting.pacing.search.forecast import Forecast
from counting.pacing.search.plan import plural

LEAST_TOLD_S: Final = 0.05
"""Time that rounds to none is left out."""


def causes_of(advice: Advice) -> list[CausePart]:
    """Divide the time up to the last station that film and plan both finish, by cause.

    Work and breaks movement by movement, then the ways between stations with the rests before
    them. The rows add up to the clock at that station, on film and on average in the plan. Empty
    where the last film shows another workout.
    """
    if not advice.fit.attempts:
        return []
    course, last = advice.course, advice.fit.attempts[-1]
    done = len(last.clocks_s(course.places))
    played = advice.forecast
    number = sum(station.reps for station in course.stations[:done])
    if not done or np.mean(np.isfinite(played.clock_at(number))) < 0.5:
        return []
    finished = played.take(np.flatnonzero(np.isfinite(played.clock_at(number))))
    film, plan = _film_parts(course, last, done), _plan_parts(course, finished, done)
    return [
        CausePart(words=words, film_s=film[words], plan_s=plan[words])
        for words in film
        if max(abs(film[words]), abs(plan[words])) >= LEAST_TOLD_S
    ]


def _names(course: Course) -> list[str]:
    each = [(f"{plural(m)}: reps", f"{plural(m)}: breaks") for m in course.movements]
    return [*(words for pair in each for words in pair), "between stations"]


def _film_parts(course: Course, attempt: Attempt, done: int) -> dict[str, float]:
    spent = dict.fromkeys(_names(course), 0.0)
    before_s, clock_s = attempt.start_s, attempt.start_s
    for station in course.stations[:done]:
        if station.timed_s is not None:
            continue
        place = (station.block, station.round, station.number)
        own = [r for r in attempt.reps if r.place == place and r.movement == station.movement]
        spent["between stations"] += own[0].start_s - before_s
        work_s = 0.0
        for index, rep in enumerate(own):
            same = index + 1 < len(own) and own[index + 1].set_number == rep.set_number
            work_s += (own[index + 1].start_s if same else rep.end_s) - rep.start_s
        clock_s = own[-1].end_s
        spent[f"{plural(station.movement)}: reps"] += work_s
        spent[f"{plural(station.movement)}: breaks"] += clock_s - own[0].start_s - work_s
        before_s = clock_s
    return spent


def _plan_parts(course: Course, played: Forecast, done: int) -> dict[str, float]:
    """Average over plays; the wait after a failed rep lies inside the rep, as time it costs."""
    spent = dict.fromkeys(_names(course), 0.0)
    first, before_s = 0, np.zeros(len(played.failing))
    for station in course.stations[:done]:
        rows = slice(first, first + station.reps)
        if station.timed_s is not None:
            first += station.reps
            continue
        begin_s, rep_s = played.begin_s[:, rows], played.rep_s[:, rows]
        work_s = np.sum(rep_s - begin_s, axis=1)
        spent["between stations"] += float(np.mean(begin_s[:, 0] - before_s))
        spent[f"{plural(station.movement)}: reps"] += float(np.mean(work_s))
        whole_s = rep_s[:, -1] - begin_s[:, 0]
        spent[f"{plural(station.movement)}: breaks"] += float(np.mean(whole_s - work_s))
        before_s = rep_s[:, -1]
        first += station.reps
    return spent
