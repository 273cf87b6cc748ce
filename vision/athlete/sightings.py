"""Everybody to be seen in one picture."""

from typing import Final

import numpy as np
import numpy.typing as npt

from vision.pose.landmarks import Landmark
from vision.pose.network import Pose, PoseNetwork
from vision.pose.region import Picture

FloatArray = npt.NDArray[np.float64]

JOINTS: Final = np.array(
    [
        Landmark.LEFT_SHOULDER,
        Landmark.RIGHT_SHOULDER,
        Landmark.LEFT_ELBOW,
        Landmark.RIGHT_ELBOW,
        Landmark.LEFT_WRIST,
        Landmark.RIGHT_WRIST,
        Landmark.LEFT_HIP,
        Landmark.RIGHT_HIP,
        Landmark.LEFT_KNEE,
        Landmark.RIGHT_KNEE,
        Landmark.LEFT_ANKLE,
        Landmark.RIGHT_ANKLE,
    ]
)
"""The landmarks by which people are told apart: the limbs' joints."""

MIN_SCORE: Final = 0.3
MIN_CONFIDENCE: Final = 0.5
SAME_PERSON: Final = 0.12


def sightings(network: PoseNetwork, picture: Picture) -> list[Pose]:
    """Find everybody in an RGB picture, each once, surest first.

    The detector sees squares of 224 pixels only, so besides the whole picture it is shown two
    overlapping squares of it: a person who is small in the one is large in the other.
    """
    found: list[tuple[float, Pose]] = []
    for left, top, side in _squares(*picture.shape[:2]):
        window = picture[top : top + side, left : left + side]
        for detection in network.find(window, MIN_SCORE):
            region = detection.region.shifted(left, top)
            pose = network.look(picture, region)
            if pose.confidence < MIN_CONFIDENCE:
                continue
            found.append((detection.score, pose))
    found.sort(key=lambda item: -item[0])
    people: list[Pose] = []
    for _, pose in found:
        if all(separation(pose, other) > SAME_PERSON for other in people):
            people.append(pose)
    return people


def separation(one: Pose, other: Pose) -> float:
    """Median distance between the joints of two poses over the size of the larger region."""
    apart = np.linalg.norm(one.image_px[JOINTS] - other.image_px[JOINTS], axis=1)
    return float(np.median(apart)) / max(one.region.side_px, other.region.side_px, 1.0)


def _squares(height: int, width: int) -> list[tuple[int, int, int]]:
    """(left, top, side) of the windows: the whole picture, then squares along its long side."""
    long, short = max(height, width), min(height, width)
    windows = [(0, 0, long)]
    if long < 1.2 * short:
        return windows
    for start in (0, long - short):
        windows.append((start, 0, short) if width >= height else (0, start, short))
    return windows
