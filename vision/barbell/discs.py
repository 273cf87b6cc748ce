"""Round shapes of a plate's size near the athlete, in one picture."""

from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Picture = npt.NDArray[np.uint8]

SMALLEST: Final = 0.10
LARGEST: Final = 0.22
"""Radius of a plate over the athlete's stature: 225 mm (IWF) over 1.5 to 2.0 m, nearer the camera
than the athlete by half a bar's length, and smaller training plates."""

REACH: Final = 0.8
"""Statures from the shoulders within which a bar in the hands is."""

MOST_DISCS: Final = 8

_STATURE_PX: Final = 300.0
_BLUR_PX: Final = 5
_ACCUMULATOR: Final = 1.5
_APART_PX: Final = 12
_EDGE: Final = 90.0
_VOTES: Final = 28.0


def find_discs(picture: Picture, shoulders_px: FloatArray, stature_px: float) -> FloatArray:
    """Find discs by the Hough transform of edges and their gradients.

    Parameters
    ----------
    picture
        (height, width, 3) RGB.
    shoulders_px
        (2,) middle of the shoulders.
    stature_px
        Apparent body height.

    Returns
    -------
    ndarray
        (n, 3) centre and radius in the picture's pixels, most votes first; n is at most
        `MOST_DISCS`.
    """
    height, width = picture.shape[:2]
    reach = REACH * stature_px
    left, top = (int(max(0.0, value - reach)) for value in shoulders_px)
    right = int(min(width, shoulders_px[0] + reach))
    bottom = int(min(height, shoulders_px[1] + reach))
    if right - left < 2 or bottom - top < 2:
        return np.zeros((0, 3))
    zoom = _STATURE_PX / stature_px
    grey = cv2.cvtColor(picture[top:bottom, left:right], cv2.COLOR_RGB2GRAY)
    grey = cv2.resize(grey, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    grey = cv2.GaussianBlur(grey, (_BLUR_PX, _BLUR_PX), 0)
    found = cv2.HoughCircles(
        grey,
        cv2.HOUGH_GRADIENT,
        _ACCUMULATOR,
        _APART_PX,
        param1=_EDGE,
        param2=_VOTES,
        minRadius=round(SMALLEST * _STATURE_PX),
        maxRadius=round(LARGEST * _STATURE_PX),
    )
    if found is None:
        return np.zeros((0, 3))
    discs = np.asarray(found, float).reshape(-1, 3)[:MOST_DISCS] / zoom
    placed: FloatArray = discs + np.array([left, top, 0.0])
    return placed
