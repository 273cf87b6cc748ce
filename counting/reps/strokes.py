"""The two strokes of a cycle, away from home and back, and the moments at which they begin and end.

A limb that starts from rest or comes to rest follows a minimum-jerk course,
``10 u^3 - 15 u^4 + 6 u^5`` of its way after the share ``u`` of its time (Flash and Hogan 1985). Its
first and last twentieth drown in noise, so a threshold there comes late or early by several
frames; the moment at which the motion began is therefore the foot of the minimum-jerk course
through the two levels where it is fast and clear.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.track import FloatArray

_NEAR_SHARE: Final = 0.10
_FAR_SHARE: Final = 0.30
_FOOT_PER_STEP: Final = 0.2466 / (0.3898 - 0.2466)
"""A minimum-jerk course has gone 10 % of its way at 0.2466 of its time, 30 % at 0.3898."""

_STOPPED_SHARE: Final = 0.15
"""Share of the stroke's own top speed below which it has stopped: 99 % of a minimum-jerk course."""

_LEAST_OF_SWING: Final = 0.5
"""A halt in the first half of the way home is a sticking point, not the end."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """The way between a turn and the home position.

    Attributes
    ----------
    home_index
        Sample at which the motion has come to rest, or has not yet begun.
    home_level
        The driver there.
    foot_s
        Seconds between the turn and the moment at which the stroke ends or begins.
    reached_home
        Whether there was a halt at all; False where the film or the motion ran on.
    """

    home_index: int
    home_level: float
    foot_s: float
    reached_home: bool


def stroke_home(
    driver: FloatArray, rate_hz: float, swing: float, home: tuple[float, float] | None = None
) -> Stroke:
    """Follow the driver from a turn to the first halt at home.

    Parameters
    ----------
    driver
        (W,) samples outward from the turn, the turn first, larger values nearer the turn; run
        backwards in time for the stroke that leads to the turn.
    rate_hz
        Samples a second.
    swing
        Size of the cycle, in the driver's unit.
    home
        Level of the home position and how far from it a halt still counts, where known.
    """
    way = driver[0] - driver
    pace = np.gradient(way) * rate_hz if way.size > 1 else np.zeros(way.shape)
    top_pace = np.maximum.accumulate(pace)
    halted = (pace <= _STOPPED_SHARE * top_pace) & (way >= _LEAST_OF_SWING * swing)
    halts = np.flatnonzero(halted)
    index = int(halts[0]) if halts.size else int(np.argmax(way))
    reached = halts.size > 0
    if home is not None:
        level, tolerance = home
        at_home = halts[np.abs(driver[halts] - level) <= tolerance]
        passed = np.flatnonzero(driver <= level)
        if at_home.size and (not passed.size or at_home[0] <= passed[0] + rate_hz):
            index = int(at_home[0])
        elif passed.size and driver[index] < level - tolerance:
            index, reached = int(passed[0]), False
    return Stroke(index, float(driver[index]), _foot_s(way[: index + 1], rate_hz), reached)


def _foot_s(way: FloatArray, rate_hz: float) -> float:
    """Seconds from the turn to the foot of the stroke, by the minimum-jerk course."""
    whole = way[-1]
    if way.size < 3 or whole <= 0:
        return (way.size - 1) / rate_hz
    near = _last_crossing(way, (1 - _NEAR_SHARE) * whole)
    far = _last_crossing(way, (1 - _FAR_SHARE) * whole)
    return (near + (near - far) * _FOOT_PER_STEP) / rate_hz


def _last_crossing(way: FloatArray, level: float) -> float:
    """Fractional index at which the series rises through a level for the last time."""
    below = np.flatnonzero(way < level)
    if not below.size:
        return 0.0
    i = int(below[-1])
    if i + 1 >= way.size:
        return float(i)
    return i + float((level - way[i]) / (way[i + 1] - way[i]))
