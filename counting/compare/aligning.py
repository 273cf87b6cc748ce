"""Aligning two audit records by rep, and saying where time was gained or lost."""

import bisect
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from counting.compare.comparable import warnings_of
from counting.compare.types import CAUSES, Cause, Comparison, RepPair
from counting.record.types import AuditRecord, RepPart
from counting.workout.clock import event_uncertainty_s
from counting.workout.record import workout_part
from counting.workout.splits import Span, complete_s, place_of, visits_of
from counting.workout.whole import METHOD_UNCERTAINTY_S

_CAUSE_OF_KIND: Final[dict[str, Cause]] = {
    "work": "reps",
    "pause": "pauses",
    "break": "breaks",
    "transition": "transitions",
    "rest": "rest",
}

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
                first_number=rep.number,
                second_number=partner.number,
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
