"""An even time grid for films of any frame rate, and what happens at gaps.

Frames are presented at whatever times the container says; filters need even steps. Values are
carried over by straight lines between neighbouring frames: at film rates the error of a line is
below the landmarks' noise, and unlike a spline a line cannot overshoot at a turning point. A gap
is bridged up to a stated length, and bridged samples are marked; longer ones stay NaN.
"""

from typing import Final

import numpy as np

from vision.track import BoolArray, FloatArray

SLOWEST_GRID_HZ: Final = 30.0
FASTEST_GRID_HZ: Final = 120.0
"""The grid has the film's own rate within these: below, a kip would be lost between samples; above,
nothing is left after the low-pass (common practice, no source)."""


def median_rate_hz(time_s: FloatArray) -> float:
    """Median frame rate of a film; NaN for fewer than two frames."""
    return float(1.0 / np.median(np.diff(time_s))) if time_s.size > 1 else float("nan")


def even_grid(time_s: FloatArray) -> FloatArray:
    """Even times that cover a film, at its median frame rate kept within 30 to 120 Hz.

    Parameters
    ----------
    time_s
        (N,) presentation times, strictly increasing.

    Returns
    -------
    (M,) times from the first frame on, none after the last; for a film of constant rate in that
    range these are the frame times themselves. Empty for an empty film.
    """
    if time_s.size < 2:
        return time_s.copy()
    rate_hz = min(max(median_rate_hz(time_s), SLOWEST_GRID_HZ), FASTEST_GRID_HZ)
    steps = int(np.floor((time_s[-1] - time_s[0]) * rate_hz + 1e-6)) + 1
    grid: FloatArray = time_s[0] + np.arange(steps) / rate_hz
    return grid


def resample(
    time_s: FloatArray, values: FloatArray, grid_s: FloatArray, longest_gap_s: float
) -> tuple[FloatArray, BoolArray]:
    """Carry a series over to the grid.

    Parameters
    ----------
    time_s, values
        (N,) times and values; a NaN value is a frame without observation.
    grid_s
        (M,) increasing times.
    longest_gap_s
        Longest distance between two observations that a line may bridge, seconds.

    Returns
    -------
    values
        (M,) NaN before the first and after the last observation and inside longer gaps.
    bridged
        (M,) True where the value lies inside a gap of missing frames that was bridged.
    """
    observed = np.isfinite(values)
    if not observed.any():
        return np.full(grid_s.shape, np.nan), np.zeros(grid_s.shape, bool)
    at, known = time_s[observed], values[observed]
    carried = np.interp(grid_s, at, known)
    after = np.clip(np.searchsorted(at, grid_s, side="left"), 0, at.size - 1)
    before = np.clip(np.searchsorted(at, grid_s, side="right") - 1, 0, at.size - 1)
    gap_s = at[after] - at[before]
    tolerance_s = 0.5 * float(np.median(np.diff(time_s))) if time_s.size > 1 else 0.0
    outside = (grid_s < at[0] - tolerance_s) | (grid_s > at[-1] + tolerance_s)
    carried[outside | (gap_s > longest_gap_s)] = np.nan
    frame_number = np.flatnonzero(observed)
    bridged: BoolArray = np.isfinite(carried) & (frame_number[after] - frame_number[before] > 1)
    return carried, bridged


def stretches(mask: BoolArray) -> list[tuple[int, int]]:
    """First index and the index after the last of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return [(int(first), int(end)) for first, end in edges.reshape(-1, 2)]
