"""The workout as pacing sees it: stations in order, a clock, and what separates equal scores."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.pacing.model.attempt import load_kg
from counting.pacing.model.loads import PacingError, load_of
from counting.workout.types import Workout, script

LONGEST_WORKOUT_S: Final = 5400.0
"""Clock at which forecasts of a workout without a cap stop."""

FASTEST_ROUND_SHARE: Final = 0.6
"""An endless workout is written out as if the athlete went at this share of usual rep times."""


Kind = tuple[str, float | None]


@dataclass(frozen=True)
class Station:
    """Reps of one movement at one place of the workout; numbers count from 1.

    ``fixed_rest_s`` is a rest the workout orders before it. ``not_before_s`` is the clock's
    reading before which it may not start, ``deadline_s`` the one after which its reps no longer
    count (fixed intervals and windows).
    """

    movement: str
    reps: int
    block: int
    round: int
    number: int
    fixed_rest_s: float = 0.0
    not_before_s: float = 0.0
    deadline_s: float = float("inf")
    load_kg: float | None = None

    @property
    def kind(self) -> Kind:
        """What is done: the movement and its load."""
        return self.movement, self.load_kg


@dataclass(frozen=True)
class Course:
    """All stations in order.

    ``cap_s`` always stands; ``finishing`` says that the work can be finished, so that a time is a
    score; ``endless`` that rounds repeat until time is up, and are written out here further than
    anybody gets. ``tie_break_rep`` counts all reps from 1, None without a tie-break.
    """

    name: str
    stations: tuple[Station, ...]
    cap_s: float
    finishing: bool
    tie_break_rep: int | None = None
    endless: bool = False

    @property
    def movements(self) -> tuple[str, ...]:
        """Movements in order of first use."""
        return tuple(dict.fromkeys(station.movement for station in self.stations))

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """Movements with their loads in order of first use."""
        return tuple(dict.fromkeys(station.kind for station in self.stations))

    @property
    def at_kg(self) -> dict[str, float]:
        """First load of each movement that has one."""
        found: dict[str, float] = {}
        for station in self.stations:
            if station.load_kg is not None:
                found.setdefault(station.movement, station.load_kg)
        return found

    @property
    def reps(self) -> int:
        """All reps of the workout as written out here."""
        return sum(station.reps for station in self.stations)


def course_of(workout: Workout) -> Course:
    """Turn a workout file into a course.

    Raises
    ------
    PacingError
        A movement has no loads, or the workout is a one-set maximum, which has no pacing.
    """
    if workout.scoring == "one-set maximum":
        raise PacingError(
            "a one-set maximum has no pacing: there is one set, and it goes to the end"
        )
    endless = any(block.fixed_rounds is None for block in workout.blocks)
    if endless and workout.time_cap_s is None:
        raise PacingError("a workout that repeats until time is up needs time_cap_s to be planned")
    cap_s = _cap_s(workout)
    slots = script(workout, _rounds_within(workout, cap_s) if endless else 1)
    stations: list[Station] = []
    round_start_s, reached = 0.0, (1, 1)
    for slot in slots:
        block = workout.blocks[slot.block - 1]
        new_block = bool(stations) and slot.block != stations[-1].block
        if (slot.block, slot.round) != reached:
            before = workout.blocks[reached[0] - 1]
            round_start_s += before.interval_s or 0.0
            round_start_s += before.rest_after_s if new_block else 0.0
            reached = (slot.block, slot.round)
        station = block.stations[slot.station - 1]
        opens = slot.station == 1 and block.interval_s is not None
        stations.append(
            Station(
                movement=load_of(slot.movement).movement,
                reps=slot.reps or 1,
                block=slot.block,
                round=slot.round,
                number=slot.station,
                fixed_rest_s=workout.blocks[slot.block - 2].rest_after_s if new_block else 0.0,
                not_before_s=round_start_s if opens else 0.0,
                deadline_s=round_start_s + block.interval_s if block.interval_s else np.inf,
                load_kg=load_kg(station.load, station.load_unit),
            )
        )
    return Course(
        name=workout.name,
        stations=tuple(stations),
        cap_s=cap_s,
        finishing=not endless and workout.scoring == "for time",
        tie_break_rep=_tie_break_rep(workout, stations),
        endless=endless,
    )


def _cap_s(workout: Workout) -> float:
    """When the clock ends: the cap, the end of the last interval, or where forecasts stop."""
    intervals_s = [
        (block.fixed_rounds or 1) * block.interval_s + block.rest_after_s
        for block in workout.blocks
        if block.interval_s is not None
    ]
    ended_s = sum(intervals_s) if len(intervals_s) == len(workout.blocks) else LONGEST_WORKOUT_S
    return min(workout.time_cap_s or LONGEST_WORKOUT_S, ended_s)


def _rounds_within(workout: Workout, cap_s: float) -> int:
    block = workout.blocks[-1]
    round_s = sum(
        (station.reps_in(1) or 1) * load_of(station.movement).cycle_s for station in block.stations
    )
    return max(2, int(cap_s / (FASTEST_ROUND_SHARE * round_s)) + 1)


def _tie_break_rep(workout: Workout, stations: list[Station]) -> int | None:
    tie_break = workout.tie_break
    if tie_break is None:
        return None
    if tie_break.rep is not None:
        return tie_break.rep
    block = tie_break.block or 1
    return sum(station.reps for station in stations if station.block <= block)
