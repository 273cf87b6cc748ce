"""How alike a body moves in two films, and at which shift of their clocks it does so most.

What goes up in one view goes up in every other that a phone on a gym floor has. So vertical speeds
of the same joint are alike but for a factor, whatever the cameras' places, and nothing has to be
known of these.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.pose.landmarks import Landmark
from vision.synchrony.types import FloatArray
from vision.track import PoseTrack

RATE_HZ: Final = 100.0
"""Speeds a second."""
_SMOOTH_S: Final = 0.06
"""Standard deviation of the Gaussian that heights are smoothed with: two pictures (no source)."""
_LONGEST_GAP_S: Final = 0.35
"""Between two looks at the body no speed is told over a longer gap (no source)."""
_REACH_S: Final = 0.3
"""Seconds to either side of what the sound says in which motion is searched (no source)."""
_STEP_S: Final = 0.005
"""Of the search, half of a grid step of the speeds; a parabola finds the place between."""
_PIECES: Final = 8
"""Parts of a film that are left out in turn for the error (jackknife)."""
_FEWEST_S: Final = 2.0
"""Seconds that both films must show the body for a shift to be told (no source)."""
_NEAR_PEAK_S: Final = 0.04
"""Seconds to either side of the highest likeness that its parabola is laid through (no source)."""
_APART_S: Final = 0.25
"""Seconds from the best shift within which another one is the same (no source)."""
JOINTS: Final = ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE", "ANKLE")


@dataclass(frozen=True, slots=True)
class Shift:
    """Where vertical speeds are most alike.

    Attributes
    ----------
    shift_s, error_s
        To be added to the second film's times put on the first's clock, and its standard error
        from how pieces of the film differ (jackknife).
    likeness
        Correlation there, of all joints together, -1 to 1.
    """

    shift_s: float
    error_s: float
    likeness: float


@dataclass(frozen=True, slots=True, eq=False)
class Speeds:
    """Vertical speeds of the joints' middles, (T, joints), on an even clock, NaN where unseen.

    As shares of their root mean square over all joints, so that those that move count most.
    """

    start_s: float
    values: FloatArray

    def at(self, time_s: FloatArray) -> FloatArray:
        """(n, joints) speeds at some times by linear interpolation, NaN outside."""
        place = (time_s - self.start_s) * RATE_HZ
        low = np.floor(place).astype(int)
        inside = (low >= 0) & (low + 1 < len(self.values))
        low = np.clip(low, 0, max(len(self.values) - 2, 0))
        share = (place - low)[:, None]
        found = self.values[low] * (1 - share) + self.values[low + 1] * share
        return np.where(inside[:, None], found, np.nan)


def vertical_speeds(track: PoseTrack) -> Speeds:
    """Take the joints' vertical speeds from a track, the camera's shift taken out."""
    rows = np.flatnonzero(track.seen & track.looked)
    if len(rows) < 4:
        return Speeds(0.0, np.full((2, len(JOINTS) + 1), np.nan))
    time_s = track.time_s[rows]
    up = -(track.image_px[rows, :, 1] - track.camera_shift_px[rows, 1][:, None])
    pairs = [up[:, [Landmark[f"LEFT_{j}"], Landmark[f"RIGHT_{j}"]]].mean(axis=1) for j in JOINTS]
    return speeds_of(time_s, np.stack([up[:, Landmark.NOSE], *pairs], axis=1))


def speeds_of(time_s: FloatArray, heights: FloatArray) -> Speeds:
    """Take speeds from heights, (n, joints), of the nose and the middles of `JOINTS`."""
    from scipy.ndimage import gaussian_filter1d

    grid = np.arange(time_s[0], time_s[-1] + 0.5 / RATE_HZ, 1.0 / RATE_HZ)
    even = np.stack([np.interp(grid, time_s, column) for column in heights.T], axis=1)
    speed = gaussian_filter1d(even, _SMOOTH_S * RATE_HZ, axis=0, order=1)
    after = np.clip(np.searchsorted(time_s, grid), 1, len(time_s) - 1)
    speed[time_s[after] - time_s[after - 1] > _LONGEST_GAP_S] = np.nan
    deviation = float(np.sqrt(np.nanmean(speed**2)))
    return Speeds(float(grid[0]), speed / (deviation if deviation > 0 else np.nan))


def best_shift(
    first: Speeds, second_at_s: FloatArray, second: FloatArray, reach_s: float = _REACH_S
) -> Shift | None:
    """Find the shift at which two films' speeds are most alike.

    Parameters
    ----------
    first
        Speeds in the first film.
    second_at_s, second
        Times on the first film's clock at which the second film's speeds, (n, joints), are known.
    reach_s
        How far to either side is searched.

    Returns
    -------
    Shift or None
        None where the films hardly show the body together.
    """
    shifts = np.arange(-reach_s, reach_s + _STEP_S / 2, _STEP_S)
    pieces = np.minimum(
        (np.arange(len(second_at_s)) * _PIECES) // max(len(second_at_s), 1), _PIECES - 1
    )
    sums = np.zeros((_PIECES, len(shifts), 3))
    shared = 0.0
    for column, shift in enumerate(shifts):
        one = first.at(second_at_s + shift)
        both = np.isfinite(one) & np.isfinite(second)
        shared = max(shared, both.any(axis=1).sum() / RATE_HZ)
        x, y = np.where(both, one, 0.0), np.where(both, second, 0.0)
        for place, product in enumerate((x * y, x * x, y * y)):
            sums[:, column, place] = np.bincount(pieces, product.sum(axis=1), _PIECES)
    if shared < _FEWEST_S:
        return None
    whole = sums.sum(axis=0)
    likeness = _likeness(whole)
    without = np.array([_peak_s(shifts, _likeness(whole - part)) for part in sums])
    error = np.sqrt((_PIECES - 1) / _PIECES * np.sum((without - without.mean()) ** 2))
    return Shift(_peak_s(shifts, likeness), float(error), float(likeness.max()))


def _likeness(sums: FloatArray) -> FloatArray:
    product, one, other = sums.T
    return np.asarray(product / np.sqrt(np.maximum(one * other, 1e-12)))


def _peak_s(shifts: FloatArray, likeness: FloatArray) -> float:
    """Where the parabola through the values about the highest has its top."""
    best = int(np.argmax(likeness))
    near = np.abs(shifts - shifts[best]) <= _NEAR_PEAK_S
    bend, slope, _ = np.polyfit(shifts[near] - shifts[best], likeness[near], 2)
    if bend >= 0:
        return float(shifts[best])
    return float(shifts[best] + np.clip(-slope / (2 * bend), -_NEAR_PEAK_S, _NEAR_PEAK_S))


def widest_search(first: Speeds, second: Speeds) -> tuple[float, float, float]:
    """Search all shifts at which half of the shorter film is shared.

    Returns
    -------
    lag_s, likeness, rival
        The lag to be added to the second film's times, the correlation there, and the highest more
        than `_APART_S` away.
    """
    from scipy.signal import correlate

    one, other = (np.nan_to_num(speeds.values) for speeds in (first, second))
    here, there = (np.isfinite(speeds.values).astype(float) for speeds in (first, second))

    def over_lags(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(
            sum(correlate(x, y, "full", "fft") for x, y in zip(a.T, b.T, strict=True))
        )

    shared = over_lags(here, there) / one.shape[1]
    square = over_lags(one**2, there) * over_lags(here, other**2)
    likeness = over_lags(one, other) / np.sqrt(np.maximum(square, 1.0))
    enough = shared >= max(_FEWEST_S * RATE_HZ, 0.5 * min(len(one), len(other)))
    likeness = np.where(enough, likeness, -1.0)
    best = int(np.argmax(likeness))
    apart = np.abs(np.arange(len(likeness)) - best) > _APART_S * RATE_HZ
    lag_s = (best - (len(other) - 1)) / RATE_HZ + first.start_s - second.start_s
    return lag_s, float(likeness[best]), float(likeness[apart].max(initial=-1.0))
