"""What stated probabilities are worth, going by what came true.

A model states the right probabilities if all its assumptions hold. Some are deliberately careful
(how often something is amiss, how wrong a reading may be), and together they may state nine in ten
where it is ninety-nine in a hundred. A logistic correction of the log odds (Platt 1999), learnt
from checks of bodies that the model had not seen, puts that right in both directions.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import expit, log_expit, logit

FloatArray = npt.NDArray[np.float64]

_SHIFT_SPREAD: Final = 1.0
_SLOPE_SPREAD: Final = 0.25
"""What is believed of the correction before looking, standard deviations: little of it."""
_EDGE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Reliability:
    """Correction of a stated probability.

    Attributes
    ----------
    shift
        Added to the log odds.
    slope
        What the log odds are multiplied by; positive.
    """

    shift: float = 0.0
    slope: float = 1.0

    def corrected(self, stated: FloatArray) -> FloatArray:
        """(n,) probabilities with which what was stated comes true; 0 and 1 stay what they are."""
        true: FloatArray = expit(self.shift + self.slope * logit(stated))
        return true

    def corrected_uncertainty(self, stated: FloatArray) -> FloatArray:
        """(n,) standard uncertainties, in the unit they were stated in, that go with `corrected`.

        The log odds of a value beyond a limit go about inversely with its uncertainty, so what
        multiplies the ones divides the other. The shift speaks of how often something is amiss, not
        of how well it is read.
        """
        uncertainty: FloatArray = np.asarray(stated, float) / self.slope
        return uncertainty


AS_STATED: Final = Reliability()


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

    from scipy.optimize import minimize  # only calibration learns, and it is slow to load

    found = minimize(loss, np.array([0.0, 1.0]), method="L-BFGS-B", bounds=[(None, None), (0.1, 3)])
    return Reliability(shift=float(found.x[0]), slope=float(found.x[1]))
