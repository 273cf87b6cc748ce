"""What tells a repetition from other motion of the same size: hands, feet, posture."""

from functools import lru_cache
from statistics import median
from typing import Final

import numpy as np

from counting.movements.types import Driver, Movement
from counting.signals.percentiles import percentile
from counting.signals.types import Signals
from vision.track import FloatArray

HALF_ARM: Final = 0.17
"""Half the length of an arm to the wrist, in statures (0.332 by Drillis and Contini 1966)."""

_HANGING_ARM: Final = 0.26
"""Wrists this far below the shoulders hang on nearly straight arms."""

_LIFTS_FROM_STANDING: Final = ("wrists above shoulders", "wrists above standing shoulders")
_STANDING_S: Final = 4.0
"""Of which the median is the height that somebody stands at: longer than a lift passes by."""
_LOW_HANDS: Final = -0.2
"""Hands that low at two of the three moments before, in and after a dip lift a bar off the floor or
put it there; each moment by itself may be misread behind a plate."""

SEEN: Final = 0.5
"""Visibility from which a wrist may speak against a repetition."""

_CLEAR: Final = 0.9
"""Visibility from which a single moment's hands are believed: nothing is before them."""

_LEANING_TRUNK: Final = 0.6
"""Share of its upright height that the trunk keeps in a squat, not when lifting off the floor."""

WALKED: Final = 0.16
"""A foot that ends up further away than this share of stature has stepped: about 20 cm."""

_GOT_DOWN: Final = 0.15
"""Between standing and a plank feet and hips move further than this share of stature."""

_ON_THE_BAR: Final = 0.15
"""How far below their usual place in the hang hands may be for most of a cycle; above it twice as
far: in support they are on top of the bar, and nobody who let go holds them higher than it."""
_BOW: Final = 2.5
_HOP: Final = 0.25
"""Fall of the shoulders and of the feet, in falls of the hips, that make a bow or a hop of it."""

_DEEPER_THAN_HOPS: Final = 0.1
"""Hips that come so much nearer to the feet, in statures, are no hop's, however the feet jitter
behind a plate: 0.05 at most in a real person's hops and jogging, 0.17 in a squat 3 cm too high."""

_TAKE_OFF: Final = 0.5
"""Rise of the feet to either side, in falls of the hips: the dip before a jump or after it."""

LEAST_STEP: Final = 0.015
"""Movement of the feet, in statures, that is noise of the landmarks."""

_MOMENT_S: Final = 0.12
_COMING_S: Final = 0.25
"""So long before a pull begins and after it ends the hands may be read overhead: whoever comes down
from above the bar passes them on the way, and a plate or the body hides them for a moment."""


def driver_of(signals: Signals, driver: Driver) -> FloatArray:
    """(M,) the named signal in statures, upwards."""
    # Hips and shoulders go down together; a plate that passes throws one about, seldom both.
    if driver == "hip height":
        return _smoothest((signals.hip, signals.shoulder))
    if driver == "wrist height":
        return signals.wrist
    if driver == "wrists above shoulders":
        return signals.wrist - signals.shoulder
    if driver == "wrists above standing shoulders":
        return signals.wrist - _standing_level(signals.shoulder, signals.rate_hz)
    # With the hands fixed to bar or floor, the shoulders' own height is their height above the
    # hands, without the noise of the wrists. On a bar they ride on the hips where they are hidden.
    if driver == "shoulders above hands":
        trunk = signals.shoulder - signals.hip
        known = trunk[np.isfinite(trunk)]
        riding = signals.hip + (float(np.median(known)) if known.size else np.nan)
        return np.where(np.isfinite(signals.shoulder), signals.shoulder, riding)
    return signals.shoulder


def timing_of(signals: Signals, movement: Movement) -> FloatArray:
    """(M,) the driver averaged with the parts of the body that start and stop with it.

    Hips, shoulders and head leave the start position together and come back together; their
    landmarks' errors have little to do with each other. A part that is hidden jitters: the rougher,
    the less weight.
    """
    driver = movement.swing.driver
    if driver == "hip height":
        return _smoothest((signals.hip, signals.shoulder, signals.head))
    if driver in ("shoulder height", "shoulders above hands"):
        return _smoothest((signals.shoulder, signals.head))
    return driver_of(signals, driver)


def _standing_level(height: FloatArray, rate_hz: float) -> FloatArray:
    """(M,) running median over `_STANDING_S`, also where unseen: a height that comes back.

    Plates that pass before the trunk throw its landmarks about for part of every lift.
    """
    reach = max(1, round(_STANDING_S * rate_hz / 2))
    known = np.flatnonzero(np.isfinite(height))
    if not known.size:
        return height
    from scipy.ndimage import median_filter  # slow to load, and few movements need it

    bridged = np.interp(np.arange(height.size), known, height[known])
    level: FloatArray = median_filter(bridged, 2 * reach + 1, mode="nearest")
    return level


def _smoothest(parts: tuple[FloatArray, ...]) -> FloatArray:
    roughness = [np.abs(np.diff(part, 2)) for part in parts]
    known = [rough[np.isfinite(rough)] for rough in roughness]
    weights = np.array([1.0 / max(float(r.mean()), 1e-9) ** 2 if r.size else 0.0 for r in known])
    if not weights.any():
        return parts[0]
    mean: FloatArray = np.tensordot(weights / weights.sum(), np.array(parts), axes=1)
    return mean


def around(values: FloatArray, index: int, rate_hz: float) -> float:
    """Median of a signal within 0.12 s of a sample; NaN where it was not seen."""
    reach = max(1, round(_MOMENT_S * rate_hz))
    window = values[max(0, index - reach) : index + reach + 1]
    known = [value for value in window.tolist() if value == value]
    return median(known) if known else float("nan")


def hands_fit(signals: Signals, movement: Movement, start: int, turn: int, end: int) -> bool:
    """Whether the hands are where the movement wants them; True where they were not seen."""
    above = _hands_above(signals)
    rate_hz = signals.rate_hz
    if movement.base == "hanging":
        reach = round(_COMING_S * rate_hz)
        coming = range(start, max(start - reach, 0) - 1, -1)
        leaving = range(end, min(end + reach, above.size - 1) + 1)
        for places in (coming, leaving):
            if all(around(above, index, rate_hz) < -HALF_ARM / 2 for index in places):
                return False
        over_the_bar = signals.wrist[start : end + 1] - bar_height(signals)
        off_the_bar = np.where(over_the_bar > 0, over_the_bar / 2, -over_the_bar)
        known = off_the_bar[np.isfinite(off_the_bar)]
        return not known.size or float(np.median(known)) < _ON_THE_BAR
    hands = movement.swing.hands
    at_turn = around(above, turn, rate_hz)
    if movement.apparatus == "barbell" and movement.swing.driver in _LIFTS_FROM_STANDING:
        for index in (start, end):
            seen = around(signals.wrist_seen, index, rate_hz) >= SEEN
            if seen and around(above, index, rate_hz) < -_HANGING_ARM:
                return False
    if hands == "overhead":
        return not at_turn < HALF_ARM / 2
    if hands == "at the shoulders":
        moments = np.array([around(above, index, rate_hz) for index in (start, turn, end)])
        for index, level in zip((start, end), moments[[0, 2]], strict=True):
            if around(signals.wrist_seen, index, rate_hz) >= _CLEAR and level < _LOW_HANDS:
                return False
        known = moments[np.isfinite(moments)]
        return not known.size or float(np.median(known)) > _LOW_HANDS
    if hands == "low" and around(signals.wrist_seen, turn, rate_hz) >= SEEN:
        return not at_turn > -HALF_ARM / 2
    return True


def hands_stay_up(signals: Signals, start: int, turn: int, end: int) -> bool:
    """Whether the hands were seen at the shoulders all the time: then no bar was lifted off."""
    above = _hands_above(signals)
    return all(
        around(above, index, signals.rate_hz) > -HALF_ARM
        and around(signals.wrist_seen, index, signals.rate_hz) >= SEEN
        for index in (start, turn, end)
    )


@lru_cache(maxsize=1)
def _hands_above(signals: Signals) -> FloatArray:
    """(M,) height of the wrists above the shoulders; every swing of a film asks for it."""
    return signals.wrist - signals.shoulder


@lru_cache(maxsize=1)
def bar_height(signals: Signals) -> float:
    """Usual height of the hands in the hang, well above the shoulders; NaN if never there."""
    reached = signals.wrist[signals.wrist - signals.shoulder > HALF_ARM]
    return float(np.median(reached)) if reached.size else float("nan")


def trunk_upright(signals: Signals, turn: int) -> bool:
    """Whether the trunk is nearer upright than level at the turn; True where it was not seen."""
    upright = _upright_trunk(signals)
    if not np.isfinite(upright):
        return True
    trunk = signals.shoulder - signals.hip
    return not around(trunk, turn, signals.rate_hz) < _LEANING_TRUNK * upright


@lru_cache(maxsize=1)
def _upright_trunk(signals: Signals) -> float:
    """Height of the shoulders above the hips where the body is upright; NaN if never seen."""
    trunk = signals.shoulder - signals.hip
    known = trunk[np.isfinite(trunk)]
    return percentile(known, 80)


def takes_off(signals: Signals, start: int, turn: int, end: int) -> bool:
    """Whether the feet leave the floor with the hips on either side of the turn, as in a jump."""
    feet, hips = (
        [around(part, index, signals.rate_hz) for index in (start, turn, end)]
        for part in (signals.ankle, signals.hip)
    )
    fall = min(hips[0], hips[2]) - hips[1]
    return max(feet[0], feet[2]) - feet[1] > _TAKE_OFF * fall


def from_the_knees(signals: Signals, start: int, turn: int, end: int) -> bool:
    """Whether the hips go down by bending the knees, on feet that stay on the floor.

    In a bow the shoulders go down several times as far as the hips; between hops the feet are
    lower at the turn than before and after it, and the legs bend little. True where the body was
    not seen.
    """

    def fall(part: FloatArray) -> float:
        levels = [around(part, index, signals.rate_hz) for index in (start, turn, end)]
        return min(levels[0], levels[2]) - levels[1]

    hips = fall(signals.hip)
    bows = fall(signals.shoulder) > _BOW * hips
    shallow = fall(signals.hip - signals.ankle) < _DEEPER_THAN_HOPS
    hops = shallow and fall(signals.ankle) > _HOP * hips
    return not (bows or hops)


def steps_taken(signals: Signals, start: int, end: int) -> float:
    """How far the feet left their place between two samples, in statures; 0 where unseen.

    Across the picture a step shows as it is, towards the camera as a change of the feet's height
    in the picture.
    """
    return _moved(signals, signals.ankle_x, signals.ankle, start, end)


def hips_moved(signals: Signals, start: int, end: int) -> float:
    """How far the hips left their place between two samples, in statures; 0 where unseen."""
    return _moved(signals, signals.hip_x, signals.hip, start, end)


def got_down_or_up(signals: Signals, start: int, end: int) -> bool:
    """Whether feet and hips both changed place, as on the way into a plank or out of it."""
    feet = steps_taken(signals, start, end)
    hips = hips_moved(signals, start, end)
    return min(feet, hips) > _GOT_DOWN


def _moved(signals: Signals, x: FloatArray, y: FloatArray, start: int, end: int) -> float:
    """Upper quartile of a part's distance from its place at the start: no blink of the tracker."""
    here_x, here_y = (around(part, start, signals.rate_hz) for part in (x, y))
    moved = np.hypot(x[start : end + 1] - here_x, y[start : end + 1] - here_y)
    known = moved[np.isfinite(moved)]
    return percentile(known, 75) if known.size else 0.0
