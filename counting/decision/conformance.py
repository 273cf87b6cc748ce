"""Conformance of one measured value with a limit (JCGM 106:2012), in three states.

A value y with standard uncertainty u is known only as a normal distribution about y. The
conformance probability is the share of it on the permitted side of the limit (JCGM 106, 7.3).
ISO 14253-1 lets nobody prove anything inside the uncertainty zone about the limit; here that zone
is the verdict "too close".
"""

import math
from dataclasses import dataclass
from typing import Final, Literal

from scipy.special import ndtr, ndtri

Relation = Literal["at least", "at most"]
State = Literal["met", "not met", "too close"]

UNDECIDED: Final = 0.5
"""Probability of what nothing is known of."""


@dataclass(frozen=True, slots=True)
class Risk:
    """How sure a definite verdict must be.

    Attributes
    ----------
    met_at_least
        Conformance probability from which a check counts as met: one minus it bounds the
        consumer's risk, a bad rep passed.
    not_met_at_most
        Conformance probability up to which a check counts as not met: it bounds the producer's
        risk, a good rep refused.
    """

    met_at_least: float = 0.95
    not_met_at_most: float = 0.05

    def __post_init__(self) -> None:
        if not 0.0 <= self.not_met_at_most < self.met_at_least <= 1.0:
            raise ValueError(
                "risk: not_met_at_most must be below met_at_least, both from 0 to 1, "
                f"got {self.not_met_at_most} and {self.met_at_least}"
            )


def conformance_probability(
    value: float, uncertainty: float, limit: float, relation: Relation
) -> float:
    """Probability that the true value is on the permitted side of a limit.

    Parameters
    ----------
    value, uncertainty, limit
        In one unit; ``uncertainty`` is the standard uncertainty (k = 1), zero allowed.
    relation
        "at least" for a lower limit, "at most" for an upper one.

    Returns
    -------
    float
        Normal distribution function of the margin in standard uncertainties (JCGM 106:2012,
        formulas 9 and 10). NaN in ``value`` or ``uncertainty``, or an infinite uncertainty, says
        nothing about the rep: 0.5.

    Raises
    ------
    ValueError
        ``uncertainty`` is negative.
    """
    if uncertainty < 0:
        raise ValueError(f"standard uncertainty is {uncertainty}, must not be negative")
    margin = value - limit if relation == "at least" else limit - value
    if not math.isfinite(margin) or not math.isfinite(uncertainty):
        return UNDECIDED
    if uncertainty == 0:
        return 1.0 if margin >= 0 else 0.0
    return float(ndtr(margin / uncertainty))


def call_interval(
    value: float, uncertainty: float, relation: Relation, risk: Risk
) -> tuple[float, float]:
    """Give the ends of the call's interval about a value; see `call_tails`."""
    low, high = (value + uncertainty * float(ndtri(tail)) for tail in call_tails(relation, risk))
    return low, high


def decide(probability: float, risk: Risk) -> State:
    """Three-state verdict on one check from its conformance probability."""
    if probability >= risk.met_at_least:
        return "met"
    if probability <= risk.not_met_at_most:
        return "not met"
    return "too close"


def call_tails(relation: Relation, risk: Risk) -> tuple[float, float]:
    """Give the shares of what is known of a value that lie below the ends of the call's interval.

    The limit lies inside that interval exactly where the check is too close: "at least" is met
    where all but ``1 - met_at_least`` of the true values reach it, and so on.
    """
    if relation == "at least":
        return 1.0 - risk.met_at_least, 1.0 - risk.not_met_at_most
    return risk.not_met_at_most, risk.met_at_least
