"""From the checks of one rep to the rep.

The checks of a rep are read from one body in one film: a camera tilted wrongly makes the depth and
the lockout err together. Multiplying their probabilities would assume the opposite. Two things are
therefore kept apart:

- the *verdict* uses bounds that hold under any dependence (Fréchet 1935): "good" needs the lower
  bound of "all checks met" to reach the limit, "no-rep" needs the upper bound, which is the worst
  check, to fall to its limit;
- the *probability* of a good rep, reported and calibrated, shares one normal error among the
  checks (a one-factor Gaussian copula) and lies between these bounds.
"""

from collections.abc import Sequence
from typing import Final, Literal

import numpy as np
from scipy.special import ndtr, ndtri

from counting.decision.conformance import Risk

RepState = Literal["good", "no-rep", "too close"]

SHARED_ERROR: Final = 0.1
"""Share of variance that errors of two checks of one rep are taken to have in common.

On labelled films the errors of two checks of one rep did not correlate measurably (0.0 over 686
pairs of bodies left out); a little is kept, because a film that misleads one check may mislead
another in ways no labelled film shows.
"""

_TINY = 1e-12
_ROOTS, _WEIGHTS = np.polynomial.hermite_e.hermegauss(81)
NODES: Final = _ROOTS
NODE_WEIGHTS: Final = _WEIGHTS / _WEIGHTS.sum()


def joint_bounds(probabilities: Sequence[float]) -> tuple[float, float]:
    """Fréchet bounds of "all met": what no dependence can undercut or exceed."""
    if not probabilities:
        return 1.0, 1.0
    lower = 1.0 - sum(1.0 - p for p in probabilities)
    return max(0.0, lower), min(probabilities)


def conditional_probabilities(probabilities: Sequence[float], shared: float) -> np.ndarray:
    """Probabilities given the common error, one row for each quadrature node of that error.

    Parameters
    ----------
    probabilities
        Marginal probabilities, (n,).
    shared
        Correlation of the latent normal errors, 0 to below 1.

    Returns
    -------
    ndarray
        (nodes, n). Averaged over the nodes each column gives its marginal back.
    """
    if not 0.0 <= shared < 1.0:
        raise ValueError(f"shared error is {shared}, must be from 0 to below 1")
    z = ndtri(np.clip(np.asarray(probabilities, float), _TINY, 1 - _TINY))
    given: np.ndarray = ndtr((z[None, :] + np.sqrt(shared) * NODES[:, None]) / np.sqrt(1 - shared))
    return given


def probability_all(probabilities: Sequence[float], shared: float = SHARED_ERROR) -> float:
    """Probability that all checks are met when their errors share one part."""
    if not probabilities:
        return 1.0
    joint = float(NODE_WEIGHTS @ conditional_probabilities(probabilities, shared).prod(axis=1))
    lower, upper = joint_bounds(probabilities)
    return min(max(joint, lower), upper)


def rep_state(probabilities: Sequence[float], risk: Risk) -> RepState:
    """Verdict on a rep from the conformance probabilities of its checks."""
    lower, upper = joint_bounds(probabilities)
    if upper <= risk.not_met_at_most:
        return "no-rep"
    if lower >= risk.met_at_least:
        return "good"
    return "too close"
