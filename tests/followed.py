"""Records of workouts that were followed: which rep was done at which station."""

from collections.abc import Sequence

import numpy as np

from counting.record.types import AuditRecord, RepPart, RepVerdict
from counting.reps.types import Rep
from counting.workout.alignment import FollowedRep, Following
from counting.workout.clock import ClockZero
from counting.workout.postures import PostureTrack
from counting.workout.types import Block, Station, TieBreak, Workout
from counting.workout.whole import with_workout
from tests.records import bare_record

TWO_STATIONS = Workout(
    name="Morning at the boathouse",
    scoring="for time",
    missing_reps="deducted",
    tie_break=TieBreak(block=1),
    blocks=[
        Block(stations=[Station(movement="thruster", reps=3)]),
        Block(stations=[Station(movement="pull-up", reps=2)]),
    ],
)
CALLS: dict[str, tuple[RepVerdict, float]] = {
    "g": ("good", 1.0),
    "n": ("no-rep", 0.0),
    "?": ("too close", 0.6),
}


def followed(reps: Sequence[RepPart], stations: Sequence[int | None]) -> Following:
    """Say which of the script's stations each rep was followed at; nothing else was seen."""
    nothing = np.zeros(0)
    return Following(
        stretches=(),
        reps=tuple(
            FollowedRep(
                Rep(rep.number, rep.movement, 0, 0, 0, rep.start_s, rep.turn_s, rep.end_s), station
            )
            for rep, station in zip(reps, stations, strict=True)
        ),
        tracks={},
        postures=PostureTrack(nothing, nothing.astype(np.int64), nothing, nothing),
        rounds_without_end=1,
    )


def followed_attempt(
    thrusters: str, pull_ups: str, cycle_s: float = 2.0, *, file: str = "attempt.mp4"
) -> AuditRecord:
    """Make the record of a followed workout: thrusters from 6 s on, pull-ups 5 s after them.

    Each rep is a letter of `CALLS`.
    """
    reps: list[RepPart] = []
    at_s = 6.0
    for number, (movement, calls) in enumerate(
        (("thruster", thrusters), ("pull-up", pull_ups)), start=1
    ):
        for call in calls:
            verdict, chance = CALLS[call]
            reps.append(
                RepPart(
                    number=len(reps) + 1,
                    set=number,
                    movement=movement,
                    start_s=at_s,
                    turn_s=at_s + cycle_s / 2,
                    counted_s=None if call == "n" else at_s + cycle_s,
                    end_s=at_s + cycle_s,
                    verdict=verdict,
                    probability_good=chance,
                    checks=[],
                )
            )
            at_s += cycle_s
        at_s += 5.0
    at = [("thruster", "pull-up").index(rep.movement) for rep in reps]
    zero = ClockZero(5.0, 0.01, "start signal", 0.97, "start signal in the sound")
    bare = bare_record(reps, file=file, duration_s=90.0)
    return with_workout(bare, TWO_STATIONS, followed(reps, at), zero)
