"""True values of the reps of one film, from readings that share an error.

Two things are unknown about a film beyond its reps: the error common to all readings (this body,
this camera, these clothes) and what this athlete typically does. Both are known only as far as
labelled films tell, and both are met by every rep. Readings of the other reps therefore serve as
reference: an athlete who stands up nine times alike and once less has, that once, stood up less,
whatever the camera adds to all ten.

The model: reading = true value + common error + own error; true value = typical value + rep to rep
spread, or, in a share of reps, anything a miss can be. Own errors have a small share of gross ones.
The posterior is summed over a grid of the two film-wide unknowns, exactly given the model; its
reading is the prior knowledge of JCGM 106:2012, 6.2, made explicit.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtr

from counting.body.skeleton import FloatArray
from counting.checks.table import Calibration
from counting.decision.conformance import Relation

GROSS_SHARE: Final = 0.04
GROSS_FACTOR: Final = 5.0
_GRID = 61
_REACH = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What is known of each rep's true value, (n,) each."""

    value: FloatArray
    uncertainty: FloatArray
    probability_met: FloatArray


def posterior_of_reps(
    readings: FloatArray,
    own_error: FloatArray,
    common_error: float,
    calibration: Calibration,
    limit: float,
    relation: Relation,
) -> Posterior:
    """Infer the true values of all reps of a film.

    Parameters
    ----------
    readings
        (n,) calibrated readings, NaN where a rep could not be read.
    own_error
        (n,) standard deviation of each reading's own error.
    common_error
        Standard deviation of the error common to the film.
    calibration
        Tells what athletes typically do.
    limit, relation
        The standard.
    """
    typical = calibration.typical + calibration.typical_spread * _nodes()
    common = common_error * _nodes()
    t, b = (grid.ravel() for grid in np.meshgrid(typical, common, indexing="ij"))
    log_weight = -0.5 * (
        ((t - calibration.typical) / calibration.typical_spread) ** 2 + (b / common_error) ** 2
    )
    parts = [_rep_parts(r, s, t, b, calibration) for r, s in zip(readings, own_error, strict=True)]
    for weight, _, _ in parts:
        log_weight = log_weight + np.log(weight.sum(axis=0) + 1e-300)
    grid_weight = np.exp(log_weight - log_weight.max())
    grid_weight /= grid_weight.sum()
    value, spread, met = [], [], []
    sign = 1.0 if relation == "at least" else -1.0
    for weight, mean, deviation in parts:
        share = weight / (weight.sum(axis=0) + 1e-300) * grid_weight
        centre = float((share * mean).sum())
        value.append(centre)
        spread.append(float(np.sqrt((share * (deviation**2 + (mean - centre) ** 2)).sum())))
        met.append(float((share * ndtr(sign * (mean - limit) / deviation)).sum()))
    return Posterior(np.array(value), np.array(spread), np.clip(np.array(met), 0.0, 1.0))


def _nodes() -> FloatArray:
    nodes: FloatArray = np.linspace(-_REACH, _REACH, _GRID)
    return nodes


def _rep_parts(
    reading: float, own: float, t: FloatArray, b: FloatArray, calibration: Calibration
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Components of one rep given the film: (parts, grid) weight, mean and deviation."""
    weights, means, deviations = [], [], []
    kinds = (
        (1 - calibration.miss_share, t, calibration.rep_spread),
        (calibration.miss_share, np.full_like(t, calibration.miss_mean), calibration.miss_spread),
    )
    errors = ((1 - GROSS_SHARE, own), (GROSS_SHARE, GROSS_FACTOR * own))
    for kind_share, centre, width in kinds:
        for error_share, error in errors if np.isfinite(reading) else ((1.0, np.inf),):
            if not np.isfinite(reading):
                weights.append(np.full_like(t, kind_share))
                means.append(centre)
                deviations.append(np.full_like(t, width))
                continue
            total = width**2 + error**2
            miss = reading - b - centre
            weights.append(
                kind_share * error_share * np.exp(-0.5 * miss**2 / total) / np.sqrt(total)
            )
            means.append(centre + miss * width**2 / total)
            deviations.append(np.full_like(t, width * error / np.sqrt(total)))
    return np.stack(weights), np.stack(means), np.stack(deviations)
