"""Where the athlete, and everybody else, must be at any time: on the line between detections."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.athlete.detection import Sample
from vision.athlete.tracking import BRIDGED_S, Path
from vision.pose.movenet import separation

FloatArray = npt.NDArray[np.float64]

BEYOND_S: Final = 0.5
"""How long before the first and after the last detection somebody is taken to be still there."""
_AT_ONCE_S: Final = 1e-6
_LONGEST: Final = 90.0
_LEG_SHARE: Final = 0.49
_TRUNK_SHARE: Final = 0.288
"""Hip to ankle, and shoulder to hip, over stature (Drillis and Contini 1966 in Winter 2009)."""


class Whereabouts:
    """One person's joints over time.

    Parameters
    ----------
    path
        The person's; None for nobody.
    samples
        What it leads through.
    """

    def __init__(self, path: Path | None, samples: Sequence[Sample]) -> None:
        self._time_s = np.array([samples[k].time_s for k in path.place] if path else [])
        joints = [one.image_px for one in path.detections] if path else []
        self._joints = np.array(joints) if joints else np.empty((0, 17, 2))

    def at(self, time_s: float) -> FloatArray | None:
        """(17, 2) joints at a time, pixels; None where the person is not known to be."""
        if not len(self._time_s):
            return None
        after = int(np.searchsorted(self._time_s, time_s))
        if after in {0, len(self._time_s)}:
            nearest = min(after, len(self._time_s) - 1)
            there = abs(self._time_s[nearest] - time_s) <= BEYOND_S
            return self._joints[nearest] if there else None
        start_s, end_s = self._time_s[after - 1 : after + 1]
        if end_s - start_s > BRIDGED_S:
            nearest = after - 1 if time_s - start_s < end_s - time_s else after
            there = abs(self._time_s[nearest] - time_s) <= BEYOND_S
            return self._joints[nearest] if there else None
        share = (time_s - start_s) / (end_s - start_s)
        between: FloatArray = (1 - share) * self._joints[after - 1] + share * self._joints[after]
        return between

    def detected_at(self, time_s: float) -> bool:
        """Whether the person was detected just then."""
        return bool(len(self._time_s)) and bool(np.abs(self._time_s - time_s).min() < _AT_ONCE_S)

    def stature_px(self) -> float:
        """Height of the standing body in the picture; NaN where nobody was detected."""
        return standing_px(self._joints) if len(self._joints) else float("nan")


def standing_px(joints_px: FloatArray) -> float:
    """Height of a standing body from the longest legs and trunks of its (N, 17, 2) joints.

    The box around the joints is small where the body lies, folds or is seen end-on.
    """

    def length(one: FloatArray, other: FloatArray) -> FloatArray:
        measured: FloatArray = np.hypot(*np.moveaxis(one - other, -1, 0))
        return measured

    legs = [
        length(joints_px[:, hip], joints_px[:, hip + 2])
        + length(joints_px[:, hip + 2], joints_px[:, hip + 4])
        for hip in (11, 12)
    ]
    trunk = length(joints_px[:, 5:7].mean(axis=1), joints_px[:, 11:13].mean(axis=1))
    leg_px = float(np.percentile(np.maximum(*legs), _LONGEST))
    return max(leg_px / _LEG_SHARE, float(np.percentile(trunk, _LONGEST)) / _TRUNK_SHARE)


def is_somebody_else(
    joints_px: FloatArray, expected_px: FloatArray, others: Sequence[FloatArray]
) -> bool:
    """Whether a reading (17, 2) lies nearer to another person than to where the athlete must be."""
    own = separation(joints_px, expected_px)
    return any(separation(joints_px, other) < own for other in others)
