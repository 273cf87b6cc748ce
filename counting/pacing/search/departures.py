"""Ways of departing from a plan: to price them, and to answer a mark that was missed.

Plans are rewritten here and nowhere judged.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.pacing.search.course import Course, Kind, Station
from counting.pacing.search.plan import (
    FULL_EFFORT,
    Plan,
    Stint,
    even_sets,
    plural,
    set_words,
)
from counting.pacing.search.schemes import RESTS_S, Limits, Scheme, SetPattern, plan_of, sizes_of

MOST_WAYS_TOLD: Final = 2

RUSHED_SHARE: Final = 3
"""Going out too fast is tried over the first third of the stations."""


@dataclass(frozen=True)
class Departure:
    """Another way of doing the work; ``scheme`` is None where it cannot be told as one.

    ``movement`` is the one it changes, None for all.
    """

    words: str
    movement: str | None
    plan: Plan
    scheme: Scheme | None


def departures(course: Course, scheme: Scheme, limits: Limits) -> list[Departure]:
    """Ways an athlete departs from a plan, none with a set above the limits.

    Larger and smaller sets, as much as can be done unbroken, longer and shorter rests, a rush.
    """
    plan = plan_of(course, scheme, limits)
    found: dict[Plan, Departure] = {}

    def add(words: str, movement: str | None, altered: Scheme) -> None:
        other = plan_of(course, altered, limits)
        if other != plan:
            found.setdefault(other, Departure(words, movement, other, altered))

    for kind, pattern in scheme.items():
        sizes = sizes_of(course, kind, limits)
        larger = [size for size in sizes if size > pattern.size]
        smaller = [size for size in sizes if size < pattern.size]
        for size in (*larger[-1:], *smaller[:1], *sizes[:1]):
            altered = {**scheme, kind: replace(pattern, size=size, later=None)}
            add(_sets_told(course, kind, altered, limits), kind[0], altered)
    for words, step in (("longer", 1), ("shorter", -1)):
        add(
            f"every rest {words}",
            None,
            {k: _rested(pattern, step) for k, pattern in scheme.items()},
        )
    third = max(1, len(plan) // RUSHED_SHARE)
    rush = tuple(
        _unbroken(course, station, stint, limits)
        if place < third and station.timed_s is None
        else stint
        for place, (station, stint) in enumerate(zip(course.stations, plan, strict=True))
    )
    if rush != plan:
        words = "first third in the largest sets, with the shortest rests"
        found.setdefault(rush, Departure(words, None, rush, None))
    return list(found.values())


def smaller_from(course: Course, plan: Plan, limits: Limits, place: int) -> Plan:
    """One more set at every station from a place on, rests as planned or the shortest."""
    return tuple(
        _in_more_sets(course, station, stint, limits)
        if index >= place and station.timed_s is None
        else stint
        for index, (station, stint) in enumerate(zip(course.stations, plan, strict=True))
    )


def hurried_from(course: Course, plan: Plan, limits: Limits, place: int) -> Plan:
    """Cut all rests to the shortest and drop waits from a place on, sets as planned."""
    stints = []
    for index, (station, stint) in enumerate(zip(course.stations, plan, strict=True)):
        if station.timed_s is not None or index < place:
            stints.append(stint)
            continue
        least_s = limits.least_rest_s(course, station.kind, max(stint.sets))
        rests = (least_s,) * (len(stint.sets) - 1)
        wait_s = least_s if course.others_go else 0.0
        stints.append(replace(stint, rests_s=rests, rest_before_s=wait_s, effort=FULL_EFFORT))
    return tuple(stints)


def plan_words(course: Course, plan: Plan) -> str:
    """Tell a plan shortly: for each movement its ways of breaking up, with the usual rest."""
    patterns: dict[str, list[str]] = {}
    rests: dict[str, list[float]] = {}
    for station, stint in zip(course.stations, plan, strict=True):
        if station.timed_s is not None:
            continue
        words = patterns.setdefault(station.movement, [])
        told = f"in sets of {max(stint.sets)}" if station.as_many else set_words(stint.sets)
        if told not in words:
            words.append(told)
        rests.setdefault(station.movement, []).extend(stint.rests_s)
    largest = {
        movement: max(
            max(stint.sets)
            for station, stint in zip(course.stations, plan, strict=True)
            if station.movement == movement
        )
        for movement in course.movements
    }
    return "; ".join(
        f"{plural(movement)} {_patterns_told(words, largest[movement])}"
        + (f" (rests {np.median(rests[movement]):.0f} s)" if rests[movement] else "")
        for movement, words in patterns.items()
    )


def _patterns_told(words: Sequence[str], largest: int) -> str:
    """Tell up to two ways one by one, and many by their largest set."""
    if len(words) <= MOST_WAYS_TOLD:
        return ", then ".join(words)
    return f"in even sets of up to {largest}"


def _rested(pattern: SetPattern, step: int) -> SetPattern:
    """Take the next longer or shorter rest of the list."""
    place = min(max(RESTS_S.index(pattern.rest_s) + step, 0), len(RESTS_S) - 1)
    return replace(pattern, rest_s=RESTS_S[place])


def _unbroken(course: Course, station: Station, stint: Stint, limits: Limits) -> Stint:
    sets = even_sets(stint.reps, -(-stint.reps // limits.unbroken[station.kind]))
    least_s = limits.least_rest_s(course, station.kind, max(sets))
    wait_s = least_s if course.others_go else 0.0
    return Stint(sets, (least_s,) * (len(sets) - 1), wait_s, FULL_EFFORT)


def _in_more_sets(course: Course, station: Station, stint: Stint, limits: Limits) -> Stint:
    """Break a station into one set more, keeping its usual rest."""
    sets = even_sets(stint.reps, min(len(stint.sets) + 1, stint.reps))
    least_s = limits.least_rest_s(course, station.kind, max(sets))
    rest_s = max(float(np.median(stint.rests_s)), least_s) if stint.rests_s else least_s
    return replace(stint, sets=sets, rests_s=(rest_s,) * (len(sets) - 1))


def _sets_told(course: Course, kind: Kind, scheme: Scheme, limits: Limits) -> str:
    """Name the sets where every station of the kind has the same, else the largest."""
    plan = plan_of(course, scheme, limits)
    own: Sequence[Stint] = [
        stint for s, stint in zip(course.stations, plan, strict=True) if s.kind == kind
    ]
    sets = {stint.sets for stint in own}
    each = " each time" if len(own) > 1 else ""
    told = set_words(next(iter(sets))) if len(sets) == 1 else f"sets of {scheme[kind].size}"
    return f"{plural(kind[0])}: {told}{each}"
