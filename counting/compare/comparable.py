"""Why two audits may not be comparable: other standards, other views, other workouts."""

from typing import Final

from counting.record.types import AuditRecord
from counting.workout.record import workout_part

SAME_VIEW_DEG: Final = 20.0
"""Views closer than this see a joint much the same: cos 20 degrees is 0.94."""

SAME_RATE_HZ: Final = 5.0


def warnings_of(first: AuditRecord, second: AuditRecord) -> list[str]:
    """List what differs between two audits and can move a call or a time."""
    return [
        *_standards(first, second),
        *_views(first, second),
        *_workouts(first, second),
        *_settings(first, second),
    ]


def _standards(first: AuditRecord, second: AuditRecord) -> list[str]:
    one, other = _limits(first), _limits(second)
    return [
        f"the standards differ: {movement}, {check}: limit {one[key]:g} against {other[key]:g}"
        for key in sorted(one.keys() & other.keys())
        for movement, check in [key]
        if one[key] != other[key]
    ]


def _limits(record: AuditRecord) -> dict[tuple[str, str], float]:
    return {(rep.movement, check.name): check.limit for rep in record.reps for check in rep.checks}


def _views(first: AuditRecord, second: AuditRecord) -> list[str]:
    one, other = first.camera.view_deg, second.camera.view_deg
    if one is None or other is None:
        unknown = "first" if one is None else "second"
        return [f"the view of the {unknown} film is unknown: calls may differ for that alone"]
    apart = abs((one - other + 180.0) % 360.0 - 180.0)
    if apart <= SAME_VIEW_DEG:
        return []
    return [
        f"the views differ: {one:.0f} against {other:.0f} degrees from the front; "
        "calls may differ for that alone"
    ]


def _workouts(first: AuditRecord, second: AuditRecord) -> list[str]:
    if first.workout is None and second.workout is None:
        moves = ({rep.movement for rep in first.reps}, {rep.movement for rep in second.reps})
        return [] if moves[0] & moves[1] else ["the attempts share no movement"]
    if first.workout is None or second.workout is None:
        return ["only one of the audits followed a workout: reps may not be aligned"]
    one, other = workout_part(first), workout_part(second)
    found = []
    if one.definition.blocks != other.definition.blocks:
        found.append(
            f"the workouts differ: {one.definition.name!r} against {other.definition.name!r}"
        )
    if one.clock.source != other.clock.source:
        found.append(
            f"the clocks start differently: {one.clock.source} against {other.clock.source}"
        )
    return found


def _settings(first: AuditRecord, second: AuditRecord) -> list[str]:
    found = []
    if first.risk != second.risk:
        found.append("the calls were made with different decision rules")
    if first.versions.tool != second.versions.tool:
        found.append(
            f"made by different versions: {first.versions.tool} against {second.versions.tool}"
        )
    if first.versions.model_sha256 != second.versions.model_sha256:
        found.append("the athlete was seen through different pose models")
    rates = (first.film.frame_rate_mean_hz, second.film.frame_rate_mean_hz)
    if abs(rates[0] - rates[1]) > SAME_RATE_HZ:
        found.append(f"the frame rates differ: {rates[0]:.0f} against {rates[1]:.0f} a second")
    return found
