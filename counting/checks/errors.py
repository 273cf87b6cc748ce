"""Values of one check in one film with how far they may be off, and what they tell of each rep."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.inference import (
    AS_LABELLED,
    FilmError,
    Posterior,
    TrueValues,
    posterior_of_reps,
)
from counting.checks.reading import CheckClues
from counting.checks.stature import ASSUMED, Stature
from counting.checks.table import Calibration, Values, covered, view_name
from counting.movements.types import Check

_MAD_TO_SD: Final = 1.4826
"""Standard deviations of normal values in their median distance from the median (same source)."""
_MAD_EFFICIENCY: Final = 0.37
"""Of the median distance from the median as a measure of spread (Rousseeuw and Croux 1993)."""
_LEAST_SCATTER: Final = 0.05
_LARGEST_SCATTER: Final = 1.2
"""A film's scatter over the table's error, beyond which it is not believed further: few reps are
alike, or apart, by chance (chosen, not measured)."""
_TABLE_SPREAD: Final = 0.4
_SPREAD_A_FACTOR: Final = 0.35
"""How far the table's errors from rep to rep are from a film's true ones (log scale): where all is
seen, and more for each power of e of the error factor. From labelled films."""


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Values of one check on the reps of a film.

    Attributes
    ----------
    value
        (n,) in the check's unit, NaN where nothing was read.
    own_error, common_error
        (n,) scale of each value's own error, and of the film's as it shows in it, without what a
        stature that is only assumed adds to lengths.
    tuned
        What people's calls taught of the film's error; of several films together nothing is known.
    """

    value: FloatArray
    own_error: FloatArray
    common_error: FloatArray
    tuned: FilmError = AS_LABELLED


def readings_of(read: CheckClues, entry: Calibration | None, view_deg: float) -> Readings | None:
    """Make values of one check's features; None where it cannot be judged from this view."""
    view = view_name(view_deg)
    if entry is None or view is None or not covered(entry, view):
        return None
    return with_errors(entry.combine(read.features, read.factors, view_deg), entry, view)


def with_errors(values: Values, calibration: Calibration, view: str) -> Readings:
    """Say how far values of one film may be off, seen from one view; NaN where nothing was read."""
    readings = values.value
    expected = calibration.within[view]
    factor = np.hypot(expected * values.growth, values.own_unsure) / expected
    common = math.hypot(calibration.between[view] * values.shared_growth, values.shared_unsure)
    return Readings(
        readings,
        _own_errors(readings, np.where(np.isfinite(readings), factor, 1.0), expected),
        np.full(len(readings), common),
        calibration.tuned.get(view, AS_LABELLED),
    )


def infer_readings(
    readings: Readings,
    before: TrueValues,
    check: Check,
    column: int = 0,
    checks: int = 1,
    stature: Stature = ASSUMED,
) -> Posterior:
    """Infer each rep from values whose errors are known."""
    value = readings.value
    scaled = np.zeros(len(value))
    if check.unit == "cm":
        # lengths of the fit scale with the stature, and are as unsure
        value = value * stature.scale
        scaled = stature.spread * np.abs(value)
    return posterior_of_reps(
        value,
        readings.own_error,
        np.hypot(readings.common_error, scaled),
        before,
        check.limit,
        check.relation,
        column,
        checks,
        readings.tuned,
    )


def _own_errors(readings: FloatArray, factor: FloatArray, expected: float) -> FloatArray:
    """Errors from rep to rep, (n,), from the table and from how much this film's own reps scatter.

    The scatter is the median distance from the median: a few misses do not widen it.

    Notes
    -----
    The table's error is a film's true one but for two unknowns, both normal on a log scale: one for
    the film, one for each power of e of the error factor, by which badly seen joints may err more
    or less than usual. What the scatter tells of reps with the usual factor carries over to others
    by the covariance (normal regression). Without a film's own word the table's stands: it is the
    root mean square over films.
    """
    known = np.isfinite(readings)
    n = int(known.sum())
    if n < 3:
        return expected * factor
    middle = np.median(readings[known])
    scatter = _MAD_TO_SD * float(np.median(np.abs(readings[known] - middle) / factor[known]))
    log_ratio = math.log(min(max(scatter / expected, _LEAST_SCATTER), _LARGEST_SCATTER))
    usual = math.log(float(np.median(factor[known])))
    unknown = _TABLE_SPREAD**2 + (_SPREAD_A_FACTOR * usual) ** 2
    carried = _TABLE_SPREAD**2 + _SPREAD_A_FACTOR**2 * usual * np.log(factor)
    gain = carried / (unknown + 0.5 / (_MAD_EFFICIENCY * (n - 1)))
    errors: FloatArray = expected * factor * np.exp(gain * (log_ratio + unknown - carried))
    return errors
