"""Medians of windows about the few samples that need one.

``scipy.ndimage`` takes them about all samples; loading it takes longer than a film's few.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from vision.track import FloatArray, IntArray


def medians_about(values: FloatArray, samples: IntArray, window: int) -> FloatArray:
    """Median of the window about each of some samples; beyond the ends the last value goes on.

    Parameters
    ----------
    values
        (n,) without NaN.
    samples
        (k,) which of them.
    window
        Odd number of samples.

    Returns
    -------
    (k,) medians.
    """
    reach = window // 2
    windows = sliding_window_view(np.pad(values, reach, mode="edge"), window)
    medians: FloatArray = np.partition(windows[samples], reach, axis=1)[:, reach]
    return medians
