"""Learning what stated probabilities are worth from what came true."""

from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize
from scipy.special import log_expit, logit

from counting.decision.reliability import FloatArray, Reliability

_SHIFT_SPREAD: Final = 1.0
_SLOPE_SPREAD: Final = 0.25
"""What is believed of the correction before looking, standard deviations: little of it."""
_EDGE: Final = 1e-9


def learn_reliability(stated: npt.ArrayLike, met: npt.ArrayLike) -> Reliability:
    """Learn the correction by penalised maximum likelihood.

    Parameters
    ----------
    stated
        (n,) probabilities, each of a case the model was not made from.
    met
        (n,) what came true.

    Returns
    -------
    Reliability
        Nearly `AS_STATED` where there is little to learn from.
    """
    odds = logit(np.clip(np.asarray(stated, float), _EDGE, 1.0 - _EDGE))
    sign = np.where(np.asarray(met, bool), 1.0, -1.0)

    def loss(correction: FloatArray) -> float:
        shift, slope = correction
        penalty = (shift / _SHIFT_SPREAD) ** 2 + ((slope - 1.0) / _SLOPE_SPREAD) ** 2
        return float(0.5 * penalty - log_expit(sign * (shift + slope * odds)).sum())

    found = minimize(loss, np.array([0.0, 1.0]), method="L-BFGS-B", bounds=[(None, None), (0.1, 3)])
    return Reliability(shift=float(found.x[0]), slope=float(found.x[1]))
