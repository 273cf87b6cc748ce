"""Zero-phase low-pass filtering of evenly sampled motion.

A causal filter delays and rounds off exactly the turning points that a judge looks at. These
filters run over the film forwards and backwards, so that nothing is delayed.
"""

from typing import Final

import numpy as np
from scipy import signal

from counting.signals.resampling import stretches
from vision.track import FloatArray

DUAL_PASS_CORRECTION: Final = (2**0.5 - 1) ** 0.25
"""0.802243: two passes of a second-order filter cut lower than one (Winter 2009, ch. 3)."""

CUTOFF_HZ: Final = 6.0
"""Usual cut-off for human movement, a convention of gait analysis (Winter 2009)."""

_HIGHEST_SHARE_OF_RATE: Final = 0.4
"""Cut-off above this share of the sampling rate is no filter any more."""


def butterworth(cutoff_hz: float, rate_hz: float) -> tuple[FloatArray, FloatArray]:
    """Coefficients b, a of a single-pass second-order low-pass Butterworth filter."""
    b, a = signal.butter(2, cutoff_hz, fs=rate_hz)
    return np.asarray(b, float), np.asarray(a, float)


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
            smooth[first:end] = signal.filtfilt(b, a, values[first:end])
    return smooth


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
    middle = signal.medfilt(np.pad(series, window // 2, mode="edge"), window)
    middle = middle[window // 2 : middle.size - window // 2]
    series = np.where(np.abs(series - middle) > tolerance, np.nan, series)
    kept[known] = series
    return kept
