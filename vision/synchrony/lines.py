"""A straight line through lags of which some are wrong."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.synchrony.types import FloatArray

DRIFT_PRIOR: Final = 50e-6
"""Standard deviation of the drift between two phones' clocks: their crystals are good to a few tens
of parts in a million (common practice, no source)."""
_ROUNDS: Final = 20
"""Of reweighting; the line has come to rest by then."""
_TAIL: Final = 4.0
"""Squared scale of the Cauchy weights in standard errors: two standard errors weigh half."""


@dataclass(frozen=True, slots=True)
class Line:
    """``lag_s = level_s + slope (time_s - middle_s)`` with standard uncertainties.

    ``level_u_s`` is that of the lag at ``middle_s``, where it does not depend on the slope.
    """

    level_s: float
    slope: float
    middle_s: float
    level_u_s: float
    slope_u: float

    def at(self, time_s: FloatArray) -> FloatArray:
        """Lags at some times."""
        return np.asarray(self.level_s + self.slope * (time_s - self.middle_s))


def robust_line(time_s: FloatArray, lag_s: FloatArray, error_s: float) -> Line:
    """Fit lags by iteratively reweighted least squares with Cauchy weights (Huber 1981).

    Parameters
    ----------
    time_s, lag_s
        (n,) with n >= 1, all finite.
    error_s
        Least standard error of a lag; the residuals' own spread stands in where it is larger.

    Returns
    -------
    Line
        With a normal prior of `DRIFT_PRIOR` on its slope.
    """
    level, slope = float(np.median(lag_s)), 0.0
    middle_s = float(np.median(time_s))
    spread_s, weight = error_s, np.ones(len(lag_s))
    for _ in range(_ROUNDS):
        off = lag_s - level - slope * (time_s - middle_s)
        spread_s = max(error_s, 1.4826 * float(np.median(np.abs(off))))
        weight = 1.0 / (1.0 + (off / spread_s) ** 2 / _TAIL)
        middle_s = float(np.average(time_s, weights=weight))
        run = time_s - middle_s
        level = float(np.average(lag_s, weights=weight))
        information = (weight * run**2).sum() / spread_s**2 + DRIFT_PRIOR**-2
        slope = float((weight * run * (lag_s - level)).sum() / spread_s**2 / information)
    return Line(
        level_s=level,
        slope=slope,
        middle_s=middle_s,
        level_u_s=spread_s / float(np.sqrt(weight.sum())),
        slope_u=float(information**-0.5),
    )
