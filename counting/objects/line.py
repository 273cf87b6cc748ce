"""Where the user says that the target of a thrown ball is."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.track import FloatArray, PoseTrack

_NARROWEST: Final = 0.01
"""Distance of the target's two points from which a line through them says how it runs."""


@dataclass(frozen=True, slots=True)
class Target:
    """A level line on the wall, as it is in the film's first picture.

    ``left`` and ``right`` are two points of it, x and y as shares of the picture's width and height
    from its upper left corner.
    """

    left: tuple[float, float]
    right: tuple[float, float]

    def ends_px(self, track: PoseTrack) -> FloatArray:
        """(2, 2) its two points in the steadied picture."""
        size = np.array([track.width_px, track.height_px], dtype=np.float64)
        roll = track.camera_roll_rad[0]
        away = (np.array([self.left, self.right]) - 0.5) * size - track.camera_shift_px[0]
        turn = np.array([[np.cos(roll), np.sin(roll)], [-np.sin(roll), np.cos(roll)]])
        ends: FloatArray = away @ turn.T + size / 2
        return ends


def target_of(numbers: Sequence[float]) -> Target:
    """Take a target from x and y of two points.

    Raises
    ------
    ValueError
        They are not four shares, or the first point is not left of the second.
    """
    if len(numbers) != 4 or not all(0.0 <= number <= 1.0 for number in numbers):
        raise ValueError("two points, each x and y as shares of the picture from 0 to 1")
    left, right = (numbers[0], numbers[1]), (numbers[2], numbers[3])
    if right[0] - left[0] < _NARROWEST:
        raise ValueError(
            f"the left point first, and the right one at least {_NARROWEST:g} of the width from it"
        )
    return Target(left, right)
