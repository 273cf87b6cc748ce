"""The stages of one audit in their order, from the film's file to the record and its tables."""

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from msgspec.structs import replace

from cli.continuity import continuity_of
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.landmarks import Landmarks, landmarks_of
from cli.pipeline import AuditRequest, Progress
from cli.versions import library_versions, tool_version
from counting.checks.judge import judge
from counting.checks.types import Judgement, RepVerdict
from counting.decision.conformance import Risk
from counting.movements.loader import (
    StandardsError,
    UnknownMovementError,
    built_in_movements,
    find_movement,
    load_movement,
)
from counting.movements.types import Movement
from counting.record.assembly import Counted, assemble
from counting.record.files import record_json
from counting.record.seal import sealed
from counting.record.tables import reps_csv, sets_csv
from counting.record.types import AuditRecord, VersionsPart
from counting.reps.types import Rep
from counting.sets.grouping import Grouped
from counting.sets.merging import PlacedRep, merged
from counting.signals.extraction import signals_of
from counting.timeline import Timeline, find_reps
from counting.workout.clock import ClockError, clock_zero
from counting.workout.countdown import find_start_signal
from counting.workout.file import WorkoutError, load_workout
from counting.workout.following import Following, follow
from counting.workout.limits import with_own_limits
from counting.workout.splits import splits_csv
from counting.workout.types import Workout, runs, script
from counting.workout.whole import with_workout
from vision.files import WriteError, write_whole
from vision.film.errors import FilmError
from vision.film.reading import read_film
from vision.film.types import Film
from vision.pose.bundle import ModelError
from vision.sound.reading import SoundError, read_sound
from vision.track import PoseTrack

RECORD_FILE: Final = "audit.json"
REPS_FILE: Final = "reps.csv"
SETS_FILE: Final = "sets.csv"
SPLITS_FILE: Final = "splits.csv"


def audit_in_stages(request: AuditRequest, progress: Progress) -> AuditRecord:
    """Run the audit that `cli.pipeline.audit_film` promises."""
    movements, workout = what_is_asked(request)
    try:
        film = read_film(request.film, request.limits)
        barbell = any(movements[name].apparatus == "barbell" for name in _done(movements, workout))
        landmarks = landmarks_of(film, request, progress, barbell=barbell)
        continuity = continuity_of(film, landmarks, progress)
    except (FilmError, ModelError, WriteError) as error:
        raise UserError(str(error), BAD_INPUT) from error
    if not landmarks.track.seen.any():
        raise UserError(
            f"{request.film}: no athlete was found between 0:00 and {film.duration_s:.0f} s; "
            "film the whole body, or narrow the picture with --lane",
            BAD_INPUT,
        )
    risk = Risk(request.met_at_least, request.not_met_at_most)
    if workout is None:
        (movement,) = movements.values()
        counted = _one_movement(landmarks.track, movement, risk)
        record = _record(film, landmarks, counted, request, movement.name, risk)
    else:
        record = _whole_workout(film, landmarks, movements, workout, request, risk)
    record = sealed(replace(record, continuity=continuity))
    _write(record, request.out)
    return record


def what_is_asked(request: AuditRequest) -> tuple[dict[str, Movement], Workout | None]:
    """Load the movements the request needs, by name, and its workout.

    Raises
    ------
    UserError
        The request contradicts itself, or a file it names cannot be used.
    """
    if (request.movement is None) == (request.workout is None):
        raise UserError("name either --movement or --workout, one of the two", WRONG_USAGE)
    try:
        if request.movement is not None:
            movement = find_movement(request.movement, request.standards)
            return {movement.name: movement}, None
        movements = {movement.name: movement for movement in built_in_movements()}
        if request.standards is not None:
            own = load_movement(request.standards)
            movements[own.name] = own
        assert request.workout is not None
        workout = load_workout(request.workout, movements)
        return with_own_limits(workout, movements), workout
    except UnknownMovementError as error:
        raise UserError(str(error), WRONG_USAGE) from error
    except (StandardsError, WorkoutError) as error:
        raise UserError(str(error), BAD_INPUT) from error


def _done(movements: dict[str, Movement], workout: Workout | None) -> set[str]:
    """Names of the movements that the request says are in the film."""
    if workout is None:
        return set(movements)
    return {run.movement for run in runs(workout, script(workout, 1))}


def _one_movement(track: PoseTrack, movement: Movement, risk: Risk) -> Counted:
    timeline = find_reps(track, movement)
    judgement = judge(track, timeline.reps, movement, risk)
    grouped = Grouped(timeline.sets, timeline.breaks, timeline.pauses)
    return Counted(
        reps=timeline.reps,
        verdicts=judgement.verdicts,
        grouped=grouped,
        judgements=(judgement,),
        signals=timeline.signals,
        driver=timeline.driver,
        driver_name=movement.cycle.driver,
    )


def _whole_workout(
    film: Film,
    landmarks: Landmarks,
    movements: dict[str, Movement],
    workout: Workout,
    request: AuditRequest,
    risk: Risk,
) -> AuditRecord:
    timelines: dict[str, Timeline] = {}

    def cut(track: PoseTrack, movement: Movement) -> Sequence[Rep]:
        timelines[movement.name] = find_reps(track, movement)
        return timelines[movement.name].reps

    warnings: list[str] = []
    try:
        sound = read_sound(film.path) if film.has_sound and request.start_s is None else None
    except SoundError as error:
        sound = None
        warnings.append(str(error))
    signal = None if sound is None else find_start_signal(sound)
    start_s = request.start_s if signal is None else signal.time_s
    following = follow(landmarks.track, workout, movements, cut, start_s)
    counted = _followed(landmarks.track, following, movements, timelines, risk)
    record = _record(film, landmarks, counted, request, None, risk)
    record = replace(record, warnings=[*record.warnings, *warnings])
    first_s = following.reps[0].rep.start_s if following.reps else None
    try:
        clock = clock_zero(request.start_s, signal, first_s)
    except ClockError as error:
        raise UserError(
            f"{request.film}: {error}; give the start by hand with --start", BAD_INPUT
        ) from error
    return with_workout(record, workout, following, clock)


def _followed(
    track: PoseTrack,
    following: Following,
    movements: dict[str, Movement],
    timelines: dict[str, Timeline],
    risk: Risk,
) -> Counted:
    """Judge each movement's reps on that movement's part of the track, then put them in order."""
    reps = tuple(item.rep for item in following.reps)
    verdicts: dict[int, RepVerdict] = {}
    judgements: list[Judgement] = []
    for name in dict.fromkeys(rep.movement for rep in reps):
        own = tuple(rep for rep in reps if rep.movement == name)
        judgement = judge(following.tracks[name], own, movements[name], risk)
        judgements.append(judgement)
        verdicts.update({verdict.number: verdict for verdict in judgement.verdicts})
    own_number = {
        (name, rep.turn_index): rep.number
        for name, timeline in timelines.items()
        for rep in timeline.reps
    }
    placed = [
        PlacedRep(item.rep, own_number[item.rep.movement, item.rep.turn_index], item.run)
        for item in following.reps
    ]
    grouped = merged(
        placed, {name: Grouped(t.sets, t.breaks, t.pauses) for name, t in timelines.items()}
    )
    return Counted(
        reps=reps,
        verdicts=tuple(verdicts[rep.number] for rep in reps),
        grouped=grouped,
        judgements=tuple(judgements),
        signals=signals_of(track),
        driver=None,
        driver_name="hip height",
    )


def _record(
    film: Film,
    landmarks: Landmarks,
    counted: Counted,
    request: AuditRequest,
    movement: str | None,
    risk: Risk,
) -> AuditRecord:
    standards = {} if request.standards is None else {"standards": _digest(request.standards)}
    workout = {} if request.workout is None else {"workout": _digest(request.workout)}
    return assemble(
        film,
        landmarks.track,
        counted,
        movement=movement,
        start_s=request.start_s,
        risk=risk,
        versions=VersionsPart(
            tool=tool_version(),
            model=Path(landmarks.model).name,
            model_sha256=landmarks.model_sha256,
            libraries=library_versions(),
            standards=standards | workout,
            extraction=landmarks.settings,
        ),
        landmarks_file=landmarks.file.name,
    )


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _write(record: AuditRecord, out: Path) -> None:
    """Write the tables first and the record last: a record on disk means a finished audit."""
    try:
        write_whole(out / REPS_FILE, reps_csv(record))
        write_whole(out / SETS_FILE, sets_csv(record))
        if record.workout is not None:
            write_whole(out / SPLITS_FILE, splits_csv(record))
        write_whole(out / RECORD_FILE, record_json(record))
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error
