"""From the checks of one rep to the rep.

The checks of a rep are read from one body in one film, and the reps of a film share its errors. Two
things are kept apart:

- the *verdict* is that of the worst check, as a judge calls it: "no-rep" where one is surely not
  met, which holds under any dependence (upper bound of Fréchet 1935), "good" where each is met. So
  that many checks just met do not add up to a doubtful rep, "good" also needs the joint probability
  to keep the risk of the rep within twice that of one check;
- the *probability* of a good rep, reported and calibrated, is that of all checks together: errors
  of two checks of one rep did not correlate measurably (0.0 over 686 pairs of bodies left out).
"""

from collections.abc import Sequence
from typing import Final, Literal

import numpy as np
from scipy.special import ndtr, ndtri

from counting.decision.conformance import Risk

RepState = Literal["good", "no-rep", "too close", "only counted"]

_REP_OVER_CHECK: Final = 2.0
"""Risk that a rep called good misses some check, over that of one check: with the usual 5 % of a
check, a rep of which each is met at 95 % is good from 90 % on for all of them."""
_TINY: Final = 1e-12
"""Nothing is surer than that: normal scores of 0 and 1 are infinite."""
_ROOTS, _WEIGHTS = np.polynomial.hermite_e.hermegauss(81)
NODES: Final = _ROOTS
NODE_WEIGHTS: Final = _WEIGHTS / _WEIGHTS.sum()


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


def rep_state(probabilities: Sequence[float], joint: float, risk: Risk) -> RepState:
    """Verdict on a rep from the conformance probabilities of its checks, each and all together."""
    worst = min(probabilities, default=1.0)
    if worst <= risk.not_met_at_most:
        return "no-rep"
    at_least = 1.0 - _REP_OVER_CHECK * (1.0 - risk.met_at_least)
    if worst >= risk.met_at_least and joint >= at_least:
        return "good"
    return "too close"
