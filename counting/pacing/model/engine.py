"""How an engine test, an even effort to the end, tells of the whole body."""

from typing import Final

import numpy as np

from counting.pacing.model.loads import BODY_KG
from counting.pacing.model.reservoir import FloatArray

USUAL_ROW_2000_S: Final = 450.0
USUAL_RUN_5000_S: Final = 1500.0
USUAL_POWER_W_PER_KG: Final = 3.0
"""What the usual athlete of ``loads.toml`` does (common practice, no source)."""


def critical_power(time_s: FloatArray, power_w: FloatArray) -> tuple[float, float]:
    """Power that can be held for long, and the work above it, from efforts to the end.

    Parameters
    ----------
    time_s, power_w
        Shape ``(n,)``, n at least 2; no NaN.

    Returns
    -------
    Watts and joules.

    Raises
    ------
    ValueError
        Fewer than two efforts of different length.

    Notes
    -----
    Monod and Scherrer 1965: ``work = reserve + critical power * time``.
    """
    if np.unique(time_s).size < 2:
        raise ValueError("critical power needs efforts of two different lengths")
    slope, intercept = np.polyfit(time_s, time_s * power_w, 1)
    return float(slope), float(intercept)


def share_of_usual_row(time_2000_s: float) -> float:
    """Whole-body power against the usual athlete's, from 2000 m on a rowing ergometer.

    Notes
    -----
    Power against drag grows with the cube of speed.
    """
    return (USUAL_ROW_2000_S / time_2000_s) ** 3


def share_of_usual_run(time_5000_s: float) -> float:
    """Whole-body power against the usual athlete's, from 5000 m on foot: in proportion to speed."""
    return USUAL_RUN_5000_S / time_5000_s


def share_of_usual_power(critical_power_w: float, body_kg: float | None) -> float:
    """Whole-body power against the usual athlete's, from critical power and body mass."""
    return critical_power_w / (body_kg or BODY_KG) / USUAL_POWER_W_PER_KG
