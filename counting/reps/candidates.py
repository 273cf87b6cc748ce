"""Swings of the driving signal that may be repetitions, and how large this athlete's are."""

from typing import Final

import numpy as np
from scipy import signal

from vision.track import FloatArray, IntArray

LONGEST_CYCLE_S: Final = 60.0
"""No repetition takes longer; keeps the search linear in the film's length."""

LEAST_OF_TYPICAL: Final = 0.3
"""A swing under this share of the athlete's usual one is a shuffle or a breath, no attempt."""


def swings(driver: FloatArray, rate_hz: float, smallest: float) -> tuple[IntArray, FloatArray]:
    """Find the far ends of all swings of at least the smallest size.

    Parameters
    ----------
    driver
        (M,) signal, larger values nearer the turn, without NaN.
    rate_hz
        Samples a second.
    smallest
        Least prominence: how far the signal falls on both sides before it rises higher.

    Returns
    -------
    turns
        (K,) indices.
    sizes
        (K,) prominences.
    """
    window = int(2 * LONGEST_CYCLE_S * rate_hz) | 1
    turns, found = signal.find_peaks(driver, prominence=smallest, wlen=window)
    return turns.astype(np.int64), np.asarray(found["prominences"], float)


def typical(sizes: FloatArray) -> float:
    """Usual size of a swing: the median weighed by size, so that many small ones do not pull.

    0 for none.
    """
    if not sizes.size:
        return 0.0
    order = np.sort(sizes)
    share = np.cumsum(order) / order.sum()
    return float(order[np.searchsorted(share, 0.5)])
