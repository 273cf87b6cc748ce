"""Attempts written down by hand: reps with their times and calls, no film."""

from collections.abc import Sequence

import msgspec
import numpy as np

from counting.record.types import (
    AthletePart,
    AuditRecord,
    CameraPart,
    CountsPart,
    FilmPart,
    RepPart,
    RepVerdict,
    RiskPart,
    VersionsPart,
)
from counting.reps.types import Rep
from counting.workout.clock import ClockZero
from counting.workout.following import FollowedRep, Following
from counting.workout.postures import PostureTrack
from counting.workout.record import WorkoutPart, workout_part
from counting.workout.types import Block, Station, TieBreak, Workout
from counting.workout.whole import with_workout

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


def record(reps: list[RepPart], duration_s: float = 200.0) -> AuditRecord:
    return AuditRecord(
        film=FilmPart(
            file="attempt.mp4",
            sha256="0" * 64,
            duration_s=duration_s,
            frames=round(30 * duration_s),
            width=720,
            height=1280,
            rotation_deg=0,
            frame_rate_mean_hz=30.0,
            variable_frame_rate=False,
        ),
        athlete=AthletePart(seen_share=1.0),
        camera=CameraPart(view_deg=40.0, steady=True, shake_px=0.3),
        movement=None,
        start_s=None,
        risk=RiskPart(met_at_least=0.95, not_met_at_most=0.05),
        reps=reps,
        sets=[],
        breaks=[],
        pauses=[],
        counts=CountsPart(good=0, no_rep=0, too_close=0, lowest=0, highest=0),
        series=None,
        warnings=[],
        versions=VersionsPart(tool="0", model="x", model_sha256="0", libraries={}),
    )


def following(reps: list[RepPart], run_of: list[int | None]) -> Following:
    nothing = np.zeros(0)
    return Following(
        stretches=(),
        reps=tuple(
            FollowedRep(
                Rep(rep.number, rep.movement, 0, 0, 0, rep.start_s, rep.turn_s, rep.end_s), run
            )
            for rep, run in zip(reps, run_of, strict=True)
        ),
        tracks={},
        postures=PostureTrack(nothing, nothing.astype(np.int64), nothing, nothing),
        rounds_without_end=1,
    )


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
    found = with_workout(record(reps), workout, following(reps, run_of), ZERO)
    return found, workout_part(found)


CLEAN = (
    (THRUSTERS, "thruster", "ggg", 2.0),
    (PULL_UPS, "pull-up", "gg", 12.0),
    (MORE_THRUSTERS, "thruster", "ggg", 20.0),
    (MORE_PULL_UPS, "pull-up", "gg", 30.0),
    (MUSCLE_UPS, "bar muscle-up", "gg", 64.0),
)
