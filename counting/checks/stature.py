"""How tall the athlete is: what all lengths in metres rest on, however many cameras look.

A camera knows angles; a small athlete nearby looks like a tall one far away, and two cameras that
know nothing of their distance make no difference. Lengths are fitted for an assumed stature and put
right here by what is known of it: the athlete's word, or plates, which are made to measure. What
stays unknown widens every length by its share. Angles need none of it.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.body.evidence import STATURE_M
from counting.body.motion import STATURE_SPREAD
from counting.checks.types import StatureSource

_TOLD_M: Final = 0.015
"""Standard error of a stature that somebody tells: shoes, rounding, flattery. Common practice, no
source."""

_BUILT: Final = 0.025
"""How far limbs as they are read are longer or shorter than a stature lets expect: root mean square
of nine labelled pairs of films."""


@dataclass(frozen=True, slots=True)
class Stature:
    """A body height.

    Attributes
    ----------
    height_m
        The height.
    u_m
        Its standard uncertainty.
    spread
        Standard uncertainty of lengths that it makes of those of the fit, as a share of them: of a
        build that is not the usual one, a height tells less than plates, and these less of it.
    source
        From what it is known.
    """

    height_m: float
    u_m: float
    spread: float
    source: StatureSource

    @property
    def scale(self) -> float:
        """True lengths over those of the fit, which assumes `STATURE_M`."""
        return self.height_m / STATURE_M


ASSUMED: Final = Stature(STATURE_M, STATURE_M * STATURE_SPREAD, STATURE_SPREAD, "assumed")


def given(height_m: float) -> Stature:
    """Take a height that the athlete tells."""
    return Stature(height_m, _TOLD_M, float(np.hypot(_TOLD_M / height_m, _BUILT)), "given")


def by_plates(known: Stature, scale: float, spread: float) -> Stature:
    """Take what plates say into account.

    Parameters
    ----------
    known
        What is known without them.
    scale
        Size of a plate over its size in the fit.
    spread
        Standard uncertainty of that ratio as a share of itself.

    Returns
    -------
    Stature
        The mean of both on a log scale, each weighed by the inverse square of its error.
    """
    before, seen = known.spread**-2.0, spread**-2.0
    off = float(np.log(scale / known.scale))
    height_m = known.height_m * float(np.exp(off * seen / (seen + before)))
    together = float((seen + before) ** -0.5)
    u_m = height_m * float(np.hypot(together, _BUILT))
    return Stature(height_m, u_m, together, "plates")
