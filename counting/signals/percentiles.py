"""Percentiles of what is known, of which films need thousands."""

import math

import numpy as np

from vision.track import FloatArray


def percentile(values: FloatArray, share: float) -> float:
    """Percentile by the line between two values, as the library's, which takes ten times longer.

    Parameters
    ----------
    values
        (n,) without NaN.
    share
        0 to 100.

    Returns
    -------
    The same as ``np.percentile``, to the last bit; NaN of no values.
    """
    count = values.size
    if not count:
        return float("nan")
    place = (count - 1) * (share / 100)
    below = math.floor(place)
    above = min(below + 1, count - 1)
    ordered = np.partition(values, (below, above))
    low, high = float(ordered[below]), float(ordered[above])
    part = place - below
    return high - (high - low) * (1 - part) if part >= 0.5 else low + (high - low) * part
