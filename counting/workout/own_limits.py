"""A workout's own limits, put into the movements' standards."""

from collections.abc import Mapping

import msgspec

from counting.movements.types import Movement
from counting.workout.file import WorkoutError
from counting.workout.types import Workout


def with_own_limits(workout: Workout, movements: Mapping[str, Movement]) -> dict[str, Movement]:
    """Replace the limits that the workout's stations name; other movements stay as they are.

    Raises
    ------
    WorkoutError
        A station names a check that its movement's standard does not have.
    """
    changed = dict(movements)
    for block in workout.blocks:
        for station in block.counted_stations:
            movement = changed[station.movement]
            known = [check.name for check in movement.checks]
            known += [check.name for check in movement.objects]
            for name in station.limits:
                if name not in known:
                    raise WorkoutError(
                        f"workout {workout.name!r}: the standard of {movement.name!r} has no check "
                        f"{name!r}; it has: {', '.join(known)}"
                    )
            changed[station.movement] = msgspec.structs.replace(
                movement,
                checks=tuple(
                    msgspec.structs.replace(
                        check, limit=station.limits.get(check.name, check.limit)
                    )
                    for check in movement.checks
                ),
                objects=tuple(
                    msgspec.structs.replace(
                        check, limit=station.limits.get(check.name, check.limit)
                    )
                    for check in movement.objects
                ),
            )
    return changed
