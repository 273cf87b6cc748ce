"""People behind the athlete who come into view whenever the athlete goes down.

An athlete who stands before somebody hides them; on the way to the floor the one behind appears
where the athlete has just been. Joined by nearness, both become one tracklet that stands, and
the athlete's way to the floor becomes another person's. What gives the one behind away: they are
in exactly the same pose again and again, while somebody beside them is down.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.athlete.sightings import JOINTS
from vision.pose.network import Pose

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

OFTEN: Final = 4
"""Sightings beside somebody who is down that make an onlooker."""
TIMES: Final = 2
"""Separate occasions on which they have to be: somebody may bend once beside a resting athlete."""
APART: Final = 3
"""Sightings between two occasions."""
CLEAR: Final = 0.37
"""Mean peak height of the joints that those who are down usually reach, at least. Plates and bars
taken for people lie low, too, beside the very athlete, but hardly reach 0.35."""
ALIKE: Final = 0.025
"""Median distance of joints over the region's side between two sightings of one who stands still:
twice what the landmarks of such a person tremble."""
_MOSTLY: Final = 0.5
_ASIDE: Final = 0.3
"""People further apart across the picture, over the region's side, do not hide each other."""
_LOWER: Final = 0.2
"""Height over the region's side by which somebody who went down is below one who stands."""
_MOVES: Final = 0.05
"""Range of these heights: what stays where it is, is a thing that looks like a person."""


def onlookers(seen: Sequence[Sequence[Pose]]) -> list[list[bool]]:
    """Say of everybody sighted whether they are an onlooker behind the athlete.

    Parameters
    ----------
    seen
        The people sighted at each time.

    Returns
    -------
    list
        Shaped like ``seen``.
    """
    places = [place for place, people in enumerate(seen) for _ in people]
    poses = [pose for people in seen for pose in people]
    behind = np.zeros(len(poses), dtype=np.bool_)
    if poses:
        below = [_below(pose, seen[place]) for pose, place in zip(poses, places, strict=True)]
        depth, sharpness = np.array(below).T
        behind = _behind(np.array(places), poses, depth, sharpness)
    answers = iter(behind.tolist())
    return [[next(answers) for _ in people] for people in seen]


def _below(pose: Pose, people: Sequence[Pose]) -> tuple[float, float]:
    """How far the lowest other person within reach is below, in region sides; NaN if not down.

    And that person's sharpness.
    """
    lowest, sharpness = 0.0, 0.0
    for other in people:
        apart = (other.image_px[JOINTS] - pose.image_px[JOINTS]).mean(axis=0)
        aside, down = apart / pose.region.side_px
        if abs(aside) < _ASIDE and down > lowest:
            lowest, sharpness = float(down), float(other.sharpness[JOINTS].mean())
    return lowest if lowest > _LOWER else float("nan"), sharpness


def _behind(
    places: IntArray, poses: Sequence[Pose], below: FloatArray, sharpness: FloatArray
) -> BoolArray:
    """(n,) whether each pose is one that comes back, mostly while somebody beside it is down."""
    joints = np.array([pose.image_px[JOINTS] for pose in poses])
    sides = np.array([pose.region.side_px for pose in poses])
    down = np.isfinite(below)
    behind = np.zeros(len(poses), dtype=np.bool_)
    for index in np.flatnonzero(down):
        apart = np.median(np.linalg.norm(joints - joints[index], axis=2), axis=1)
        alike = np.flatnonzero(apart < ALIKE * np.minimum(sides, sides[index]))
        beside = alike[down[alike]]
        if beside.size < max(OFTEN, _MOSTLY * alike.size) or np.ptp(below[beside]) < _MOVES:
            continue
        if np.median(sharpness[beside]) < CLEAR:
            continue
        if np.count_nonzero(np.diff(places[beside]) > APART) + 1 >= TIMES:
            behind[alike] = True
    return behind
