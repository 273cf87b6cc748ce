"""The pose of one camera relative to another, from points that both see.

OpenCV finds the essential matrix of the correspondences (five points, Nister 2004; random samples
weighed by MAGSAC, Barath et al. 2019) and, of the four poses it allows, the one that has the points
before both cameras.
How far apart the cameras stand, pictures alone do not tell.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

_SURE: Final = 0.999
"""Confidence in one sample without outliers, at which drawing ends (OpenCV's own default)."""
_FEWEST: Final = 20
"""Points, two thirds of a body's landmarks in one picture: four times what fixes a pose."""
_MOST: Final = 4000
"""Points at most, evenly taken from all, so that a long film costs no more than a short one."""


@dataclass(frozen=True, slots=True, eq=False)
class RelativePose:
    """A first camera's point ``x`` is at ``rotation @ x + translation`` for the second one.

    Attributes
    ----------
    rotation
        (3, 3).
    translation
        (3,) of length one.
    """

    rotation: FloatArray
    translation: FloatArray


def relative_pose(first: FloatArray, second: FloatArray, within: float) -> RelativePose | None:
    """Find the second camera's pose relative to the first.

    Parameters
    ----------
    first, second
        (n, 2) the same points in both pictures, from the picture's centre in focal lengths, x right
        and y down; rows with NaN are left out.
    within
        How far a point may lie off its epipolar line, in focal lengths.

    Returns
    -------
    RelativePose or None
        None where too few points are seen in both, or they agree on no pose.
    """
    known = np.isfinite(first).all(axis=1) & np.isfinite(second).all(axis=1)
    rows = np.flatnonzero(known)
    if len(rows) < _FEWEST:
        return None
    rows = rows[:: -(-len(rows) // _MOST)]
    one, other = (np.ascontiguousarray(points[rows]) for points in (first, second))
    cv2.setRNGSeed(0)  # the same films give the same pose
    essential, mask = cv2.findEssentialMat(
        one, other, np.eye(3), method=cv2.USAC_MAGSAC, prob=_SURE, threshold=within
    )
    if essential is None or essential.shape != (3, 3):
        return None
    count, rotation, translation, _ = cv2.recoverPose(essential, one, other, np.eye(3), mask=mask)
    if count < _FEWEST:
        return None
    return RelativePose(np.asarray(rotation, float), np.asarray(translation, float).ravel())
