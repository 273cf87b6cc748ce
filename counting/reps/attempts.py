"""From a film's phases to attempts: where each begins, turns and ends, and how far it went."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from counting.movements.meaning import parting
from counting.movements.types import Measure, Movement, Phase, Range
from counting.reps.decoding import Segment, decode
from counting.reps.measures import MEASURES
from counting.reps.strokes import stroke_to_halt
from counting.reps.types import Cycle, Extent, PhaseSeen
from counting.signals.percentiles import percentile
from counting.signals.types import Signals
from vision.track import FloatArray

_HALF_WAY: Final = 0.5
"""Share of the way back before which a halt is a sticking point."""
_START_TOLERANCE: Final = 0.25
"""Of the way back: so near to the start position a halt is in it."""
_NEAR_S: Final = 0.5
"""Of the start position, beside an attempt, that its level is taken from; these three are chosen,
not measured."""
_STEADY_S: Final = 0.1
"""The far end of a measure is its third value or so: a single one is the noise's."""

_LEFT_S: Final = 0.7
"""A start position left for longer is left on purpose, and no slip of the landmarks."""

_ABOUT_S: Final = 0.15
"""Around a phase in which its far end may lie: borders between phases are blurred."""
_CUT_OFF_S: Final = 1.0
"""A film that ends so soon after the last phase cut a repetition off; later, nobody came back."""


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt: its cycle, and its phases without the start position."""

    cycle: Cycle
    phases: tuple[PhaseSeen, ...]


def attempts_of(signals: Signals, movement: Movement) -> list[Attempt]:
    """Find all attempts of a movement that is described by phases, in film order.

    An attempt leaves the start position and comes back to it after at least one other phase. Phases
    that it left out are listed with it, and how near it came to them.
    """
    found = decode(signals, movement.phases)
    groups = _groups(found, movement, signals.time_s.size, signals.rate_hz)
    attempts = [_attempt(signals, movement, group) for group in groups]
    for place, (last, group) in enumerate(pairwise(groups), start=1):
        if _left_between(last, group) >= _LEFT_S * signals.rate_hz:
            one = attempts[place]
            attempts[place] = replace(one, cycle=replace(one.cycle, anew=True))
    return attempts


def _left_between(last: "_Group", group: "_Group") -> int:
    """Count samples from leaving the start position after an attempt to taking it again."""
    return group.before.first - last.after.end if last.after is not None else 0


@dataclass(frozen=True, slots=True)
class _Group:
    """The start position, other phases, and it again; None where the film ends first."""

    before: Segment
    between: tuple[Segment, ...]
    after: Segment | None


def _groups(
    found: Sequence[Segment], movement: Movement, samples: int, rate_hz: float
) -> list[_Group]:
    """Give the attempts among phases; one given up, or cut off by the film's end, is none."""
    starts = [index for index, segment in enumerate(found) if segment.phase == 0]
    groups = []
    for place, index in enumerate(starts):
        next_start = starts[place + 1] if place + 1 < len(starts) else None
        between = tuple(found[index + 1 : next_start])
        if not between:
            continue
        after = None if next_start is None else found[next_start]
        if after is None:
            to_the_end_s = (samples - between[-1].end) / rate_hz
            whole = between[-1].phase == len(movement.phases) - 1
            if not (whole and to_the_end_s <= _CUT_OFF_S):
                continue
        elif after.anew:
            continue
        groups.append(_Group(found[index], between, after))
    return groups


def _attempt(signals: Signals, movement: Movement, group: _Group) -> Attempt:
    phases = movement.phases
    turning = next((s for s in group.between if s.phase == movement.turn), group.between[0])
    turn = _far_end(signals, phases[turning.phase], turning)
    start, start_s = _left_start(signals, phases, group)
    end, end_s = _back_at_start(signals, phases, group)
    driver = start_driver(signals, movement)
    swing = driver[start : end + 1]
    known = swing[np.isfinite(swing)]
    cycle = Cycle(
        turn=turn,
        start=start,
        end=end,
        start_s=start_s,
        turn_s=float(signals.time_s[turn]),
        end_s=end_s,
        size=float(np.ptp(known)) if known.size else 0.0,
    )
    seen = {segment.phase: segment for segment in group.between}
    return Attempt(
        cycle,
        tuple(
            _phase_seen(signals, phase, seen.get(k), slice(start, end + 1))
            for k, phase in enumerate(phases)
            if k
        ),
    )


def start_driver(signals: Signals, movement: Movement) -> FloatArray:
    """(M,) the measure that says most of the start position; on a bar the shoulders' height."""
    if movement.base == "hanging":
        return signals.shoulder
    return MEASURES[next(iter(movement.phases[0].where))](signals)


def _side(span: Range) -> float:
    """1 where a phase lies at the upper end of a measure, -1 at the lower one."""
    return 1.0 if span.above is not None and span.below is None else -1.0


def _far_end(signals: Signals, phase: Phase, segment: Segment) -> int:
    measure, span = next(iter(phase.where.items()))
    values = _side(span) * MEASURES[measure](signals)[segment.first : segment.end]
    if not np.isfinite(values).any():
        return (segment.first + segment.end - 1) // 2
    top = values >= np.nanmax(values) - 0.002
    return segment.first + int(np.median(np.flatnonzero(top)))


def _away(signals: Signals, start_position: Phase, other: Phase) -> FloatArray:
    """(M,) how far the start position's own measure is from there, larger further away.

    That by which it is told from the phase next to it: with the ball overhead the hips are where
    they are with the ball before the chest, the hands are not.
    """
    measure, span = next(
        (own for own in start_position.where.items() if own[0] in parting(start_position, other)),
        next(iter(start_position.where.items())),
    )
    values = -_side(span) * MEASURES[measure](signals)
    known = np.flatnonzero(np.isfinite(values))
    if not known.size:
        return np.zeros(values.shape)
    return np.interp(np.arange(values.size), known, values[known])


def _left_start(signals: Signals, phases: Sequence[Phase], group: _Group) -> tuple[int, float]:
    """Sample and time at which the body left the start position."""
    away = _away(signals, phases[0], phases[group.between[0].phase])
    begin, last = group.before.first, group.before.end - 1
    far = last + int(np.argmax(away[last : group.between[0].end]))
    level = _level(away[max(begin, last - round(_NEAR_S * signals.rate_hz)) : last + 1])
    index, foot = _stroke(away[begin : far + 1][::-1], level, signals.rate_hz)
    start_s = float(signals.time_s[far]) - foot
    return far - index, max(start_s, float(signals.time_s[begin]))


def _back_at_start(signals: Signals, phases: Sequence[Phase], group: _Group) -> tuple[int, float]:
    """Sample and time at which the body was back; the last phase's end where the film ends."""
    last = group.between[-1]
    if group.after is None:
        return last.end - 1, float(signals.time_s[last.end - 1])
    away = _away(signals, phases[0], phases[last.phase])
    first, until = group.after.first, group.after.end - 1
    far = last.first + int(np.argmax(away[last.first : first + 1]))
    level = _level(away[first : min(until, first + round(_NEAR_S * signals.rate_hz)) + 1])
    index, foot = _stroke(away[far : until + 1], level, signals.rate_hz)
    return far + index, min(float(signals.time_s[far]) + foot, float(signals.time_s[until]))


def _level(start_position: FloatArray) -> float:
    """Usual level of the start position next to an attempt."""
    return percentile(start_position, 20)


def _stroke(outward: FloatArray, level: float, rate_hz: float) -> tuple[int, float]:
    """Measure samples and seconds from the far end of a measure to the halt near the start."""
    whole = float(outward[0]) - level
    if whole <= 0.0:
        return 0, 0.0
    start_position = (level, _START_TOLERANCE * whole)
    stroke = stroke_to_halt(outward, rate_hz, _HALF_WAY * whole, start_position)
    return stroke.halt_index, stroke.onset_s


def _phase_seen(
    signals: Signals, phase: Phase, segment: Segment | None, attempt: slice
) -> PhaseSeen:
    if segment is None:
        return PhaseSeen(phase.name, None, None, _nearest(signals, phase, attempt))
    about = round(_ABOUT_S * signals.rate_hz)
    rows = slice(max(0, segment.first - about), segment.end + about)
    found = []
    for measure, asked, at_least in _sides(phase.reach):
        value = _steadily(_margin(signals, measure, asked, at_least, rows), signals.rate_hz)[1]
        if np.isfinite(value):
            found.append(Extent(measure, asked + value * (1 if at_least else -1), asked, at_least))
    return PhaseSeen(
        phase.name,
        first_s=float(signals.time_s[segment.first]),
        last_s=float(signals.time_s[segment.end - 1]),
        extents=tuple(found),
    )


def _nearest(signals: Signals, phase: Phase, attempt: slice) -> tuple[Extent, ...]:
    """Give how near an attempt came to a phase that it left out: the range it missed by most.

    At the moment when all of the phase was nearest to being true at once.
    """
    sides = _sides(phase.where)
    margins = np.stack([_margin(signals, *side, attempt) for side in sides])
    index, value = _steadily(margins.min(axis=0), signals.rate_hz)
    if not np.isfinite(value):
        return ()
    worst = int(np.argmin(margins[:, index]))
    measure, asked, at_least = sides[worst]
    reached = asked + float(margins[worst, index]) * (1 if at_least else -1)
    return (Extent(measure, reached, asked, at_least),)


def _sides(ranges: Mapping[Measure, Range]) -> list[tuple[Measure, float, bool]]:
    """Each border of some ranges: measure, level, and whether it has to be above."""
    borders = [(m, span.above, True) for m, span in ranges.items()]
    borders += [(m, span.below, False) for m, span in ranges.items()]
    return [(m, level, at_least) for m, level, at_least in borders if level is not None]


def _margin(
    signals: Signals, measure: Measure, asked: float, at_least: bool, rows: slice
) -> FloatArray:
    """How far a measure is on the side of a border that is asked, NaN where unseen."""
    values = MEASURES[measure](signals)[rows]
    return values - asked if at_least else asked - values


def _steadily(values: FloatArray, rate_hz: float) -> tuple[int, float]:
    """Place and size of the largest value that is no single one; NaN where nothing was seen."""
    known = np.flatnonzero(np.isfinite(values))
    if not known.size:
        return 0, float("nan")
    order = known[np.argsort(values[known])]
    place = int(order[-min(max(1, round(_STEADY_S * rate_hz)), order.size)])
    return place, float(values[place])
