"""The two strokes of a cycle, to the turn and back, and the moments of their ends.

A limb that starts from rest or comes to rest follows a minimum-jerk course,
``10 u^3 - 15 u^4 + 6 u^5`` of its distance after the share ``u`` of its time (Flash and Hogan
1985). Its first and last twentieth drown in noise, so a threshold there comes late or early by
several frames; the moment at which the motion began is therefore the foot of the minimum-jerk
course through the two levels where it is fast and clear.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.track import FloatArray, IntArray

_SHARES: Final = np.linspace(0.0, 1.0, 201)
_COURSE: Final = _SHARES**3 * (10 - 15 * _SHARES + 6 * _SHARES**2)
"""Shares of the time, and of the way by then."""

_CLEAR_FROM: Final = 0.5
_CLEAR_TO: Final = 0.92
"""Shares of the way back between which the course is fast and clear enough to be fitted."""

_TURNED_BACK: Final = 0.25
_NEARER: Final = 0.3
"""Of the tolerance around the start position: a way back that ends the stroke, and a gain that
prolongs it."""

_STOPPED_SHARE: Final = 0.15
"""Share of the stroke's own top speed below which it has stopped: 99 % of a minimum-jerk course."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """The way between a turn and the start position.

    Attributes
    ----------
    halt_index
        Sample at which the motion has come to rest, or has not yet begun.
    halt_level
        The driver there.
    halted
        Whether there was a halt at all; False where the film or the motion ran on.
    """

    halt_index: int
    halt_level: float
    halted: bool
    _travel: FloatArray
    _rate_hz: float

    @property
    def onset_s(self) -> float:
        """Seconds between the turn and the moment at which the stroke ends or begins."""
        return onset_s(self._travel[: self.halt_index + 1], self._rate_hz)


def stroke_to_halt(
    driver: FloatArray,
    rate_hz: float,
    least: float,
    start_position: tuple[float, float] | None = None,
) -> Stroke:
    """Follow the driver from a turn to the first halt in the start position.

    Parameters
    ----------
    driver
        (W,) samples outward from the turn, the turn first, larger values nearer the turn; run
        backwards in time for the stroke that leads to the turn.
    rate_hz
        Samples a second.
    least
        Nearer to the turn than this a halt is a sticking point, not the end.
    start_position
        Level of the start position and how far from it a halt still counts, where known.
    """
    travel = driver[0] - driver
    pace = np.gradient(travel) * rate_hz if travel.size > 1 else np.zeros(travel.shape)
    top_pace = np.maximum.accumulate(pace)
    halted = (pace <= _STOPPED_SHARE * top_pace) & (travel >= least)
    halts = np.flatnonzero(halted)
    index = int(halts[0]) if halts.size else int(np.argmax(travel))
    reached = halts.size > 0
    if start_position is not None:
        level, tolerance = start_position
        at_start = halts[np.abs(driver[halts] - level) <= tolerance]
        passed = np.flatnonzero(driver <= level)
        if at_start.size and (not passed.size or at_start[0] <= passed[0] + rate_hz):
            index = _later_halt(driver, at_start, level, tolerance)
        elif passed.size and driver[index] < level - tolerance:
            index, reached = int(passed[0]), False
    return Stroke(index, float(driver[index]), reached, travel, rate_hz)


def _later_halt(driver: FloatArray, halts: IntArray, level: float, tolerance: float) -> int:
    """First halt within tolerance, or a later one that is clearly nearer, with no turn between."""
    first = int(halts[0])
    turned = np.flatnonzero(driver[first:] > driver[first] + _TURNED_BACK * tolerance)
    until = first + int(turned[0]) if turned.size else driver.size
    off = np.abs(driver[halts] - level)
    nearer = halts[(halts < until) & (off < off[0] - _NEARER * tolerance)]
    return int(nearer[0]) if nearer.size else first


def onset_s(travel: FloatArray, rate_hz: float) -> float:
    """Seconds from the turn to the foot of the stroke, by the minimum-jerk course.

    A straight line through time against the share ``u`` of the course that each level stands for,
    over the samples in the clear part of the stroke, carried on to its end at ``u = 1``.
    """
    whole = travel[-1]
    if travel.size < 3 or whole <= 0:
        return (travel.size - 1) / rate_hz
    begun = int(np.flatnonzero(travel < _CLEAR_FROM * whole)[-1])
    clear = np.arange(begun, travel.size)
    clear = clear[travel[clear] <= _CLEAR_TO * whole]
    if clear.size < 2:
        return (travel.size - 1) / rate_hz
    share = np.interp(travel[clear] / whole, _COURSE, _SHARES)
    return _line_at(1.0, share, clear) / rate_hz


def _line_at(x: float, xs: FloatArray, ys: FloatArray | IntArray) -> float:
    """Value at ``x`` of the line of least squares, of which films need thousands."""
    middle = xs.mean()
    off = xs - middle
    return float(ys.mean() + (x - middle) * (off @ ys) / (off @ off))
