"""Swings of the driving signal that may be repetitions, and how large this athlete's are."""

from itertools import pairwise
from typing import Final

import numpy as np
from scipy import signal

from counting.signals.filtering import dual_pass
from vision.track import FloatArray, IntArray

LONGEST_CYCLE_S: Final = 60.0
"""No repetition takes longer; keeps the search linear in the film's length."""

_FASTEST_BODY_HZ: Final = 2.5

_COMPARABLE: Final = 0.25
"""A turn under this share of another's size is a wobble on its slope, no neighbour. Not less
than the usual share that makes a repetition, or a wobble would make two halves of a top, both too
small."""


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
        (K,) how far each rises over the higher of the levels that part it from its neighbours.
    """
    window = int(2 * LONGEST_CYCLE_S * rate_hz) | 1
    turns, found = signal.find_peaks(driver, prominence=smallest, wlen=window)
    sizes = np.asarray(found["prominences"], float)
    return turns.astype(np.int64), np.minimum(sizes, _over_neighbours(driver, turns, sizes))


def trembling(driver: FloatArray, rate_hz: float) -> float:
    """Size of a driver's fast part, which no body this heavy moves through: its landmarks' error.

    The 90th percentile of what a 2.5 Hz low-pass takes away; 0 for a series too short for it.
    """
    fast = np.abs(driver - dual_pass(driver, rate_hz, _FASTEST_BODY_HZ))
    known = fast[np.isfinite(fast)]
    return float(np.percentile(known, 90)) if known.size else 0.0


def _over_neighbours(driver: FloatArray, turns: IntArray, sizes: FloatArray) -> FloatArray:
    """Rise of each turn over the levels between it and the next turns of comparable size.

    The largest swing of a set looks larger than it is, because nothing higher stands between it
    and the drop off the bar or the walk away; towards its neighbours it shows its true size.
    """
    between = [float(driver[a : b + 1].min()) for a, b in pairwise(turns)]
    local = sizes.copy()
    for k, (turn, size) in enumerate(zip(turns, sizes, strict=True)):
        for others, step in ((range(k - 1, -1, -1), 0), (range(k + 1, len(turns)), -1)):
            base = np.inf
            for other in others:
                base = min(base, between[other + step])
                if sizes[other] >= _COMPARABLE * size:
                    local[k] = min(local[k], float(driver[turn]) - base)
                    break
    return local


def typical(sizes: FloatArray) -> float:
    """Usual size of a swing: the median weighed by size, so that many small ones do not pull.

    0 for none.
    """
    if not sizes.size:
        return 0.0
    order = np.sort(sizes)
    share = np.cumsum(order) / order.sum()
    return float(order[np.searchsorted(share, 0.5)])
