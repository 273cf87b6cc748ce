"""What stated probabilities are worth, going by what came true.

A model states the right probabilities if all its assumptions hold. Some are deliberately careful
(how often something is amiss, how wrong a reading may be), and together they may state nine in ten
where it is ninety-nine in a hundred. A logistic correction of the log odds (Platt 1999), learnt
from checks of bodies that the model had not seen (`counting.lab.reliability`), puts that right in
both directions.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import expit, logit

FloatArray = npt.NDArray[np.float64]


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
