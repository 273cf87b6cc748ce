"""When a station's work was complete, where the calls of its reps are more or less sure."""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from counting.record.types import RepPart
from counting.workout.placing import Place, complete_s, place_of, runs_of
from counting.workout.types import Workout, rounds_to_write, runs, script

TAIL: Final = 0.05
"""What a range leaves out on each side: no more than a definite call leaves open."""


@dataclass(frozen=True, slots=True)
class EndTimes:
    """When the work may have been complete.

    ``times_s`` and ``chances`` belong together, in order of time; ``never`` is the chance that
    nothing counted.
    """

    times_s: tuple[float, ...] = ()
    chances: tuple[float, ...] = ()
    never: float = 1.0

    @property
    def likely_s(self) -> float | None:
        """The likeliest time, the later of equals; None where most likely nothing counted."""
        likeliest = max(self.chances, default=0.0)
        if likeliest < self.never:
            return None
        return max(t for t, p in zip(self.times_s, self.chances, strict=True) if p == likeliest)

    def range_about(self, told_s: float) -> tuple[float, float] | None:
        """Bounds of the time, of ``told_s`` as well; None where there is no doubt."""
        bounds = range_of(zip(self.times_s, self.chances, strict=True))
        if bounds is None or bounds[0] == bounds[1]:
            return None
        return min(bounds[0], told_s), max(bounds[1], told_s)


def end_times(
    reps: Sequence[tuple[float, float]], asked: int | None, otherwise_s: float | None = None
) -> EndTimes:
    """Work out when the last rep that was asked for was complete.

    Parameters
    ----------
    reps
        Of every rep that may belong to the work, in order: when it was complete, and the
        probability that it is good. Calls are taken for independent, as for the score.
    asked
        Good reps that complete the work, None for as many as can be done.
    otherwise_s
        When it ended if fewer were good; None: with the last good rep.

    Notes
    -----
    The number of good reps before each one has a Poisson binomial distribution.
    """
    lacking = [1.0] + [0.0] * (len(reps) if asked is None else asked - 1)
    none_after = 1.0
    last: list[float] = []
    for _, good in reversed(reps):
        last.append(none_after * good)
        none_after *= 1.0 - good
    times_s, chances = [], []
    for (time_s, good), nothing_after in zip(reps, reversed(last), strict=True):
        completes = 0.0 if asked is None else lacking[-1] * good
        stays_last = sum(lacking if asked is None else lacking[:-1]) * nothing_after
        times_s.append(time_s)
        chances.append(completes + (stays_last if otherwise_s is None else 0.0))
        lacking = [
            fewer * good + same * (1.0 - good)
            for fewer, same in itertools.pairwise([0.0, *lacking])
        ]
    if otherwise_s is None:
        return EndTimes(tuple(times_s), tuple(chances), none_after)
    return EndTimes((*times_s, otherwise_s), (*chances, sum(lacking)), 0.0)


def range_of(weighted: Iterable[tuple[float, float]]) -> tuple[float, float] | None:
    """Bounds of a value that is one of several, each with a weight: its central 90 %.

    None where nothing has any weight.
    """
    values = sorted((value, weight) for value, weight in weighted if weight > 0.0)
    tail = TAIL * sum(weight for _, weight in values)
    bounds = [_first_beyond(way, tail) for way in (values, values[::-1])]
    return (bounds[0], bounds[1]) if values else None


def _first_beyond(weighted: Sequence[tuple[float, float]], tail: float) -> float:
    passed = itertools.accumulate(weight for _, weight in weighted)
    return next((v for (v, _), p in zip(weighted, passed, strict=True) if p > tail), float("nan"))


@dataclass(frozen=True, slots=True)
class Stay:
    """Neighbouring reps of one run of stations: from outside they look like one station.

    ``asked``: good reps from the first rep on that complete each of the stations, None for as many
    as can be done. ``last`` is the station whose end is that of the work, None where it has none.
    """

    reps: tuple[RepPart, ...]
    asked: Mapping[Place, int | None]
    last: Place


def stays_of(workout: Workout | None, reps: Sequence[RepPart]) -> list[Stay]:
    """Join neighbouring reps of one run, of which any may end a station there."""
    reached = max((rep.round or 1 for rep in reps), default=1)
    slots = () if workout is None else script(workout, rounds_to_write(workout, len(reps), reached))
    all_runs = () if workout is None else runs(workout, slots)
    places: list[Place] = [(slot.block, slot.round, slot.station) for slot in slots]
    ends = workout is not None and workout.blocks[-1].fixed_rounds is not None
    found: list[Stay] = []
    placed = zip(runs_of(reps, slots, all_runs), reps, strict=True)
    for (run, _), group in itertools.groupby(
        placed, key=lambda item: (item[0], place_of(item[1]) if item[0] is None else None)
    ):
        own = tuple(rep for _, rep in group)
        asked: dict[Place, int | None] = {}
        if run is not None:
            begin = places.index(place_of(own[0]))
            here = slice(begin, all_runs[run].last + 1)
            total: int | None = 0
            for place, slot in zip(places[here], slots[here], strict=True):
                total = None if total is None or slot.reps is None else total + slot.reps
                asked[place] = total
        found.append(Stay(own, asked, places[-1] if ends else None))
    return found


def end_of(stays: Sequence[Stay], first: RepPart, time_up_s: float | None) -> EndTimes:
    """When the visit that begins with a rep was over.

    ``time_up_s``, of the visit in which the clock stops, is when it does so by itself: unless that
    visit completes the work.
    """
    place = place_of(first)
    stay = next((stay for stay in stays if first in stay.reps), None)
    asked = None if stay is None else stay.asked.get(place)
    if time_up_s is not None and (stay is None or asked is None or place != stay.last):
        return EndTimes((time_up_s,), (1.0,), 0.0)
    if stay is None:
        return EndTimes()
    reps = [(complete_s(rep), rep.probability_good) for rep in stay.reps]
    return end_times(reps, asked, time_up_s)
