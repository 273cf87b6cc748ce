"""Where one repetition ends and the next begins.

Back in the start position an athlete may stand or hang still for a moment, swing straight into
the next repetition, or rest. Between repetitions done in one go the end of the first is the start
of the next; the still moment between them is shared as the movement's standard says. An athlete
who swings has no still moment: there the lowest point of the swing parts the two. The last
repetition before a rest ends after the athlete's own usual still moment.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from counting.movements.types import Movement
from counting.reps.candidates import jitter
from counting.reps.types import Cycle
from counting.signals.filtering import dual_pass, speed
from counting.signals.percentiles import percentile
from counting.signals.resampling import stretches
from counting.signals.types import Signals
from vision.track import FloatArray

_STILL_CUTOFF_HZ: Final = 3.0
"""Of the low-pass before speeds are taken: slower than jitter, faster than a step (chosen, not
measured)."""
_MOVING_PER_S: Final = 0.25
"""Statures a second from which a body part moves rather than jitters: about 0.4 m/s."""

_KIP_STILL_S: Final = 0.2
"""A swing turns about in less time than this."""

_LONGEST_KIP_CYCLES: Final = 2.5
"""A swing into the next repetition lasts at most so many times the pull and the way down."""

_KIP_SWING: Final = 0.095
"""Swing of the feet, in statures, that hanging still does not show: some 16 cm."""

_MOSTLY_STILL: Final = 0.5
"""Share of the time between two repetitions for which no swinging body is still; feet that are late
on the way down travel, too."""

_OVER_JITTER: Final = 9.0
"""A swing of hidden feet has to stand out of their jitter so many times."""

_RISEN: Final = 0.006
"""Rise of the shoulders, in statures, that shows that a swing has passed its lowest point."""

_USUAL_STILL_SHARE: Final = 0.08
"""Still share of a cycle assumed where a film holds no two repetitions in one go."""

_LONGEST_HANDOVER_S: Final = 0.6
_LONGEST_OF_USUAL: Final = 2.5
_LONGEST_OF_CYCLE: Final = 0.25
"""A wait parts two reps where it is longer than all of these: seconds, usual waits (but no cycle),
and cycles (no source)."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Time between the end of one cycle's motion and the beginning of the next one's.

    ``left`` says that the start position was left in it; ``still_s`` is the longest stretch in it
    in which the body did not move, ``feet_swing`` how far the feet swung in it, in statures.
    """

    arrive_s: float
    leave_s: float
    still_s: float
    feet_swing: float
    left: bool

    @property
    def length_s(self) -> float:
        """Seconds in all."""
        return self.leave_s - self.arrive_s


def hand_over(
    signals: Signals, movement: Movement, driver: FloatArray, cycles: list[Cycle]
) -> list[Cycle]:
    """Give every cycle its whole time, from start position to start position.

    ``driver`` is the signal, (M,), that the cycles swing in.
    """
    if not cycles:
        return []
    motion = _body_speed(signals)
    cycle_s = float(np.median([cycle.end_s - cycle.start_s for cycle in cycles]))
    gaps = [_gap(signals, motion, before, after) for before, after in pairwise(cycles)]
    kips = movement.base == "hanging" and _kips(signals, gaps, cycle_s)
    borders = _borders(signals, movement, driver, gaps, cycle_s, kips)
    after_s, before_s = _usual_rest(cycles, borders, movement.still_share, cycle_s)
    first_s, last_s = float(signals.time_s[0]), float(signals.time_s[-1])
    done = []
    for left, cycle, right, gap in zip(
        [None, *borders], cycles, [*borders, None], [*gaps, None], strict=True
    ):
        start_s = cycle.start_s - before_s if left is None else left
        if left is None and movement.base == "hanging" and not any(borders):
            start_s = min(start_s, _swing_begins_s(signals, motion, cycle))
        end_s = cycle.end_s + after_s if right is None else right
        if right is None and gap is not None:
            end_s = min(end_s, gap.leave_s)
        done.append(
            replace(
                cycle,
                start_s=max(min(start_s, cycle.turn_s), first_s),
                end_s=min(max(end_s, cycle.turn_s), last_s),
            )
        )
    return done


def _gap(signals: Signals, motion: FloatArray, before: Cycle, after: Cycle) -> Gap:
    first, last = before.end, max(after.start, before.end)
    still = stretches(motion[first : last + 1] <= _MOVING_PER_S)
    longest = max((end - begin for begin, end in still), default=0)
    rise, drift = (
        _travel(signals.ankle[first : last + 1]),
        _travel(signals.ankle_x[first : last + 1]),
    )
    swing = float(np.hypot(rise, drift))
    return Gap(before.end_s, after.start_s, longest / signals.rate_hz, swing, after.anew)


def _travel(values: FloatArray) -> float:
    """Way between a signal's ends, without its outermost tenths; 0 where unseen."""
    known = values[np.isfinite(values)]
    return percentile(known, 90) - percentile(known, 10) if known.size else 0.0


def _kips(signals: Signals, gaps: list[Gap], cycle_s: float) -> bool:
    """Whether the athlete swings from one repetition into the next rather than hangs still."""
    short = [gap for gap in gaps if 0 < gap.length_s <= _LONGEST_KIP_CYCLES * cycle_s]
    if not short:
        return False
    if float(np.median([gap.still_s / gap.length_s for gap in short])) > _MOSTLY_STILL:
        return False
    noise = max(jitter(feet, signals.rate_hz) for feet in (signals.ankle, signals.ankle_x))
    least = max(_KIP_SWING, _OVER_JITTER * noise)
    return float(np.median([gap.feet_swing for gap in short])) > least


def _borders(
    signals: Signals,
    movement: Movement,
    driver: FloatArray,
    gaps: list[Gap],
    cycle_s: float,
    kips: bool,
) -> list[float | None]:
    """When each repetition hands over to the next; None where a rest lies between them."""
    if not gaps:
        return []
    waits_s = [gap.still_s if kips else gap.length_s for gap in gaps]
    usual = [wait_s for wait_s, gap in zip(waits_s, gaps, strict=True) if not gap.left]
    longest_s = max(
        _LONGEST_HANDOVER_S,
        min(_LONGEST_OF_USUAL * float(np.median(usual or waits_s)), cycle_s),
        _LONGEST_OF_CYCLE * cycle_s,
    )
    borders: list[float | None] = []
    for gap, wait_s in zip(gaps, waits_s, strict=True):
        if (
            gap.left
            or wait_s > longest_s
            or (kips and gap.length_s > _LONGEST_KIP_CYCLES * cycle_s)
        ):
            borders.append(None)
        elif kips:
            borders.append(_lowest_s(signals, driver, gap))
        else:
            borders.append(gap.arrive_s + movement.still_share * gap.length_s)
    return borders


def _lowest_s(signals: Signals, driver: FloatArray, gap: Gap) -> float:
    """When the driver first stops falling after the arrival."""
    time_s = signals.time_s
    reach = np.flatnonzero((time_s >= gap.arrive_s - _KIP_STILL_S) & (time_s <= gap.leave_s))
    level = driver[reach]
    if not np.isfinite(level).any():
        return gap.arrive_s
    lowest = np.fmin.accumulate(level)
    risen = np.flatnonzero(level > lowest + _RISEN)
    fall = level[: int(risen[0])] if risen.size else level
    return float(time_s[reach[np.nanargmin(fall)]])


def _usual_rest(
    cycles: list[Cycle], borders: list[float | None], share: float, cycle_s: float
) -> tuple[float, float]:
    """Usual seconds of this athlete in the start position after and before a cycle's motion."""
    known = [
        (border - before.end_s, after.start_s - border)
        for border, (before, after) in zip(borders, pairwise(cycles), strict=True)
        if border is not None
    ]
    if known:
        after_s, before_s = np.median(np.array(known), axis=0)
        return max(float(after_s), 0.0), max(float(before_s), 0.0)
    still_s = _USUAL_STILL_SHARE * cycle_s
    return share * still_s, (1 - share) * still_s


def _swing_begins_s(signals: Signals, motion: FloatArray, cycle: Cycle) -> float:
    """When the body, after hanging still, began to swing into a cycle that follows no other."""
    reach = int(_LONGEST_KIP_CYCLES * (cycle.end_s - cycle.start_s) * signals.rate_hz)
    first = max(0, cycle.start - reach)
    still = stretches(motion[first : cycle.start + 1] <= _MOVING_PER_S)
    hung = [end for begin, end in still if end - begin >= _KIP_STILL_S * signals.rate_hz]
    return float(signals.time_s[min(first + hung[-1], cycle.start)]) if hung else cycle.start_s


def _body_speed(signals: Signals) -> FloatArray:
    """(M,) speed of the fastest of hips and feet, statures a second; 0 where unseen."""
    fastest = np.zeros(signals.time_s.shape)
    for part in (signals.hip, signals.ankle, signals.hip_x, signals.ankle_x):
        slow = dual_pass(part, signals.rate_hz, _STILL_CUTOFF_HZ)
        fastest = np.fmax(fastest, np.abs(speed(slow, signals.rate_hz)))
    return fastest
