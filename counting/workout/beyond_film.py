"""What an audit of one athlete's film makes of a workout: its own limits, and what is beyond it."""

from collections.abc import Mapping

import msgspec

from counting.movements.types import Movement
from counting.workout.file import WorkoutError
from counting.workout.types import Station, Workout


def cannot_be_followed(workout: Workout) -> str | None:
    """Say why a workout cannot be followed on one film at all; None where it can be."""
    if workout.athletes > 1:
        return (
            f"{workout.name!r} is shared by {workout.athletes} athletes, and an audit follows one: "
            "nobody can tell from one athlete's film which reps the others did; audit each "
            "athlete's film with --movement, or write down what this athlete alone has to do"
        )
    return None


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


def left_to_judges(workout: Workout) -> list[str]:
    """Say what an audit leaves open although it follows the workout."""
    stations = [station for block in workout.blocks for station in block.stations]
    timed = list(dict.fromkeys(timed_words(station) for station in stations if station.timed))
    told = []
    if timed:
        told.append(
            f"not judged, and told as time between stations: {', '.join(timed)}; "
            "see to it by other means that it was done whole"
        )
    if any(station.alternating for station in stations):
        told.append("whether the sides took turns is not checked")
    if workout.penalty_reps is not None:
        told.append(
            f"whether the {workout.penalty_reps.reps} reps of {workout.penalty_reps.movement} "
            f"after every {workout.penalty_reps.after} were done is not checked"
        )
    if workout.scoring == "maximum load":
        told.append("loads are those of the workout file, attempt by attempt; no film shows them")
    return told


def timed_words(station: Station) -> str:
    """Name work without reps: ``500 m row``, ``20 calories row``, ``60 s plank``."""
    if station.distance_m is not None:
        return f"{station.distance_m:g} m {station.movement}"
    if station.calories is not None:
        return f"{station.calories:g} calories {station.movement}"
    return f"{station.hold_s or 0.0:g} s {station.movement}"
