"""How large the athlete appears at each moment: who walks towards the camera grows."""

from dataclasses import replace
from typing import Final

import numpy as np

from counting.signals.body import PARTS, SEGMENT_SHARES, plausible, steadied_px
from counting.signals.types import Signals
from vision.track import FloatArray, PoseTrack

_RATE_HZ: Final = 10.0
_WINDOW_S: Final = 6.0
_HEIGHTS: Final = (
    *("hip", "shoulder", "head", "elbow", "wrist", "knee", "ankle"),
    *("wrist_higher", "knee_lower"),
)


def apparent_size(track: PoseTrack, signals: Signals) -> FloatArray:
    """(M,) the athlete's apparent stature over the film's usual one, on the signals' grid.

    In any posture some segment lies across the line of sight: the second longest of all, each over
    its share of stature, gives the size at a time, and a high percentile over 6 s steadies it.
    """
    from scipy import ndimage  # slow to load, and films of one cycle need none of it

    points = steadied_px(track)
    points[track.filled | ~plausible(points, signals.stature_px)] = np.nan
    lengths = np.array(
        [
            np.linalg.norm(points[:, one] - points[:, other], axis=1) / share
            for (upper, lower), share in SEGMENT_SHARES.items()
            for one, other in zip(PARTS[upper], PARTS[lower], strict=True)
        ]
    )
    second = np.sort(np.where(np.isfinite(lengths), lengths, 0.0), axis=0)[-2]
    known = second > 0.0
    if not known.any():
        return np.ones(signals.time_s.shape)
    at_hz = np.arange(float(track.time_s[0]), float(track.time_s[-1]) + 0.1, 1.0 / _RATE_HZ)
    rough = np.interp(at_hz, track.time_s[known], second[known])
    steady = ndimage.percentile_filter(rough, 80, size=int(_WINDOW_S * _RATE_HZ) | 1)
    size = np.interp(signals.time_s, at_hz, steady) / signals.stature_px
    shown: FloatArray = np.clip(size, 0.4, 2.5)
    return shown


def in_apparent_size(signals: Signals, size: FloatArray) -> Signals:
    """Heights in statures as they appear at each moment, ``size`` (M,) by `apparent_size`."""
    return replace(signals, **{name: getattr(signals, name) / size for name in _HEIGHTS})
