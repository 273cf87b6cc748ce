"""Where further cameras stand, from what two pictures show together."""

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from counting.body.evidence import Evidence, View
from counting.body.skeleton import FloatArray, G, camera_axes

_SURE: Final = 0.5
"""Sureness of a landmark in both pictures from which it tells where cameras stand (chosen, not
measured)."""
_WITHIN: Final = 0.002
"""How far a landmark may lie off its epipolar line, in focal lengths: a centimetre at five metres,
which most of the well seen ones keep."""


def bearings_seen(
    evidence: Evidence, first: FloatArray, others: Sequence[FloatArray]
) -> Iterator[FloatArray]:
    """Turn further cameras' views as the essential matrix of both pictures has it.

    Parameters
    ----------
    evidence
        What all cameras saw.
    first, others
        (g,) shared unknowns of each camera fitted alone.

    Yields
    ------
    ndarray
        (g,) those of each further camera, with another yaw where the pictures agree on a pose.
    """
    # OpenCV takes long to load, and a film that has no other does without it.
    from vision.geometry.relative import relative_pose

    for view, own in zip(evidence.others, others, strict=True):
        sure = (np.minimum(evidence.view.weight, view.weight) > _SURE)[..., None]
        one, other = (
            np.where(sure, _from_centre(each, shared), np.nan).reshape(-1, 2)
            for each, shared in ((evidence.view, first), (view, own))
        )
        pose = relative_pose(one, other, _WITHIN)
        turned = own.copy()
        if pose is not None:
            facing = np.array([math.sin(first[G["yaw"]]), -math.cos(first[G["yaw"]]), 0.0])
            there = camera_axes(own).T @ pose.rotation @ camera_axes(first) @ facing
            turned[G["yaw"]] = math.atan2(there[0], -there[1])
        yield turned


def _from_centre(view: View, shared: FloatArray) -> FloatArray:
    """(N, points, 2) landmarks in focal lengths from the picture's centre."""
    apart: FloatArray = (view.picture_px - view.centre_px) / math.exp(shared[G["log_focal"]])
    return apart
