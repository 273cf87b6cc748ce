"""The stages of one audit in their order, from the film's file to the record and its tables."""

import contextlib
import importlib
import threading
from typing import TYPE_CHECKING, Final

from cli.audit.film_facts import films_of
from cli.audit.kept import drop_outdated
from cli.audit.request import Asked, AuditRequest, Progress
from cli.audit.seen import seen_of
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from counting.movements.loader import (
    StandardsError,
    UnknownMovementError,
    known_movements,
    movement_named,
)
from counting.record.files import record_json
from counting.record.seal import sealed
from counting.record.tables import reps_csv, sets_csv
from counting.record.types import AuditRecord
from counting.workout.beyond_film import cannot_be_followed, with_own_limits
from counting.workout.file import WorkoutError, load_workout
from counting.workout.splits import splits_csv
from vision.files import WriteError, write_whole
from vision.film.errors import FilmError
from vision.pose.bundle import ModelError
from vision.reader import ReaderError

if TYPE_CHECKING:
    from cli.audit.second_view import SecondView

RECORD_FILE: Final = "audit.json"
REPS_FILE: Final = "reps.csv"
SETS_FILE: Final = "sets.csv"
SPLITS_FILE: Final = "splits.csv"
MOST_VIEWS: Final = 3
"""Further films of one attempt: each costs as much as the first (no source)."""


def audit_film(request: AuditRequest, progress: Progress) -> AuditRecord:
    """Audit one film and write its outputs into ``request.out``, each whole or not at all.

    Raises
    ------
    cli.errors.UserError
        The film cannot be read, holds no athlete, or the request contradicts itself.
    """
    asked = what_is_asked(request)
    try:
        films = films_of(request)
        # Nothing waits for it: an import that fails does so again below, where it is told.
        threading.Thread(target=_load_judging, daemon=True).start()
        seen = seen_of(films[0], request, progress, barbell=asked.barbell)
        views: tuple[SecondView, ...] = ()
        if len(films) > 1:
            from cli.audit.second_view import second_views_of

            views = second_views_of(request, seen, films[1:], progress, barbell=asked.barbell)
        if not any(one.track.seen.any() for one in (seen, *(view.seen for view in views))):
            raise UserError(
                f"{request.film}: no athlete was found between 0:00 and "
                f"{seen.film.duration_s:.0f} s; film the whole body, or narrow the picture with "
                "--lane",
                BAD_INPUT,
            )
        from cli.audit.assess import record_of

        record = sealed(record_of(seen, asked, request, views, progress))
        # A record on disk means a finished audit: the tables come first.
        write_whole(request.out / REPS_FILE, reps_csv(record))
        write_whole(request.out / SETS_FILE, sets_csv(record))
        if record.workout is not None:
            write_whole(request.out / SPLITS_FILE, splits_csv(record))
        write_whole(request.out / RECORD_FILE, record_json(record))
    except (FilmError, ModelError, ReaderError, WriteError) as error:
        raise UserError(str(error), BAD_INPUT) from error
    drop_outdated(request.out)
    return record


def _load_judging() -> None:
    with contextlib.suppress(ImportError):
        importlib.import_module("cli.audit.assess")


def what_is_asked(request: AuditRequest) -> Asked:
    """Read the files that a request names, before any film is looked at.

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
    if len(request.second_views) > MOST_VIEWS:
        raise UserError(f"--second-view: {MOST_VIEWS} further films at most", WRONG_USAGE)
    if request.second_views and request.tuned is not None:
        raise UserError(
            "give --tuned or --second-view, not both: people's calls teach the error of one film",
            WRONG_USAGE,
        )
    try:
        movements = known_movements(request.standards)
        workout = None
        if request.movement is not None:
            movement = movement_named(request.movement, movements)
            movements, done = {movement.name: movement}, {movement.name}
        else:
            assert request.workout is not None
            workout = load_workout(request.workout, movements, request.variant)
            reason = cannot_be_followed(workout)
            if reason is not None:
                raise WorkoutError(f"{request.workout}: {reason}")
            movements = with_own_limits(workout, movements)
            done = workout.counted_movements
    except UnknownMovementError as error:
        raise UserError(str(error), WRONG_USAGE) from error
    except (StandardsError, WorkoutError) as error:
        raise UserError(str(error), BAD_INPUT) from error
    tuned = None
    if request.tuned is not None:
        from counting.checks.tuning import TuningError, load_tuning

        try:
            tuned = load_tuning(request.tuned)
        except TuningError as error:
            raise UserError(str(error), BAD_INPUT) from error
    barbell = any(movements[name].apparatus == "barbell" for name in done)
    return Asked(movements, workout, tuned, barbell)
