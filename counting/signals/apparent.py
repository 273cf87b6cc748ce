"""How large the athlete appears at each moment: who walks towards the camera grows."""

from dataclasses import replace
from typing import Final

import numpy as np

from counting.signals.body import PARTS, SEGMENT_SHARES, part_px, plausible, steadied_px
from counting.signals.types import Signals
from vision.track import FloatArray, PoseTrack

_RATE_HZ: Final = 10.0
"""Of the size: from one time to the next it changes by 3 % at most."""
_WINDOW_S: Final = 3.0
"""In which some segment lies across the sight: a rep or two."""
_FASTEST_PER_S: Final = 0.3
"""Whoever walks at 1 m/s three metres from the camera grows or shrinks by a third in a second."""

_HEIGHTS: Final = (
    *("hip", "shoulder", "head", "elbow", "wrist", "knee", "ankle"),
    *("wrist_higher", "knee_lower"),
)
_DISTANCES: Final = ("ankle_gap", "wrist_lead", "knee_lead", "wrist_spread", "ankle_spread")


def apparent_size(track: PoseTrack, signals: Signals) -> FloatArray:
    """(M,) the athlete's apparent stature over the film's usual one, on the signals' grid.

    In any posture some segment lies across the line of sight: the second longest of all, each over
    its share of stature, gives the size at a time. Foreshortened it is too small, never too large,
    and nobody shrinks faster than by walking away: the size is the least that changes no faster and
    is nowhere below what was seen.
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
    steady = ndimage.percentile_filter(rough, 70, size=int(_WINDOW_S * _RATE_HZ) | 1)
    steady = _envelope(steady, _FASTEST_PER_S / _RATE_HZ)
    size = np.interp(signals.time_s, at_hz, steady) / signals.stature_px
    shown: FloatArray = np.clip(size, 0.4, 2.5)
    return shown


def _envelope(values: FloatArray, step: float) -> FloatArray:
    """Least series that is nowhere below ``values`` and changes by a share of ``step`` at most."""
    ramp = step * np.arange(values.size)
    level = np.log(values)
    ahead = np.maximum.accumulate(level + ramp) - ramp
    behind = (np.maximum.accumulate((level[::-1]) + ramp) - ramp)[::-1]
    envelope: FloatArray = np.exp(np.maximum(ahead, behind))
    return envelope


def in_apparent_size(track: PoseTrack, signals: Signals) -> Signals:
    """Heights in statures as they appear at each moment, by `apparent_size`.

    Whoever comes nearer grows away from the horizon, feet downwards: measured from there and over
    the size, the floor stays where it is. A level camera has the horizon in the middle.
    """
    size = apparent_size(track, signals)
    ankle_px = part_px(steadied_px(track), track.visibility, PARTS["ankle"])[:, 1]
    known = ankle_px[np.isfinite(ankle_px) & ~track.filled]
    below = (
        (float(np.median(known)) - track.height_px / 2) / signals.stature_px if known.size else 0.0
    )
    return replace(
        signals,
        **{name: (getattr(signals, name) - below) / size + below for name in _HEIGHTS},
        **{name: getattr(signals, name) / size for name in _DISTANCES},
    )
