"""From an audit's reps to its workout: places, score, flags and splits in one step."""

import math
from collections.abc import Sequence
from typing import Final

import msgspec

from counting.record.scored import workout_part
from counting.record.types import AuditRecord, RepPart
from counting.workout.alignment import Following
from counting.workout.clock import ClockZero, event_uncertainty_s
from counting.workout.flags import flags
from counting.workout.lookalikes import lookalike_flags
from counting.workout.placing import complete_s, placed, runs_of, station_lines
from counting.workout.record import ClockPart, FlagKind, FlagPart, WorkoutPart
from counting.workout.score import ScoredRep, likely_sheet, score
from counting.workout.splits import splits
from counting.workout.starting import start_flag
from counting.workout.types import Workout, rounds_to_write, runs, script

METHOD_UNCERTAINTY_S: Final = 0.07
"""Standard uncertainty of a rep's time beside the frame's: measured on labelled films."""

FROM_MOTION: Final[tuple[FlagKind, ...]] = ("wrong start", "another movement")
"""Flags that need the film's motion and are kept when a record is scored again."""


def with_workout(
    record: AuditRecord, workout: Workout, following: Following, clock: ClockZero
) -> AuditRecord:
    """Complete an audit record with the workout that was followed.

    Parameters
    ----------
    record
        The audit; its reps are those of ``following``, in the same order, with their verdicts.
    workout, following, clock
        What was asked, what was done when, and where the clock starts.

    Raises
    ------
    ValueError
        The record's reps are not those that were followed.
    """
    if len(record.reps) != len(following.reps):
        raise ValueError(f"{len(record.reps)} reps in the record, {len(following.reps)} followed")
    rounds = rounds_to_write(workout, len(record.reps), following.rounds_without_end)
    slots = script(workout, rounds)
    all_runs = runs(workout, slots)
    reps = placed(record.reps, [item.run for item in following.reps], slots, all_runs)
    frame_s = 1.0 / record.film.frame_rate_mean_hz
    part = ClockPart(
        zero_s=clock.time_s,
        uncertainty_s=clock.uncertainty_s,
        source=clock.source,
        confidence=clock.confidence,
        words=clock.words,
        event_uncertainty_s=event_uncertainty_s(frame_s, METHOD_UNCERTAINTY_S),
    )
    start = start_flag(following, workout.start, clock.time_s)
    seen_flags = [*([] if start is None else [start]), *lookalike_flags(following, reps)]
    return _scored(record, reps, workout, part, seen_flags)


def scored_again(record: AuditRecord) -> AuditRecord:
    """Score a record anew, e.g. after calls were changed by hand.

    Raises
    ------
    counting.workout.record.NoWorkoutError
        The audit followed no workout.
    """
    part = workout_part(record)
    reached = _rounds_reached(record.reps)
    slots = script(part.definition, rounds_to_write(part.definition, len(record.reps), reached))
    all_runs = runs(part.definition, slots)
    reps = placed(record.reps, runs_of(record.reps, slots, all_runs), slots, all_runs)
    kept = [flag for flag in part.flags if flag.kind in FROM_MOTION]
    return _scored(record, reps, part.definition, part.clock, kept)


def _scored(
    record: AuditRecord,
    reps: Sequence[RepPart],
    workout: Workout,
    clock: ClockPart,
    seen_flags: Sequence[FlagPart],
) -> AuditRecord:
    reached = _rounds_reached(reps)
    slots = script(workout, rounds_to_write(workout, len(reps), reached))
    all_runs = runs(workout, slots)
    run_of = runs_of(reps, slots, all_runs)
    moment_s = math.hypot(clock.uncertainty_s, clock.event_uncertainty_s)
    scored = [
        ScoredRep(
            number=rep.number,
            run=run,
            set=rep.set,
            clock_s=complete_s(rep) - clock.zero_s,
            uncertainty_s=moment_s,
            probability_good=rep.probability_good,
            undecided=rep.verdict in ("too close", "only counted"),
            only_counted=rep.verdict == "only counted",
        )
        for rep, run in zip(reps, run_of, strict=True)
    ]
    sheet = likely_sheet(workout, scored, reached)
    between_s = math.sqrt(2.0) * clock.event_uncertainty_s
    found = flags(
        workout, reps, slots, all_runs, sheet, clock.zero_s, between_s, record.athlete.lost
    )
    found = sorted([*seen_flags, *found], key=lambda flag: flag.at_s)
    kinds = [flag.kind for flag in found]
    seconds = (
        kinds.count("short rest") * workout.penalties.short_rest_s
        + ("wrong start" in kinds) * workout.penalties.wrong_start_s
    )
    part, sheet = score(workout, scored, seconds, reached)
    whole = WorkoutPart(
        definition=workout,
        clock=clock,
        score=part,
        stations=station_lines(reps, slots, sheet),
        flags=found,
        splits=splits(
            workout,
            reps,
            record.pauses,
            clock.zero_s,
            _stop_s(record, workout, clock, sheet.clock_s),
            {number for number, _ in sheet.counted},
        ),
    )
    return msgspec.structs.replace(record, reps=list(reps), start_s=clock.zero_s, workout=whole)


def _rounds_reached(reps: Sequence[RepPart]) -> int:
    return max((rep.round or 1 for rep in reps), default=1)


def _stop_s(
    record: AuditRecord, workout: Workout, clock: ClockPart, finish_s: float | None
) -> float | None:
    """Film time at which the clock stops: the finish, or time up within the film, else unknown."""
    if finish_s is not None:
        return clock.zero_s + finish_s
    cap_s = workout.time_cap_s
    if cap_s is not None and clock.zero_s + cap_s <= record.film.duration_s:
        return clock.zero_s + cap_s
    return None
