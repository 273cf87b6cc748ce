"""The stages of one audit in their order, from the film's file to the record and its tables."""

import contextlib
import importlib
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Final

from msgspec.structs import replace

from cli.audit.continuity import continuity_of, unwatched
from cli.audit.film_facts import film_of
from cli.audit.kept import drop_outdated
from cli.audit.landmarks import landmarks_of
from cli.audit.request import AuditRequest, Progress
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from counting.movements.loader import (
    StandardsError,
    UnknownMovementError,
    known_movements,
    movement_named,
)
from counting.movements.types import Movement
from counting.record.files import record_json
from counting.record.seal import sealed
from counting.record.tables import reps_csv, sets_csv
from counting.record.types import AuditRecord
from counting.workout.beyond_film import cannot_be_followed
from counting.workout.file import WorkoutError, load_workout
from counting.workout.own_limits import with_own_limits
from counting.workout.splits import splits_csv
from counting.workout.types import Workout, runs, script
from vision.files import WriteError, write_whole
from vision.film.errors import FilmError
from vision.pose.bundle import ModelError
from vision.reader import ReaderError

if TYPE_CHECKING:
    from cli.audit.second_view import SecondView
    from vision.film.types import Film

RECORD_FILE: Final = "audit.json"
REPS_FILE: Final = "reps.csv"
SETS_FILE: Final = "sets.csv"
SPLITS_FILE: Final = "splits.csv"


def audit_film(request: AuditRequest, progress: Progress) -> AuditRecord:
    """Audit one film and write its outputs into ``request.out``, each whole or not at all.

    Raises
    ------
    cli.errors.UserError
        The film cannot be read, holds no athlete, or the request contradicts itself.
    """
    movements, workout = what_is_asked(request)
    if request.tuned is not None:
        from cli.audit.judging import tuning_of

        tuning_of(request)  # what is wrong with the file is said before the film is looked at
    try:
        film = film_of(request)
        further: tuple[Film, ...] = ()
        if request.second_views:
            from cli.audit.second_view import further_films_of

            further = further_films_of(request, film)
        # Nothing waits for it: an import that fails does so again below, where it is told.
        threading.Thread(target=_load_judging, daemon=True).start()
        barbell = any(movements[name].apparatus == "barbell" for name in _done(movements, workout))
        landmarks = landmarks_of(film, request, progress, barbell=barbell)
        continuity = continuity_of(film, landmarks, progress)
        views: tuple[SecondView, ...] = ()
        if further:
            from cli.audit.second_view import second_views_of

            first = (film, landmarks, continuity)
            views = second_views_of(request, first, further, progress, barbell=barbell)
    except (FilmError, ModelError, ReaderError, WriteError) as error:
        raise UserError(str(error), BAD_INPUT) from error
    seen = [landmarks, *(view.landmarks for view in views)]
    if not any(one.track.seen.any() for one in seen):
        raise UserError(
            f"{request.film}: no athlete was found between 0:00 and {film.duration_s:.0f} s; "
            "film the whole body, or narrow the picture with --lane",
            BAD_INPUT,
        )
    from cli.audit.assess import record_of

    try:
        record = record_of(film, landmarks, movements, workout, request, views, progress)
    except (FilmError, WriteError) as error:
        raise UserError(str(error), BAD_INPUT) from error
    warnings = [*record.warnings, *unwatched(film, continuity)]
    record = sealed(replace(record, continuity=continuity, warnings=warnings))
    _write(record, request.out)
    drop_outdated(request.out)
    return record


def _load_judging() -> None:
    with contextlib.suppress(ImportError):
        importlib.import_module("cli.audit.assess")


def what_is_asked(request: AuditRequest) -> tuple[dict[str, Movement], Workout | None]:
    """Load the movements the request needs, by name, and its workout.

    Raises
    ------
    UserError
        The request contradicts itself, or a file it names cannot be used.
    """
    if (request.movement is None) == (request.workout is None):
        both = request.movement is not None
        words = "give --movement or --workout"
        raise UserError(f"{words}, not both" if both else words, WRONG_USAGE)
    if request.variant is not None and request.workout is None:
        raise UserError("--variant belongs to --workout", WRONG_USAGE)
    try:
        movements = known_movements(request.standards)
        if request.movement is not None:
            movement = movement_named(request.movement, movements)
            return {movement.name: movement}, None
        assert request.workout is not None
        workout = load_workout(request.workout, movements, request.variant)
        reason = cannot_be_followed(workout)
        if reason is not None:
            raise WorkoutError(f"{request.workout}: {reason}")
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
