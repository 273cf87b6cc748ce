"""An attempt as pacing reads it from an audit: reps with their times, and the gaps between."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Final

from counting.pacing.model.loads import PacingError, known_loads
from counting.record.parts import TIMES_UNKNOWN
from counting.record.types import AuditRecord
from counting.workout.record import WorkoutPart

SAME_REP_S: Final = 1e-6

SLOW_REP: Final = 1.4
"""A rep that takes so many times the usual one of its movement was a struggle: from there on speed
falls steeply towards failure (velocity loss in sets to failure; the number is common practice)."""

POUND_KG: Final = 0.45359237
"""International pound, exact (1959)."""


@dataclass(frozen=True)
class SeenRep:
    """One rep of the film.

    ``set_number`` numbers the sets of the attempt. ``gave_out`` is True where the rep failed for
    want of strength, False where it went, None where it did not count for a reason the film does
    not tell apart from strength. ``let_go`` says that the athlete broke the set after it though it
    went, with reps left to do and after a struggle. ``refused`` is the probability that it does not
    count. ``place`` is (block, round, station) from 1.
    """

    movement: str
    start_s: float
    end_s: float
    set_number: int
    gave_out: bool | None
    place: tuple[int, int, int]
    load_kg: float | None = None
    let_go: bool = False
    refused: float = 0.0
    fault: str | None = None

    @property
    def time_s(self) -> float:
        """Length of the whole cycle."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Attempt:
    """Reps of one attempt in order; ``start_s`` is the clock's zero on the film's time line.

    ``weight`` says how much it still tells of the athlete: 1 for the latest attempt, less for
    older ones.
    """

    reps: tuple[SeenRep, ...]
    start_s: float
    weight: float = 1.0

    @property
    def movements(self) -> tuple[str, ...]:
        """Movements in order of first use."""
        return tuple(dict.fromkeys(rep.movement for rep in self.reps))

    def breaks(self) -> list[tuple[str, float]]:
        """Movement and length of each break between sets of one station."""
        return [
            (after.movement, after.start_s - before.end_s)
            for before, after in zip(self.reps, self.reps[1:], strict=False)
            if before.place == after.place and before.set_number != after.set_number
        ]

    def transitions_s(self) -> list[float]:
        """Gaps between stations of one block."""
        return [
            after.start_s - before.end_s
            for before, after in zip(self.reps, self.reps[1:], strict=False)
            if before.place != after.place and before.place[0] == after.place[0]
        ]

    def longest_set(self, movement: str) -> int:
        """Reps of the longest set of a movement, 0 where it was not done."""
        sizes: dict[int, int] = {}
        for rep in self.reps:
            if rep.movement == movement:
                sizes[rep.set_number] = sizes.get(rep.set_number, 0) + 1
        return max(sizes.values(), default=0)

    def clocks_s(self, stations: Sequence[tuple[tuple[int, int, int], str, int]]) -> list[float]:
        """Clock at the end of each station (place, movement, reps), up to the first unfinished.

        Work without reps (0) is over when the station after it is begun; at the end it is left out.
        """
        clocks: list[float] = []
        waiting = 0
        for place, movement, wanted in stations:
            if not wanted:
                waiting += 1
                continue
            own = [rep for rep in self.reps if rep.place == place and rep.movement == movement]
            if len(own) < wanted:
                break
            clocks += [own[0].start_s - self.start_s] * waiting
            clocks.append(own[-1].end_s - self.start_s)
            waiting = 0
        return clocks

    def before(self, time_s: float) -> "Attempt":
        """Reps that were over at a time of the film."""
        return replace(self, reps=tuple(rep for rep in self.reps if rep.end_s <= time_s))


def attempt_of(record: AuditRecord) -> Attempt:
    """Read an attempt from an audit record.

    A rep without a place in a workout is taken as station 1 of round 1. Every rep, counted or not,
    was work and stays in.

    Raises
    ------
    PacingError
        The record holds no rep of a movement that can be planned, or its film tells no time.
    """
    if not record.film.times_known:
        raise PacingError(f"{record.film.file}: {TIMES_UNKNOWN}")
    known = known_loads()
    loads_kg = _loads_kg(record.workout)
    reps = []
    for rep in record.reps:
        if rep.movement not in known or rep.end_s - rep.start_s <= SAME_REP_S:
            continue
        place = (rep.block or 1, rep.round or 1, rep.station or 1)
        missed = [check.words for check in rep.checks if check.verdict == "not met"]
        reps.append(
            SeenRep(
                movement=rep.movement,
                start_s=rep.start_s,
                end_s=rep.end_s,
                set_number=rep.set,
                gave_out=None if rep.verdict == "no-rep" else False,
                place=place,
                load_kg=loads_kg.get((place[0], place[2])),
                refused=1.0 - rep.probability_good,
                fault=missed[0] if missed else None,
            )
        )
    if not reps:
        raise PacingError(
            f"{record.film.file}: the audit holds no rep of a movement that can be planned"
        )
    start_s = record.start_s if record.start_s is not None else reps[0].start_s
    return Attempt(with_limits(reps), min(start_s, reps[0].start_s))


def with_limits(reps: Sequence[SeenRep]) -> tuple[SeenRep, ...]:
    """Mark the reps at which strength ended: a struggle that failed, and a struggle let go after.

    A no-rep that ends its set and took much longer than usual gave out. A slow rep that went, after
    which the set was broken with reps left to do at the station, was let go.
    """
    usual_s = {
        movement: median(rep.time_s for rep in reps if rep.movement == movement)
        for movement in {rep.movement for rep in reps}
    }
    marked = []
    for index, rep in enumerate(reps):
        after = reps[index + 1] if index + 1 < len(reps) else None
        broken = after is not None and after.set_number != rep.set_number
        slow = rep.time_s >= SLOW_REP * usual_s[rep.movement]
        if broken and slow and rep.gave_out is None:
            marked.append(replace(rep, gave_out=True))
        elif broken and slow and after is not None and after.place == rep.place:
            marked.append(replace(rep, let_go=True))
        else:
            marked.append(rep)
    return tuple(marked)


def _loads_kg(workout: WorkoutPart | None) -> dict[tuple[int, int], float]:
    """Read loads by block and station from the definition that a record carries."""
    if workout is None:
        return {}
    found = {}
    for block_number, block in enumerate(workout.definition.blocks, start=1):
        for number, station in enumerate(block.stations, start=1):
            kg = load_kg(station.load, station.load_unit)
            if kg is not None:
                found[block_number, number] = kg
    return found


def load_kg(load: float | None, unit: str | None) -> float | None:
    """Convert a station's load to kilograms."""
    if load is None:
        return None
    return load * POUND_KG if unit == "lb" else load
