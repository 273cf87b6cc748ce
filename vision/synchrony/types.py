"""How the clock of one film runs on that of another."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Told = Literal["sound and motion", "sound", "motion"]


class SynchronyError(ValueError):
    """Two films that cannot be put on one clock, or do not belong together."""


class TwoAthletesError(SynchronyError):
    """Sounds fit, but the people followed do not move alike; ``clock`` is that of the sounds."""

    def __init__(self, message: str, clock: "ClockFit") -> None:
        super().__init__(message)
        self.clock = clock


@dataclass(frozen=True, slots=True)
class ClockFit:
    """A moment ``t`` of the second film is at ``offset_s + t (1 + drift_ppm / 1e6)`` in the first.

    Attributes
    ----------
    offset_s, drift_ppm
        The clock.
    offset_u_s
        Standard uncertainty of a moment in the middle of what both films show.
    drift_u_ppm
        Standard uncertainty of the drift.
    told_by
        What it was found from.
    """

    offset_s: float
    drift_ppm: float
    offset_u_s: float
    drift_u_ppm: float
    told_by: Told

    def first_s(self, second_s: FloatArray) -> FloatArray:
        """Put times of the second film on the first one's clock."""
        return np.asarray(self.offset_s + second_s * (1.0 + self.drift_ppm * 1e-6))

    def second_s(self, first_s: FloatArray) -> FloatArray:
        """Put times of the first film on the second one's clock."""
        return np.asarray((first_s - self.offset_s) / (1.0 + self.drift_ppm * 1e-6))
