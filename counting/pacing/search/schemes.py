"""Plans that can be told in a breath: one way of breaking up for each movement.

Whoever follows a plan has a bar in the hands. So a plan is made of few numbers from short lists,
equal sets first, and what is more to remember has to earn it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.exertion import unbroken_with
from counting.pacing.model.known import Known
from counting.pacing.search.course import Course, Kind
from counting.pacing.search.plan import FULL_EFFORT, Plan, Stint, even_sets

SHORTEST: Final = 0.0
RESTS_S: Final = (SHORTEST, 10.0, 20.0, 40.0, 80.0)
"""Rests between sets: the shortest break, or about twice as long each time."""

WAITS_S: Final = (0.0, 15.0, 40.0)
"""Waits before a station, beside the way to it."""

EFFORTS: Final = (FULL_EFFORT, 0.88)
MOST_SETS: Final = 8
SMALLEST_SHARE: Final = 7
"""No set is smaller than this part of the unbroken one (common practice, no source)."""


@dataclass(frozen=True)
class SetPattern:
    """How one movement is done at every station.

    ``size`` is the largest set, ``later`` the largest set in the later half: of the rounds, or of a
    single station's reps, where it is never larger. ``rest_s`` is rested between sets, ``wait_s``
    before the station.
    """

    size: int
    rest_s: float = SHORTEST
    later: int | None = None
    wait_s: float = 0.0
    effort: float = FULL_EFFORT


SWAP_S: Final = 2.0
"""From one athlete's set to the next one's (common practice, no source)."""

Scheme = Mapping[Kind, SetPattern]


@dataclass(frozen=True)
class Limits:
    """What an athlete can do of each kind of work.

    ``unbroken``: reps in one set, whole and at least 1 so that singles can be tried; ``able``: the
    same as believed; ``shortest_s`` between two sets; ``rep_s`` a rep when fresh.
    """

    unbroken: Mapping[Kind, int]
    able: Mapping[Kind, float]
    shortest_s: Mapping[Kind, float]
    rep_s: Mapping[Kind, float]

    def least_rest_s(self, course: Course, kind: Kind, size: int) -> float:
        """Shortest rest between sets of a size.

        The shortest break, or a set of each other athlete who takes a turn; then what a break
        costs by the workout's rules.
        """
        others_s = course.others_go * (size * self.rep_s[kind] + SWAP_S)
        return max(self.shortest_s[kind], float(round(others_s))) + course.break_more_s


def limits_of(course: Course, known: Known, draws: Athletes) -> Limits:
    """Work out the limits from what is believed, or as typed in for the very load."""
    able: dict[Kind, float] = {}
    for movement, kg in course.kinds:
        own = known.movements.get(movement)
        typed = None if own is None else own.unbroken
        meant_kg = course.at_kg.get(movement) if own is None or not own.at_kg else own.at_kg
        if typed is not None and meant_kg == kg:
            able[movement, kg] = typed
        else:
            able[movement, kg] = float(np.median(unbroken_with(draws, movement, kg)))
    shortest = {
        kind: float(round(np.median(draws.shortest_break_s[:, draws.column(kind[0])])))
        for kind in course.kinds
    }
    whole = {kind: max(1, int(reps + 1e-9)) for kind, reps in able.items()}
    rep_s = {
        kind: float(np.median(draws.cycle_s[:, draws.column(kind[0])])) for kind in course.kinds
    }
    return Limits(whole, able, shortest, rep_s)


def plan_of(course: Course, scheme: Scheme, limits: Limits) -> Plan:
    """Write a scheme out, station by station."""
    number = {kind: sum(s.kind == kind for s in course.stations) for kind in course.kinds}
    seen = dict.fromkeys(course.kinds, 0)
    stints: list[Stint] = []
    for station in course.stations:
        if station.timed_s is not None:
            stints.append(Stint((1,), ()))
            continue
        pattern = scheme[station.kind]
        many = number[station.kind]
        late = 2 * seen[station.kind] >= many
        seen[station.kind] += 1
        sets = sets_of(station.reps, pattern, alone=many == 1, late=late)
        least_s = limits.least_rest_s(course, station.kind, max(sets))
        rest_s = max(pattern.rest_s + course.break_more_s, least_s)
        wait_s = pattern.wait_s if stints else 0.0
        if course.others_go:
            wait_s = max(wait_s, least_s)
        stints.append(Stint(sets, (rest_s,) * (len(sets) - 1), wait_s, pattern.effort))
    return tuple(stints)


def sets_of(reps: int, pattern: SetPattern, *, alone: bool, late: bool) -> tuple[int, ...]:
    """Break one station up into sets that never grow."""
    if pattern.later is None or (alone and pattern.later >= pattern.size):
        return even_sets(reps, -(-reps // pattern.size))
    if alone and reps > pattern.size:
        first = reps // 2
        sets = even_sets(first, -(-first // pattern.size))
        return (*sets, *even_sets(reps - first, -(-(reps - first) // pattern.later)))
    return even_sets(reps, -(-reps // (pattern.later if late and not alone else pattern.size)))


def sizes_of(course: Course, kind: Kind, limits: Limits) -> tuple[int, ...]:
    """Largest sets worth trying: whole, in halves, in thirds and so on, and very small ones."""
    most = max(s.reps for s in course.stations if s.kind == kind)
    sizes = {-(-most // sets) for sets in range(1, MOST_SETS + 1)} | {1, 2, 3, 5}
    limit = min(limits.unbroken[kind], most)
    least = min(least_set(limits.able[kind]), most)
    return tuple(sorted({size for size in sizes if least <= size <= limit} | {limit}, reverse=True))


def least_set(able: float) -> int:
    """Smallest set worth a break: easy work is not cut into singles that nobody can count."""
    return max(1, round(able / SMALLEST_SHARE))


def uniform_schemes(course: Course, limits: Limits) -> list[Scheme]:
    """Make first guesses: sets of one size and rests of one length throughout."""
    schemes: dict[tuple[SetPattern, ...], Scheme] = {}
    wanted = [dict.fromkeys(course.kinds, size) for size in (1000, 15, 10, 7, 5, 3, 2, 1)]
    wanted += [
        {kind: round(share * limits.able[kind]) for kind in course.kinds}
        for share in (0.7, 0.5, 0.35, 0.25)
    ]
    for sizes in wanted:
        for rest_s in RESTS_S[:3]:
            scheme = {
                kind: SetPattern(
                    min(max(size, least_set(limits.able[kind])), limits.unbroken[kind]),
                    rest_s,
                )
                for kind, size in sizes.items()
            }
            schemes.setdefault(tuple(scheme.values()), scheme)
    return list(schemes.values())


def neighbours(course: Course, scheme: Scheme, limits: Limits, *, fine: bool) -> Iterator[Scheme]:
    """Schemes that differ in one number.

    Coarse ones keep one rest for all movements, no waits, full effort, and every round alike; fine
    ones give each movement its own rest, wait, effort, and smaller or larger sets later.
    """
    if not fine:
        for rest_s in RESTS_S:
            yield {kind: replace(pattern, rest_s=rest_s) for kind, pattern in scheme.items()}
    for kind, pattern in scheme.items():
        sizes = sizes_of(course, kind, limits)
        changed = [replace(pattern, size=size) for size in sizes]
        if fine:
            changed += [replace(pattern, rest_s=rest_s) for rest_s in RESTS_S]
            changed += [replace(pattern, wait_s=wait_s) for wait_s in WAITS_S]
            changed += [replace(pattern, effort=effort) for effort in EFFORTS]
            changed += [replace(pattern, later=later) for later in (None, *sizes)]
        for other in changed:
            if other != pattern:
                yield {**scheme, kind: other}


def burden(course: Course, scheme: Scheme, plan: Plan, limits: Limits) -> tuple[int, int]:
    """Count what there is to remember, the heaviest first.

    Movements whose sets change on the way, so that rounds or sets are not alike; then numbers: one
    for each movement that is broken up, another where its sets are not equal, and rests, waits and
    slower paces of different length (the shortest rest needs no number).
    """
    numbers: set[tuple[object, ...]] = set()
    for station, stint in zip(course.stations, plan, strict=True):
        if station.timed_s is not None:
            continue
        least_s = limits.least_rest_s(course, station.kind, max(stint.sets))
        if len(stint.sets) > 1:
            numbers.add(("broken", station.kind))
        if max(stint.sets) > min(stint.sets):
            numbers.add(("uneven", station.kind))
        numbers |= {("rest", rest_s) for rest_s in stint.rests_s if rest_s > least_s}
        if stint.rest_before_s > (least_s if course.others_go else 0.0):
            numbers.add(("wait", stint.rest_before_s))
        if stint.effort < FULL_EFFORT:
            numbers.add(("effort", stint.effort))
    even = {kind: replace(pattern, later=None) for kind, pattern in scheme.items()}
    alike = plan_of(course, even, limits)
    changing = {
        station.kind
        for station, stint, other in zip(course.stations, plan, alike, strict=True)
        if stint.sets != other.sets
    }
    return len(changing), len(numbers)
