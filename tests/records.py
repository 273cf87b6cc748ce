"""Audit records with nothing in them but reps: what tests add is what they are about."""

from collections.abc import Sequence

import numpy as np
from msgspec.structs import replace

from counting.record.types import (
    AthletePart,
    AuditRecord,
    CameraPart,
    ContinuityPart,
    CountsPart,
    FilmPart,
    PausePart,
    RepPart,
    RepVerdict,
    RiskPart,
    SecondViewPart,
    VersionsPart,
)
from counting.reps.types import Rep
from counting.workout.alignment import FollowedRep, Following
from counting.workout.clock import ClockZero
from counting.workout.postures import PostureTrack
from counting.workout.types import Block, Station, TieBreak, Workout
from counting.workout.whole import with_workout

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
NO_COUNTS = CountsPart(good=0, no_rep=0, too_close=0, lowest=0, highest=0)


def further_film(
    record: AuditRecord, file: str = "from_the_side.mp4", offset_s: float = 0.4
) -> SecondViewPart:
    """Make a further film of a record's attempt, known by its sound."""
    return SecondViewPart(
        film=replace(record.film, file=file, sha256="9" * 64),
        offset_s=offset_s,
        offset_uncertainty_s=0.003,
        drift_ppm=-12.0,
        drift_uncertainty_ppm=5.0,
        clock_from="sound",
        seen_share=1.0,
        view_deg=80.0,
        landmarks_file="landmarks-1.npz",
    )


def bare_record(
    reps: Sequence[RepPart],
    *,
    file: str = "attempt.mp4",
    duration_s: float = 200.0,
    view_deg: float | None = 40.0,
    movement: str | None = None,
    start_s: float | None = None,
    pauses: Sequence[PausePart] = (),
    counts: CountsPart = NO_COUNTS,
) -> AuditRecord:
    """Make a record of a steady 30 Hz film; ``view_deg`` is None where nobody was fitted."""
    return AuditRecord(
        film=FilmPart(
            file=file,
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
        camera=CameraPart(view_deg=view_deg, steady=True, shake_px=0.3),
        movement=movement,
        start_s=start_s,
        risk=RiskPart(met_at_least=0.95, not_met_at_most=0.05),
        reps=list(reps),
        sets=[],
        breaks=[],
        pauses=list(pauses),
        counts=counts,
        series=None,
        warnings=[],
        versions=VersionsPart(tool="0", model="none", model_sha256="0" * 64, libraries={}),
    )


def continuity(words: str, *, continuous: bool, frames: int = 1) -> ContinuityPart:
    """Say how a film's continuity looks, without findings."""
    return ContinuityPart(
        words=words, continuous=continuous, frames=frames, sound=False, findings=[]
    )


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
