"""Zero-phase low-pass filtering of evenly sampled motion.

A causal filter delays and rounds off exactly the turning points that a judge looks at. These
filters run over the film forwards and backwards, so that nothing is delayed.

The one filter needed is written out: loading ``scipy.signal`` takes longer than counting a film.
"""

from typing import Final

import numpy as np
from scipy.linalg.blas import dtbsv

from counting.signals.resampling import stretches
from counting.signals.running import medians_about
from vision.track import FloatArray

DUAL_PASS_CORRECTION: Final = (2**0.5 - 1) ** 0.25
"""0.802243: two passes of a second-order filter cut lower than one (Winter 2009, ch. 3)."""

CUTOFF_HZ: Final = 6.0
"""Usual cut-off for human movement, a convention of gait analysis (Winter 2009)."""

_HIGHEST_SHARE_OF_RATE: Final = 0.4
"""Cut-off above this share of the sampling rate is no filter any more."""


def butterworth(cutoff_hz: float, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    """Coefficients b, a of a single-pass second-order low-pass Butterworth filter.

    By the bilinear transform, with the cut-off warped beforehand (Winter 2009, ch. 3).
    """
    warped = 1.0 / np.tan(np.pi * cutoff_hz / rate_hz)
    damped = 2**0.5 * warped
    whole = 1.0 + damped + warped**2
    b = np.array([1.0, 2.0, 1.0]) / whole
    a = np.array([whole, 2.0 - 2.0 * warped**2, 1.0 - damped + warped**2]) / whole
    return b, a


def dual_pass(values: FloatArray, rate_hz: float, cutoff_hz: float = CUTOFF_HZ) -> FloatArray:
    """Second-order Butterworth forwards and backwards with Winter's correction.

    Parameters
    ----------
    values
        (M,) evenly sampled; NaN where nothing is known.
    rate_hz
        Sampling rate.
    cutoff_hz
        Frequency at which the two passes together halve the power. Lowered where the rate is too
        small for it.

    Returns
    -------
    (M,) filtered; every stretch between NaNs by itself, NaNs stay. Stretches too short for the
    filter's run-in (up to 9 samples) come back as they are.
    """
    design_hz = min(cutoff_hz / DUAL_PASS_CORRECTION, _HIGHEST_SHARE_OF_RATE * rate_hz)
    b, a = butterworth(design_hz, rate_hz)
    smooth = values.copy()
    run_in = 3 * max(len(a), len(b))
    for first, end in stretches(np.isfinite(values)):
        if end - first > run_in:
            smooth[first:end] = _there_and_back(b, a, values[first:end], run_in)
    return smooth


def _there_and_back(b: FloatArray, a: FloatArray, values: FloatArray, run_in: int) -> FloatArray:
    """Filter forwards and backwards; both ends are continued by their own mirror image."""
    ahead = 2 * values[0] - values[run_in:0:-1]
    behind = 2 * values[-1] - values[-2 : -run_in - 2 : -1]
    forth = _one_pass(b, a, np.concatenate([ahead, values, behind]))
    back: FloatArray = _one_pass(b, a, forth[::-1])[::-1][run_in:-run_in]
    return back


def _one_pass(b: FloatArray, a: FloatArray, values: FloatArray) -> FloatArray:
    """Filter a series that stood at its first value before: a triangular system with a band."""
    moved = values - values[0]
    driven = b[0] * moved
    driven[1:] += b[1] * moved[:-1]
    driven[2:] += b[2] * moved[:-2]
    band = np.repeat(a[:, None], len(values), axis=1)
    passed: FloatArray = dtbsv(len(a) - 1, band, driven, lower=1, diag=1, overwrite_x=1)
    passed += values[0]
    return passed


def speed(values: FloatArray, rate_hz: float) -> FloatArray:
    """Central differences of an evenly sampled series, units a second; NaN beside NaN."""
    if values.size < 2:
        return np.full(values.shape, np.nan)
    return np.asarray(np.gradient(values, 1.0 / rate_hz), float)


def without_spikes(values: FloatArray, window: int, tolerance: float) -> FloatArray:
    """Blank single wild samples: those further than ``tolerance`` from their window's median.

    Parameters
    ----------
    values
        (M,) series; NaN allowed.
    window
        Odd number of samples.
    tolerance
        In the series' own unit.

    Returns
    -------
    (M,) with spikes set to NaN.
    """
    known = np.isfinite(values)
    if known.sum() < window:
        return values.copy()
    kept = values.copy()
    series = values[known]
    # On the way to the window's median, somewhere a step is as large as its share of the distance.
    leap = np.flatnonzero(np.abs(np.diff(series)) > tolerance / window)
    near = np.zeros(series.size, dtype=np.bool_)
    for step in range(1 - window // 2, window // 2 + 1):
        near[np.clip(leap + step, 0, series.size - 1)] = True
    suspects = np.flatnonzero(near)
    wild = np.abs(series[suspects] - medians_about(series, suspects, window)) > tolerance
    kept[np.flatnonzero(known)[suspects[wild]]] = np.nan
    return kept
