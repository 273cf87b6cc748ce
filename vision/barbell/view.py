"""From where a barbell is seen: from the side its plates hide the hands."""

from typing import Final

import numpy as np

from vision.pose.landmarks import Landmark
from vision.track import FloatArray, PoseTrack

SIDE_SHARE: Final = 0.3
"""Shoulder breadth over trunk length in the picture below which the view is from the side: labelled
films read 0.2 at most beyond 80 degrees and 0.4 to 0.5 at 50 to 60, where the near plate is beside
the hands, not before them."""


def seen_from_the_side(track: PoseTrack) -> bool:
    """Whether the plates may hide the hands: the shoulders lie behind each other."""
    left, right = Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER
    shoulders = track.image_px[:, left] - track.image_px[:, right]
    trunk = middle(track, left, right) - middle(track, Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
    share = np.abs(shoulders[:, 0]) / np.linalg.norm(trunk, axis=1)
    known = share[np.isfinite(share)]
    return bool(known.size) and float(np.median(known)) < SIDE_SHARE


def middle(track: PoseTrack, one: Landmark, other: Landmark) -> FloatArray:
    """(N, 2) the middle of two landmarks in the picture."""
    between: FloatArray = (track.image_px[:, one] + track.image_px[:, other]) / 2.0
    return between
