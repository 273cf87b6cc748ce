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
from counting.reps.evidence import driver_of
from counting.reps.segmentation import Cycle
from counting.signals.filtering import dual_pass, speed
from counting.signals.types import Signals
from vision.track import FloatArray

_STILL_CUTOFF_HZ: Final = 3.0
_MOVING_PER_S: Final = 0.25
"""Statures a second from which a body part moves rather than trembles: about 0.4 m/s."""

_USUAL_STILL_SHARE: Final = 0.08
"""Still share of a cycle assumed where a film holds no two repetitions in one go."""

_LONGEST_HANDOVER_S: Final = 0.6
_LONGEST_OF_USUAL: Final = 2.5
_LONGEST_OF_CYCLE: Final = 0.25


@dataclass(frozen=True, slots=True)
class Gap:
    """Time between the end of one cycle's motion and the beginning of the next one's."""

    arrive_s: float
    leave_s: float
    swinging_from_s: float

    @property
    def length_s(self) -> float:
        """Seconds at home, still or swinging."""
        return self.leave_s - self.arrive_s


def hand_over(signals: Signals, movement: Movement, cycles: list[Cycle]) -> list[Cycle]:
    """Give every cycle its whole time, from start position to start position."""
    if not cycles:
        return []
    motion = _body_speed(signals)
    home_driver = driver_of(signals, movement.cycle.driver)
    if movement.cycle.turn == "low":
        home_driver = -home_driver
    gaps = [_gap(signals, movement, motion, before, after) for before, after in pairwise(cycles)]
    joined = _joined(gaps, cycles)
    share = movement.cycle.still_share
    borders: list[tuple[float, float] | None] = []
    for gap, whole in zip(gaps, joined, strict=True):
        if not whole:
            borders.append(None)
        elif movement.base == "hanging" and gap.swinging_from_s < gap.leave_s:
            border = _lowest_s(signals, home_driver, gap)
            borders.append((border, border))
        else:
            border = gap.arrive_s + share * gap.length_s
            borders.append((border, border))
    rest_after, rest_before = _usual_rest(cycles, borders, share)
    done = []
    for k, cycle in enumerate(cycles):
        left = borders[k - 1] if k else None
        right = borders[k] if k < len(borders) else None
        start_s = left[1] if left else _first_start_s(signals, movement, motion, cycle, rest_before)
        end_s = right[0] if right else cycle.end_s + rest_after
        if right is None and k < len(gaps):
            end_s = min(end_s, gaps[k].leave_s)
        end_s = min(end_s, float(signals.time_s[-1]))
        done.append(replace(cycle, start_s=min(start_s, cycle.turn_s), end_s=end_s))
    return done


def _joined(gaps: list[Gap], cycles: list[Cycle]) -> list[bool]:
    if not gaps:
        return []
    usual_s = float(np.median([gap.length_s for gap in gaps]))
    cycle_s = float(np.median([cycle.end_s - cycle.start_s for cycle in cycles]))
    longest_s = max(
        _LONGEST_HANDOVER_S,
        min(_LONGEST_OF_USUAL * usual_s, cycle_s),
        _LONGEST_OF_CYCLE * cycle_s,
    )
    return [gap.length_s <= longest_s for gap in gaps]


def _gap(
    signals: Signals, movement: Movement, motion: FloatArray, before: Cycle, after: Cycle
) -> Gap:
    first, last = before.end, max(after.start, before.end)
    arrive_s, leave_s = before.end_s, after.start_s
    if movement.base != "hanging":
        return Gap(arrive_s, leave_s, leave_s)
    moving = np.flatnonzero(motion[first : last + 1] > _MOVING_PER_S)
    swinging = float(signals.time_s[first + moving[0]]) if moving.size else leave_s
    return Gap(arrive_s, leave_s, swinging)


def _lowest_s(signals: Signals, driver: FloatArray, gap: Gap) -> float:
    """When the driver is furthest home, within reach of the arrival."""
    time_s = signals.time_s
    inside = np.flatnonzero(
        (time_s >= gap.arrive_s - 0.1) & (time_s <= min(gap.arrive_s + 0.3, gap.leave_s))
    )
    if not inside.size or not np.isfinite(driver[inside]).any():
        return gap.arrive_s
    return float(time_s[inside[np.nanargmin(driver[inside])]])


def _usual_rest(
    cycles: list[Cycle], borders: list[tuple[float, float] | None], share: float
) -> tuple[float, float]:
    """Usual still time of this athlete after and before a cycle's motion."""
    known = [
        (border[0] - cycles[k].end_s, cycles[k + 1].start_s - border[1])
        for k, border in enumerate(borders)
        if border is not None
    ]
    if known:
        after, before = np.median(np.array(known), axis=0)
        return max(float(after), 0.0), max(float(before), 0.0)
    still_s = _USUAL_STILL_SHARE * float(np.median([c.end_s - c.start_s for c in cycles]))
    return share * still_s, (1 - share) * still_s


def _first_start_s(
    signals: Signals, movement: Movement, motion: FloatArray, cycle: Cycle, rest_before: float
) -> float:
    """Start of a cycle that follows no other: where a kip begins its swing, or a moment before."""
    if movement.base == "hanging":
        reach = int((cycle.end_s - cycle.start_s) * signals.rate_hz)
        first = max(0, cycle.start - reach)
        still = np.flatnonzero(motion[first : cycle.start + 1] <= _MOVING_PER_S)
        swung = still.size and first + still[-1] < cycle.start - 0.1 * signals.rate_hz
        if swung:
            return float(signals.time_s[first + still[-1]])
    return max(cycle.start_s - min(rest_before, 0.5), float(signals.time_s[0]))


def _body_speed(signals: Signals) -> FloatArray:
    """(M,) speed of the fastest of hips and feet, statures a second; 0 where unseen."""
    fastest = np.zeros(signals.time_s.shape)
    for part in (signals.hip, signals.ankle, signals.hip_x, signals.ankle_x):
        slow = dual_pass(part, signals.rate_hz, _STILL_CUTOFF_HZ)
        fastest = np.fmax(fastest, np.abs(speed(slow, signals.rate_hz)))
    return fastest
