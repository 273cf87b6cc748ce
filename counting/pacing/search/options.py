"""What can be decided on the way through a workout: chunks of reps, and the ways of doing each."""

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.reservoir import BoolArray
from counting.pacing.search.course import Course, Station
from counting.pacing.search.plan import set_schemes

LONGEST_CHUNK: Final = 12
"""Stations with more reps are decided upon in chunks of about this size."""

HARD_SET: Final = 4.0
"""Movements with a smaller unbroken set also get long rests to choose from."""

RESTS_S: Final = (0.0, 5.0, 12.0, 25.0)
LONG_RESTS_S: Final = (0.0, 10.0, 25.0, 50.0, 90.0)
WAITS_S: Final = (0.0, 10.0, 30.0)
LONG_WAITS_S: Final = (0.0, 30.0, 75.0, 150.0)
EFFORTS: Final = (1.0, 0.88)


@dataclass(frozen=True)
class Option:
    """One decision: how the next chunk of reps is done."""

    sets: tuple[int, ...]
    rest_s: float
    wait_s: float
    effort: float


@dataclass(frozen=True)
class Chunk:
    """Reps decided upon at once: a station or a part of a long one.

    ``station`` is the index in the course, ``first_rep`` the number of its first rep, from 0;
    ``relevant`` says which reservoirs still matter from here on.
    """

    station: int
    reps: int
    first_rep: int
    opening: bool
    options: tuple[Option, ...]
    relevant: BoolArray


def chunks_of(course: Course, athlete: Athletes) -> tuple[Chunk, ...]:
    """Cut a course into chunks, each with its options for this athlete."""
    cut: list[tuple[int, int, int, bool]] = []
    first = 0
    for index, station in enumerate(course.stations):
        parts = -(-station.reps // LONGEST_CHUNK)
        size, more = divmod(station.reps, parts)
        for part in range(parts):
            reps = size + (part < more)
            cut.append((index, reps, first, part == 0))
            first += reps
    chunks = []
    for number, (index, reps, first, opening) in enumerate(cut):
        ahead = {course.stations[later].movement for later, *_ in cut[number + 1 :]}
        loaded = {group for load in athlete.loads if load.movement in ahead for group in load.loads}
        relevant = np.array([group in loaded for group in athlete.groups] + [bool(ahead)])
        options = options_for(course.stations[index], reps, athlete, opening=opening and index > 0)
        chunks.append(Chunk(index, reps, first, opening, options, relevant))
    return tuple(chunks)


def options_for(
    station: Station, reps: int, athlete: Athletes, opening: bool
) -> tuple[Option, ...]:
    """List the decisions that make sense for a chunk.

    Sets longer than the fresh unbroken set are left out; easy movements are not cut into singles.
    """
    unbroken = float(athlete.unbroken[0, athlete.column(station.movement)])
    hard = unbroken < HARD_SET
    schemes = [sets for sets in set_schemes(reps) if sets[0] <= max(0.95 * unbroken, 1.0)]
    shortest = min(max(1, int(unbroken / 6)), 4, reps)
    schemes = [sets for sets in schemes if sets[0] >= shortest] or [(1,) * reps]
    rests = LONG_RESTS_S if hard else RESTS_S
    waits = (LONG_WAITS_S if hard else WAITS_S) if opening else (rests if not opening else (0.0,))
    return tuple(
        Option(sets, rest_s, wait_s, effort)
        for sets, wait_s, effort in product(schemes, waits, EFFORTS)
        for rest_s in (rests if len(sets) > 1 else (0.0,))
    )
