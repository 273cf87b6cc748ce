"""Everybody to be seen in one picture."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from vision.pose.landmarks import Landmark
from vision.pose.network import Pose, PoseNetwork
from vision.pose.region import Picture, Region

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
_MIDDLE: Final = (len(JOINTS) - 1) // 2


def sightings(
    network: PoseNetwork, picture: Picture, known: Sequence[Pose] = (), turn: int = 0
) -> list[Pose]:
    """Find everybody in an RGB picture, each once.

    The detector sees squares of 224 pixels only, so besides the whole picture it is shown one of
    two overlapping squares of it in turn: a person who is small in the one is large in the other.

    Parameters
    ----------
    network
        The pose networks.
    picture
        The picture.
    known
        People of the picture before; who is not detected again is looked for where they were.
    turn
        Running number of the picture, to take turns with the squares.
    """
    people: list[Pose] = []

    def welcome(region: Region) -> bool:
        pose = network.look(picture, region)
        if pose.confidence < MIN_CONFIDENCE:
            return False
        if all(separation(pose, other) > SAME_PERSON for other in people):
            people.append(pose)
        return True

    height, width = picture.shape[0], picture.shape[1]
    for left, top, side in _squares(height, width, turn):
        window = picture[top : top + side, left : left + side]
        for detection in network.find(window, MIN_SCORE):
            region = detection.region.shifted(left, top)
            if not any(_covers(person.region, region) for person in people):
                welcome(region)
    for person in known:
        if all(separation(person, other) > SAME_PERSON for other in people):
            # Behind a plate a person shows in a tight square where they do not in a wide one.
            _ = welcome(person.region) or welcome(person.region.widened(0.8))
    return people


def separation(one: Pose, other: Pose) -> float:
    """Median distance between the joints of two poses over the size of the larger region."""
    # Asked for thousands of pairs: np.median and np.linalg.norm take four times as long.
    x, y = (one.image_px[JOINTS] - other.image_px[JOINTS]).T
    apart = np.sort(np.sqrt(x * x + y * y))
    median = 0.5 * (apart[_MIDDLE] + apart[-1 - _MIDDLE])
    return float(median) / max(one.region.side_px, other.region.side_px, 1.0)


def _covers(one: Region, other: Region) -> bool:
    """Whether two regions are so alike that they must show the same person."""
    apart = max(abs(one.x_px - other.x_px), abs(one.y_px - other.y_px))
    larger, smaller = max(one.side_px, other.side_px), min(one.side_px, other.side_px)
    return apart < 0.1 * larger and smaller > 0.75 * larger


def _squares(height: int, width: int, turn: int) -> list[tuple[int, int, int]]:
    """(left, top, side) of the windows: the whole picture, and one square at an end of it."""
    long, short = max(height, width), min(height, width)
    whole = (0, 0, long)
    if long < 1.2 * short:
        return [whole]
    start = 0 if turn % 2 else long - short
    return [whole, (start, 0, short) if width >= height else (0, start, short)]
