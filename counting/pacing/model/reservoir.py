"""How a reservoir of work refills: the forms that every part of pacing shares.

The linear form is that of critical power: in rest the level rises at a constant rate. The
exponential form slows down as the reservoir fills. The two-phase form is two exponential ones, a
fast and a slow, side by side. They agree poorly over minutes, which is why a forecast is made with
all of them.
"""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
BoolArray: TypeAlias = npt.NDArray[np.bool_]
Numeric: TypeAlias = float | FloatArray


def linear_refill(
    level: Numeric, rest_s: Numeric, rate_per_s: Numeric, full: Numeric
) -> FloatArray:
    """Level after a rest with constant refill, never above ``full``.

    Parameters
    ----------
    level, full
        In one unit (joules, or a share of the whole). Arrays broadcast.
    rest_s
        Length of the rest, seconds.
    rate_per_s
        Refill in the unit of ``level`` per second.

    Returns
    -------
    Level at the end of the rest.

    Notes
    -----
    Monod and Scherrer 1965 (critical power); intermittent form Morton and Billat 2004.
    """
    filled: FloatArray = np.minimum(np.asarray(level + rate_per_s * rest_s), full)
    return filled


def exponential_refill(
    level: Numeric, rest_s: Numeric, time_constant_s: Numeric, full: Numeric
) -> FloatArray:
    """Level after a rest in which what is missing decays with a time constant.

    Parameters
    ----------
    level, full
        In one unit. Arrays broadcast.
    rest_s, time_constant_s
        Seconds.

    Returns
    -------
    Level at the end of the rest.

    Notes
    -----
    Skiba et al. 2012 and 2015 recover the work above critical power in this form.
    """
    filled: FloatArray = full - (full - level) * np.exp(-np.asarray(rest_s / time_constant_s))
    return filled
