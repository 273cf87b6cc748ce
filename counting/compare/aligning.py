"""Aligning two audit records by rep, and saying where time was gained or lost.

They may not be comparable: other standards, other views, other workouts are warned of.
"""

import bisect
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from counting.compare.types import CAUSES, Cause, Comparison, RepPair
from counting.record.scored import workout_part
from counting.record.types import AuditRecord, RepPart
from counting.workout.clock import event_uncertainty_s
from counting.workout.placing import complete_s, place_of
from counting.workout.splits import Span, visits_of
from counting.workout.whole import METHOD_UNCERTAINTY_S

_CAUSE_OF_KIND: Final[dict[str, Cause]] = {
    "work": "reps",
    "pause": "pauses",
    "break": "breaks",
    "transition": "transitions",
    "rest": "rest",
}

SAME_VIEW_DEG: Final = 20.0
"""Views closer than this see a joint much the same: cos 20 degrees is 0.94."""

SAME_RATE_HZ: Final = 5.0
"""A difference of frame rates below this is not worth a word: by eye, no source."""

Key = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class _Attempt:
    """Good reps by their key, the clock's zero, and what every moment was spent on."""

    zero_s: float
    zero_uncertainty_s: float
    good: dict[Key, RepPart]
    spans: list[Span]
    no_reps: list[tuple[float, float]]


def compare(first: AuditRecord, second: AuditRecord) -> Comparison:
    """Align two attempts.

    The n-th good rep at a place (of a movement, where no workout was followed) is the same rep in
    both. Between two aligned reps every moment of either clock has one cause, so that the causes
    add up to the difference.

    Parameters
    ----------
    first, second
        Audit records; a gain is a gain of the second.
    """
    one, other = _attempt(first), _attempt(second)
    shared = [key for key in one.good if key in other.good]
    pairs: list[RepPair] = []
    last_one, last_other = one.zero_s, other.zero_s
    for key in shared:
        rep, partner = one.good[key], other.good[key]
        until_one, until_other = complete_s(rep), complete_s(partner)
        spent_one = _spent(one, last_one, until_one)
        spent_other = _spent(other, last_other, until_other)
        place = place_of(rep) or (None, None, None)
        pairs.append(
            RepPair(
                movement=rep.movement,
                block=place[0],
                round=place[1],
                station=place[2],
                ordinal=int(str(key[-1])),
                first_s=until_one - one.zero_s,
                second_s=until_other - other.zero_s,
                gained_s={cause: spent_one[cause] - spent_other[cause] for cause in CAUSES},
            )
        )
        last_one, last_other = until_one, until_other
    return Comparison(
        pairs=tuple(pairs),
        only_first=_unpaired(one, other),
        only_second=_unpaired(other, one),
        uncertainty_s=math.hypot(_moment_s(first, one), _moment_s(second, other)),
        warnings=tuple(warnings_of(first, second)),
    )


def _attempt(record: AuditRecord) -> _Attempt:
    part = workout_part(record) if record.workout is not None else None
    if part is not None:
        zero_s, zero_uncertainty_s = part.clock.zero_s, part.clock.uncertainty_s
    else:
        first_s = record.reps[0].start_s if record.reps else 0.0
        zero_s = record.start_s if record.start_s is not None else first_s
        zero_uncertainty_s = METHOD_UNCERTAINTY_S
    visits = visits_of(part.definition if part else None, record.reps, record.pauses, zero_s)
    seen: Counter[Key] = Counter()
    good: dict[Key, RepPart] = {}
    for rep in record.reps:
        if rep.probability_good < 0.5 or complete_s(rep) < zero_s:
            continue
        place = (rep.movement, *(place_of(rep) or ()))
        seen[place] += 1
        good[*place, seen[place]] = rep
    return _Attempt(
        zero_s=zero_s,
        zero_uncertainty_s=zero_uncertainty_s,
        good=good,
        spans=[span for visit in visits for span in visit.spans],
        no_reps=[(r.start_s, r.end_s) for r in record.reps if r.probability_good < 0.5],
    )


def _spent(attempt: _Attempt, begin_s: float, end_s: float) -> dict[Cause, float]:
    """Seconds of each cause between two film times; negative where the second lies before."""
    if end_s < begin_s:
        return {cause: -value for cause, value in _spent(attempt, end_s, begin_s).items()}
    spent: dict[Cause, float] = dict.fromkeys(CAUSES, 0.0)
    covered_s = 0.0
    for span in attempt.spans[_first_after(attempt.spans, begin_s) :]:
        if span.start_s >= end_s:
            break
        from_s, to_s = max(span.start_s, begin_s), min(span.end_s, end_s)
        if to_s <= from_s:
            continue
        cause = _CAUSE_OF_KIND[span.kind]
        if cause == "reps":
            wasted_s = sum(
                max(0.0, min(to_s, stop_s) - max(from_s, start_s))
                for start_s, stop_s in attempt.no_reps
            )
            spent["no-reps"] += wasted_s
            spent["reps"] += to_s - from_s - wasted_s
        else:
            spent[cause] += to_s - from_s
        covered_s += to_s - from_s
    spent["breaks"] += (end_s - begin_s) - covered_s
    return spent


def _first_after(spans: Sequence[Span], time_s: float) -> int:
    return bisect.bisect_right([span.end_s for span in spans], time_s)


def _unpaired(one: _Attempt, other: _Attempt) -> tuple[int, ...]:
    return tuple(rep.number for key, rep in one.good.items() if key not in other.good)


def _moment_s(record: AuditRecord, attempt: _Attempt) -> float:
    frame_s = 1.0 / record.film.frame_rate_mean_hz
    return math.hypot(
        attempt.zero_uncertainty_s, event_uncertainty_s(frame_s, METHOD_UNCERTAINTY_S)
    )


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
