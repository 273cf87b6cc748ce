"""Swings of the driving signal that may be repetitions, and how large this athlete's are.

Summits are found as ``scipy.signal.find_peaks`` does, which takes a second to load.
"""

from itertools import pairwise
from typing import Final

import numpy as np

from counting.signals.filtering import dual_pass
from counting.signals.percentiles import percentile
from vision.track import FloatArray, IntArray

LONGEST_CYCLE_S: Final = 60.0
"""No repetition takes longer; keeps the search linear in the film's length."""

AWAY: Final = 0.5
"""A halt nearer to the turn than this share of the usual swing is a sticking point."""

_FASTEST_BODY_HZ: Final = 2.5
"""Faster than this no body goes up and down: two and a half reps a second (common practice, no
source)."""

_COMPARABLE: Final = 0.25
"""A turn under this share of another's size is a wobble on its slope, no neighbour. Not less
than the usual share that makes a repetition, or a wobble would make two halves of a top, both too
small."""


def without_gaps(driver: FloatArray) -> FloatArray:
    """Bridge unseen stretches by straight lines, which hold no turning point of their own."""
    known = np.flatnonzero(np.isfinite(driver))
    if not known.size:
        return np.empty(0)
    return np.interp(np.arange(driver.size), known, driver[known])


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
    turns = _summits(driver)
    sizes = _prominences(driver, turns, int(LONGEST_CYCLE_S * rate_hz), smallest)
    turns, sizes = turns[sizes >= smallest], sizes[sizes >= smallest]
    return turns, np.minimum(sizes, _over_neighbours(driver, turns, sizes))


def _summits(series: FloatArray) -> IntArray:
    """Find samples higher than what is to both sides, the middle one of several alike."""
    firsts = np.flatnonzero(np.diff(series, prepend=np.nan) != 0)
    lasts = np.append(firsts[1:], len(series)) - 1
    level = series[firsts]
    summits = 1 + np.flatnonzero((level[1:-1] > level[:-2]) & (level[1:-1] > level[2:]))
    middles: IntArray = (firsts[summits] + lasts[summits]) // 2
    return middles


def _prominences(series: FloatArray, summits: IntArray, reach: int, smallest: float) -> FloatArray:
    """How far the series falls on both sides of each summit before it rises higher, or for so long.

    Between two summits lies one valley: going from summit to summit is enough. Of a summit that
    falls by less than ``smallest`` on its left, nobody asks how much less it is.
    """
    if not len(summits):
        return np.empty(0)
    valleys = np.minimum.reduceat(series, summits).tolist()
    places, heights = summits.tolist(), series[summits].tolist()
    bases = []
    for number, (place, height) in enumerate(zip(places, heights, strict=True)):
        left = right = height
        first, last = max(place - reach, 0), min(place + reach, len(series) - 1)
        here = number
        while here and places[here - 1] >= first:
            here -= 1
            left = min(left, valleys[here])
            if heights[here] > height:
                break
        else:
            left = min(left, float(series[first : places[here] + 1].min()))
        if height - left < smallest:
            bases.append(left)
            continue
        here = number
        while here + 1 < len(places) and places[here + 1] <= last:
            right = min(right, valleys[here])
            here += 1
            if heights[here] > height:
                break
        else:
            right = min(right, float(series[places[here] : last + 1].min()))
        bases.append(max(left, right))
    rises: FloatArray = series[summits] - np.array(bases)
    return rises


def jitter(driver: FloatArray, rate_hz: float) -> float:
    """Size of a driver's fast part, which no body this heavy moves through: its landmarks' error.

    The 90th percentile of what a 2.5 Hz low-pass takes away; 0 for a series too short for it.
    """
    fast = np.abs(driver - dual_pass(driver, rate_hz, _FASTEST_BODY_HZ))
    known = fast[np.isfinite(fast)]
    return percentile(known, 90) if known.size else 0.0


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
