"""The workout's part of a record, where there is one."""

from counting.record.parts import TIMES_UNKNOWN
from counting.record.types import AuditRecord
from counting.workout.record import WorkoutPart


class NoWorkoutError(ValueError):
    """An audit record that followed no workout."""


def workout_part(record: AuditRecord) -> WorkoutPart:
    """Give the workout's part of a record.

    Raises
    ------
    NoWorkoutError
        The audit followed no workout, or the film tells no time.
    """
    if not record.film.times_known:
        raise NoWorkoutError(f"no score: {TIMES_UNKNOWN}")
    if record.workout is None:
        raise NoWorkoutError("the audit followed no workout; run it again with --workout FILE")
    return record.workout
