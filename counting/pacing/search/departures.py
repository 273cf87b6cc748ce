"""Ways of departing from a plan: to improve it, to price it, and to answer a mark that was missed.

Plans are rewritten here and nowhere judged.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np

from counting.pacing.model.fit import AthleteFit
from counting.pacing.search.course import Course
from counting.pacing.search.plan import (
    FULL_EFFORT,
    Plan,
    Stint,
    even_sets,
    fitted_sets,
    plural,
    set_words,
    with_sets,
)

_Change: TypeAlias = Callable[[tuple[int, ...]], tuple[int, ...]]

MORE_REST_S: Final = 5.0
SETS_TOLD_BY_NUMBER: Final = 4
"""Up to so many sets of a station their number is changed by one; beyond, their size is."""


@dataclass(frozen=True)
class Departure:
    """Another way of doing the work; ``movement`` is the one it changes, None for all."""

    words: str
    movement: str | None
    plan: Plan


def departures(course: Course, plan: Plan, fit: AthleteFit) -> list[Departure]:
    """Ways an athlete departs from a plan: larger and smaller sets, longer and no rests, a rush."""
    found: list[Departure] = []
    for movement in course.movements:
        own = tuple(station.movement == movement for station in course.stations)
        rest_s = shortest_break_s(fit, movement)
        for words, change in (
            ("larger sets", _larger),
            ("smaller sets", _smaller),
            ("unbroken", _whole),
        ):
            altered = _altered(plan, own, change, rest_s)
            told = _sets_told(movement, altered, own, words)
            if altered != plan and altered not in [item.plan for item in found]:
                found.append(Departure(told, movement, altered))
    for words, more_s in (("longer", MORE_REST_S), ("shorter", -MORE_REST_S)):
        rested = _with_rests(course, plan, fit, more_s)
        if rested != plan:
            found.append(Departure(f"every rest {MORE_REST_S:.0f} s {words}", None, rested))
    third = max(1, len(plan) // 3)
    rush = tuple(
        Stint((stint.reps,), (), 0.0, FULL_EFFORT) if place < third else stint
        for place, stint in enumerate(plan)
    )
    if rush not in (plan, *(item.plan for item in found)):
        found.append(Departure("first third unbroken and at full pace", None, rush))
    return found


def shortest_break_s(fit: AthleteFit, movement: str) -> float:
    """Shortest break the athlete is believed to take, in whole seconds."""
    typical = fit.forms[0].typical
    return float(round(typical.shortest_break_s[0, typical.column(movement)]))


def smaller_from(course: Course, plan: Plan, fit: AthleteFit, place: int) -> Plan:
    """Smaller sets at every station from a place on, rests as planned or the shortest."""
    return tuple(
        _with_other_sets(stint, _smaller(stint.sets), shortest_break_s(fit, station.movement))
        if index >= place
        else stint
        for index, (station, stint) in enumerate(zip(course.stations, plan, strict=True))
    )


def hurried_from(course: Course, plan: Plan, fit: AthleteFit, place: int) -> Plan:
    """Cut all rests to the shortest and drop waits from a place on, sets as planned."""
    stints = []
    for index, (station, stint) in enumerate(zip(course.stations, plan, strict=True)):
        shortest_s = shortest_break_s(fit, station.movement)
        rests = tuple(min(rest_s, shortest_s) for rest_s in stint.rests_s)
        hurried = replace(stint, rests_s=rests, rest_before_s=0.0, effort=FULL_EFFORT)
        stints.append(hurried if index >= place else stint)
    return tuple(stints)


def in_whole_seconds(plan: Plan) -> Plan:
    """Round rests to whole seconds, as an athlete can keep them."""
    return tuple(
        replace(stint, rests_s=tuple(float(round(rest_s)) for rest_s in stint.rests_s))
        for stint in plan
    )


def evened(course: Course, plan: Plan) -> Plan:
    """Make a plan the same in every round: for each movement its commonest way, no waits."""
    ways: dict[tuple[str, int], Counter[tuple[tuple[int, ...], float, float]]] = {}
    for station, stint in zip(course.stations, plan, strict=True):
        rest_s = float(np.median(stint.rests_s)) if stint.rests_s else 0.0
        way = (_one_size(stint.sets), float(round(rest_s)), stint.effort)
        ways.setdefault((station.movement, station.reps), Counter())[way] += 1
    stints = []
    for station in course.stations:
        sets, rest_s, effort = ways[station.movement, station.reps].most_common(1)[0][0]
        stints.append(Stint(sets, (rest_s,) * (len(sets) - 1), 0.0, effort))
    return tuple(stints)


def plan_words(course: Course, plan: Plan) -> str:
    """Tell a plan shortly: for each movement its ways of breaking up, with the usual rest."""
    ways: dict[str, list[str]] = {}
    rests: dict[str, list[float]] = {}
    for station, stint in zip(course.stations, plan, strict=True):
        words = ways.setdefault(station.movement, [])
        if set_words(stint.sets) not in words:
            words.append(set_words(stint.sets))
        rests.setdefault(station.movement, []).extend(stint.rests_s)
    return "; ".join(
        f"{plural(movement)} {', then '.join(words)}"
        + (f" (rests about {np.median(rests[movement]):.0f} s)" if rests[movement] else "")
        for movement, words in ways.items()
    )


def _one_size(sets: tuple[int, ...]) -> tuple[int, ...]:
    if len(sets) <= SETS_TOLD_BY_NUMBER:
        return sets
    commonest = Counter(sets).most_common(1)[0][0]
    return fitted_sets((commonest,), sum(sets))


def _larger(sets: tuple[int, ...]) -> tuple[int, ...]:
    reps = sum(sets)
    if len(sets) <= SETS_TOLD_BY_NUMBER:
        return even_sets(reps, max(len(sets) - 1, 1))
    return even_sets(reps, -(-reps // (max(sets) + 1)))


def _smaller(sets: tuple[int, ...]) -> tuple[int, ...]:
    reps = sum(sets)
    if len(sets) < SETS_TOLD_BY_NUMBER:
        return even_sets(reps, min(len(sets) + 1, reps))
    return even_sets(reps, -(-reps // max(max(sets) - 1, 1)))


def _whole(sets: tuple[int, ...]) -> tuple[int, ...]:
    return (sum(sets),)


def _altered(plan: Plan, own: Sequence[bool], change: _Change, rest_s: float) -> Plan:
    return tuple(
        _with_other_sets(stint, change(stint.sets), rest_s) if mine else stint
        for stint, mine in zip(plan, own, strict=True)
    )


def _with_other_sets(stint: Stint, sets: tuple[int, ...], rest_s: float) -> Stint:
    """Keep the stint's usual rest where it has one, and the stint itself where sets are equal."""
    if sets == stint.sets:
        return stint
    return with_sets(stint, sets, float(np.median(stint.rests_s)) if stint.rests_s else rest_s)


def _with_rests(course: Course, plan: Plan, fit: AthleteFit, more_s: float) -> Plan:
    """Lengthen or shorten every rest, none below the shortest break."""
    stints = []
    for station, stint in zip(course.stations, plan, strict=True):
        least_s = shortest_break_s(fit, station.movement)
        rests = tuple(max(rest_s + more_s, min(rest_s, least_s)) for rest_s in stint.rests_s)
        stints.append(replace(stint, rests_s=rests))
    return tuple(stints)


def _sets_told(movement: str, plan: Plan, own: Sequence[bool], words: str) -> str:
    """Name the sets where every station of the movement has the same, else the kind of change."""
    sets = {stint.sets for stint, mine in zip(plan, own, strict=True) if mine}
    each = " each time" if sum(own) > 1 else ""
    told = set_words(next(iter(sets))) if len(sets) == 1 else words
    return f"{plural(movement)}: {told}{each}"
