"""Attempts written down by hand: reps with their times and calls, no film."""

from collections.abc import Sequence

import msgspec

from counting.record.scored import workout_part
from counting.record.types import (
    AuditRecord,
    RepPart,
    RepVerdict,
)
from counting.workout.clock import ClockZero
from counting.workout.record import WorkoutPart
from counting.workout.types import Block, Station, TieBreak, Workout
from counting.workout.whole import with_workout
from tests.followed import followed
from tests.records import bare_record

CALLS: dict[str, RepVerdict] = {"g": "good", "n": "no-rep", "?": "too close"}
CHANCES = {"g": 1.0, "n": 0.0, "?": 0.6}


def rep_parts(
    calls: str,
    movement: str = "pull-up",
    *,
    begin_s: float = 0.0,
    cycle_s: float = 2.0,
    first_number: int = 1,
    set_number: int = 1,
    place: tuple[int, int, int] | None = (1, 1, 1),
) -> list[RepPart]:
    """Reps back to back; ``calls`` holds g (good), n (no-rep) or ? (too close) for each."""
    found = []
    for index, call in enumerate(calls):
        start_s = begin_s + index * cycle_s
        found.append(
            RepPart(
                number=first_number + index,
                set=set_number,
                movement=movement,
                start_s=start_s,
                turn_s=start_s + 0.5 * cycle_s,
                counted_s=None if call == "n" else start_s + 0.75 * cycle_s,
                end_s=start_s + cycle_s,
                verdict=CALLS[call],
                probability_good=CHANCES[call],
                checks=[],
                block=place[0] if place else None,
                round=place[1] if place else None,
                station=place[2] if place else None,
            )
        )
    return found


def attempt(*parts: Sequence[RepPart]) -> list[RepPart]:
    """Put stretches of reps behind each other and number them."""
    reps = [rep for part in parts for rep in part]
    return [msgspec.structs.replace(rep, number=number) for number, rep in enumerate(reps, start=1)]


ZERO = ClockZero(5.0, 0.01, "start signal", 0.97, "start signal in the sound")

COUPLET = Workout(
    name="couplet and a rest",
    scoring="for time",
    missing_reps="deducted",
    tie_break=TieBreak(block=1),
    blocks=[
        Block(
            rounds=2,
            rest_after_s=30.0,
            stations=[Station(movement="thruster", reps=3), Station(movement="pull-up", reps=2)],
        ),
        Block(stations=[Station(movement="bar muscle-up", reps=2)]),
    ],
)

THRUSTERS, PULL_UPS, MORE_THRUSTERS, MORE_PULL_UPS, MUSCLE_UPS = range(5)


def done(
    *parts: tuple[int | None, str, str, float], workout: Workout = COUPLET
) -> tuple[AuditRecord, WorkoutPart]:
    """Follow stretches of (run, movement, calls, begin on the clock)."""
    stretches = [
        rep_parts(calls, movement, begin_s=5.0 + begin_s, set_number=number, place=None)
        for number, (_, movement, calls, begin_s) in enumerate(parts, start=1)
    ]
    reps = attempt(*stretches)
    run_of = [run for run, _, calls, _ in parts for _ in calls]
    found = with_workout(bare_record(reps), workout, followed(reps, run_of), ZERO)
    return found, workout_part(found)


CLEAN = (
    (THRUSTERS, "thruster", "ggg", 2.0),
    (PULL_UPS, "pull-up", "gg", 12.0),
    (MORE_THRUSTERS, "thruster", "ggg", 20.0),
    (MORE_PULL_UPS, "pull-up", "gg", 30.0),
    (MUSCLE_UPS, "bar muscle-up", "gg", 64.0),
)
