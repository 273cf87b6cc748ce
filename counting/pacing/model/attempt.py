"""An attempt as pacing reads it from an audit: reps with their times, and the gaps between."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from counting.pacing.model.loads import PacingError, known_loads
from counting.record.types import AuditRecord

SAME_REP_S: Final = 1e-6


@dataclass(frozen=True)
class SeenRep:
    """One rep of the film.

    ``set_number`` numbers the sets of the attempt. ``gave_out`` is True where the rep is known to
    have failed for want of strength, False where it went, None where it did not count for a
    reason the film does not tell apart from strength. ``place`` is (block, round, station) from 1.
    """

    movement: str
    start_s: float
    end_s: float
    set_number: int
    gave_out: bool | None
    place: tuple[int, int, int]

    @property
    def time_s(self) -> float:
        """Length of the whole cycle."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Attempt:
    """Reps of one attempt in order; ``start_s`` is the clock's zero on the film's time line."""

    reps: tuple[SeenRep, ...]
    start_s: float

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
        """Clock at the end of each station (place, movement, reps), up to the first unfinished."""
        clocks: list[float] = []
        for place, movement, wanted in stations:
            ends_s = [r.end_s for r in self.reps if r.place == place and r.movement == movement]
            if len(ends_s) < wanted:
                break
            clocks.append(ends_s[-1] - self.start_s)
        return clocks

    def without_round(self, block: int, round_number: int) -> "Attempt":
        """Leave one round out (the reps before and after keep their times)."""
        kept = tuple(rep for rep in self.reps if rep.place[:2] != (block, round_number))
        return Attempt(kept, self.start_s)

    def before(self, time_s: float) -> "Attempt":
        """Reps that were over at a time of the film."""
        return Attempt(tuple(rep for rep in self.reps if rep.end_s <= time_s), self.start_s)


def attempt_of(record: AuditRecord) -> Attempt:
    """Read an attempt from an audit record.

    A rep without a place in a workout is taken as station 1 of round 1. Every rep, counted or not,
    was work and stays in.

    Raises
    ------
    PacingError
        The record holds no rep of a movement that can be planned.
    """
    known = known_loads()
    reps = tuple(
        SeenRep(
            movement=rep.movement,
            start_s=rep.start_s,
            end_s=rep.end_s,
            set_number=rep.set,
            gave_out=None if rep.verdict == "no-rep" else False,
            place=(rep.block or 1, rep.round or 1, rep.station or 1),
        )
        for rep in record.reps
        if rep.movement in known and rep.end_s - rep.start_s > SAME_REP_S
    )
    if not reps:
        raise PacingError(
            f"{record.film.file}: the audit holds no rep of a movement that can be planned"
        )
    start_s = record.start_s if record.start_s is not None else reps[0].start_s
    return Attempt(reps, min(start_s, reps[0].start_s))
