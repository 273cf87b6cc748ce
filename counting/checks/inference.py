"""True values of the reps of one film, from readings that share an error.

Two things are unknown about a film beyond its reps: the error common to all readings (this body,
this camera, these clothes) and what this athlete typically does. Both are known only as far as
labelled films tell, and both are met by every rep. Readings of the other reps therefore serve as
reference: an athlete who stands up nine times alike and once less has, that once, stood up less,
whatever the camera adds to all ten.

A miss that the film shows by half reads like half a miss: its error grows with how far it is from
the usual.

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

GROSS_SHARE: Final = 0.01
GROSS_SHARE_A_FACTOR: Final = 0.02
LARGEST_GROSS_SHARE: Final = 0.08
GROSS_FACTOR: Final = 5.0
FILM_GROSS_SHARE: Final = 0.08
FILM_GROSS_FACTOR: Final = 3.0
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
    factor: FloatArray,
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
    factor
        (n,) how many times larger than usual each reading's own error is: the worse the body is
        seen, the likelier is a gross error.
    """
    typical = calibration.typical + calibration.typical_spread * _nodes()
    common = common_error * FILM_GROSS_FACTOR * np.sinh(_nodes()) / np.sinh(_REACH) * _REACH
    t, b = (grid.ravel() for grid in np.meshgrid(typical, common, indexing="ij"))
    log_weight = -0.5 * ((t - calibration.typical) / calibration.typical_spread) ** 2
    log_weight = log_weight + np.log(_long_tailed(b / common_error, FILM_GROSS_SHARE))
    gross = np.minimum(GROSS_SHARE + GROSS_SHARE_A_FACTOR * (factor - 1.0), LARGEST_GROSS_SHARE)
    parts = [
        _rep_parts(reading, own, share, t, b, calibration)
        for reading, own, share in zip(readings, own_error, gross, strict=True)
    ]
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


def _long_tailed(z: FloatArray, gross: float) -> FloatArray:
    """Density of a normal error with a small share of gross ones, times the grid's spacing."""
    density = (1 - gross) * np.exp(-0.5 * z**2)
    density = density + gross / FILM_GROSS_FACTOR * np.exp(-0.5 * (z / FILM_GROSS_FACTOR) ** 2)
    spacing = np.sqrt(1 + (z * np.sinh(_REACH) / (FILM_GROSS_FACTOR * _REACH)) ** 2)
    weight: FloatArray = density * spacing
    return weight


def _rep_parts(
    reading: float,
    own: float,
    gross: float,
    t: FloatArray,
    b: FloatArray,
    calibration: Calibration,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Components of one rep given the film: (parts, grid) weight, mean and deviation."""
    weights, means, deviations = [], [], []
    kinds = [(1 - calibration.miss_share, t, calibration.rep_spread, np.zeros_like(t))]
    kinds += [
        (
            calibration.miss_share * share,
            np.full_like(t, centre),
            width,
            calibration.slope_error * np.abs(centre - t),
        )
        for share, centre, width in calibration.misses
    ]
    errors = ((1 - gross, own), (gross, GROSS_FACTOR * own))
    if not np.isfinite(reading):
        return (
            np.stack([np.full_like(t, share) for share, _, _, _ in kinds]),
            np.stack([centre for _, centre, _, _ in kinds]),
            np.stack([np.full_like(t, width) for _, _, width, _ in kinds]),
        )
    for kind_share, centre, width, further in kinds:
        for error_share, own_error in errors:
            error = np.sqrt(own_error**2 + further**2)
            total = width**2 + error**2
            miss = reading - b - centre
            weights.append(
                kind_share * error_share * np.exp(-0.5 * miss**2 / total) / np.sqrt(total)
            )
            means.append(centre + miss * width**2 / total)
            deviations.append(width * error / np.sqrt(total))
    return np.stack(weights), np.stack(means), np.stack(deviations)
