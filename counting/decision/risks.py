"""Consumer's and producer's risk of a decision rule (JCGM 106:2012, chapters 8 and 9)."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from counting.decision.conformance import Risk, decide

_NODES = 20001
_REACH = 9.0


@dataclass(frozen=True, slots=True)
class TwoRisks:
    """Both wrong decisions, apart: a judge and an athlete care about different ones.

    Attributes
    ----------
    consumer
        Probability of a bad one being accepted.
    producer
        Probability of a good one being refused.
    """

    consumer: float
    producer: float


def global_risks(
    prior_mean: float,
    prior_sd: float,
    measurement_sd: float,
    tolerance: tuple[float, float],
    acceptance: tuple[float, float],
) -> TwoRisks:
    """Risks of an acceptance interval before anything is measured.

    Parameters
    ----------
    prior_mean, prior_sd
        Normal distribution of the true values.
    measurement_sd
        Standard uncertainty of one measurement.
    tolerance, acceptance
        (lower, upper): what is good, and what is accepted.

    Returns
    -------
    TwoRisks
        Joint probabilities (JCGM 106:2012, formulas 17 and 19), integrated over the true value by
        the trapezium rule.
    """
    inside, outside = _grid_inside(prior_mean, prior_sd, tolerance)

    def accepted_share(true_value: np.ndarray) -> np.ndarray:
        share: np.ndarray = ndtr((acceptance[1] - true_value) / measurement_sd) - ndtr(
            (acceptance[0] - true_value) / measurement_sd
        )
        return share

    def density(true_value: np.ndarray) -> np.ndarray:
        z = (true_value - prior_mean) / prior_sd
        height: np.ndarray = np.exp(-0.5 * z * z) / (prior_sd * math.sqrt(2 * math.pi))
        return height

    consumer = sum(float(np.trapezoid(accepted_share(x) * density(x), x)) for x in outside)
    producer = float(np.trapezoid((1 - accepted_share(inside)) * density(inside), inside))
    return TwoRisks(consumer, producer)


def _grid_inside(
    mean: float, sd: float, tolerance: tuple[float, float]
) -> tuple[np.ndarray, list[np.ndarray]]:
    """Split the prior's reach at the tolerance limits, so that no interval straddles one."""
    low, high = mean - _REACH * sd, mean + _REACH * sd
    left, right = (min(max(edge, low), high) for edge in tolerance)
    inside = np.linspace(left, right, _NODES)
    return inside, [np.linspace(low, left, _NODES), np.linspace(right, high, _NODES)]


def posterior(
    prior_mean: float, prior_sd: float, reading: float, measurement_sd: float
) -> tuple[float, float]:
    """Mean and standard deviation of the true value after one reading (normal times normal).

    JCGM 106:2012, annex A.4.4: both are weighted by their inverse variances.
    """
    weight_prior, weight_reading = prior_sd**-2, measurement_sd**-2
    total = weight_prior + weight_reading
    return (
        (prior_mean * weight_prior + reading * weight_reading) / total,
        math.sqrt(1 / total),
    )


def risks_of_verdicts(probabilities_good: Sequence[float], risk: Risk) -> TwoRisks:
    """Sum the wrong definite verdicts to be expected among judged reps.

    Returns
    -------
    TwoRisks
        ``consumer``: bad reps expected among those called good; ``producer``: good reps expected
        among those called no-rep.
    """
    consumer = sum(1 - p for p in probabilities_good if decide(p, risk) == "met")
    producer = sum(p for p in probabilities_good if decide(p, risk) == "not met")
    return TwoRisks(consumer, producer)
