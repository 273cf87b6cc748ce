"""The upper edge of the box that somebody stands on, in the picture of the room without them."""

from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Picture = npt.NDArray[np.uint8]

_ABOVE: Final = 0.04
_BELOW: Final = 0.10
"""How far above and below the soles the edge nearest to the camera may be seen, in statures: feet
stand up to 0.4 m behind it, and a camera looks down on the box at 20 degrees at most."""
_SHORTEST: Final = 0.18
"""Least length of the edge, in statures: boxes are 0.5 m wide or more (common practice, no source),
here seen at an angle and in parts."""
_STEEPEST: Final = 0.45
"""Rise of the edge over its length at most: a box that stands at an angle to the camera."""
_ASIDE: Final = 0.15
"""How far the middle of the feet may lie beside what is seen of the edge, in statures."""
_GAP: Final = 0.03
"""Longest gap in the edge, in statures; these three are chosen, not measured."""


def box_edge(picture: Picture, soles_px: FloatArray, stature_px: float) -> FloatArray | None:
    """Find an edge in the picture on which the soles may stand.

    Parameters
    ----------
    picture
        (height, width, 3) RGB picture of the room.
    soles_px
        (2,) where both feet stand, their middle.
    stature_px
        Apparent body height.

    Returns
    -------
    ndarray
        (2, 2) ends of the longest such edge, left one first; None where there is none.
    """
    grey = cv2.GaussianBlur(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), (0, 0), 1.2)
    left, right = (int(soles_px[0] + side * 0.5 * stature_px) for side in (-1, 1))
    top = int(soles_px[1] - (_ABOVE + _STEEPEST * 0.5) * stature_px)
    bottom = int(soles_px[1] + (_BELOW + _STEEPEST * 0.5) * stature_px)
    left, top = max(left, 0), max(top, 0)
    part = grey[top : max(bottom, 0), left : max(right, 0)]
    if min(part.shape) < _SHORTEST * stature_px:
        return None
    steep = float(np.percentile(np.abs(np.diff(part.astype(np.float32), axis=0)), 97.0))
    edges = cv2.Canny(np.asarray(part, dtype=np.uint8), 4.0 * steep, 8.0 * steep)
    shortest = _SHORTEST * stature_px
    lines = cv2.HoughLinesP(
        edges, 1, np.pi / 360, round(0.6 * shortest), None, shortest, _GAP * stature_px
    )
    best: FloatArray | None = None
    for x0, y0, x1, y1 in [] if lines is None else np.reshape(lines, (-1, 4)).astype(float):
        ends = np.array(sorted([(x0 + left, y0 + top), (x1 + left, y1 + top)]))
        if _carries(ends, soles_px, stature_px) and (
            best is None or np.ptp(ends[:, 0]) > np.ptp(best[:, 0])
        ):
            best = ends
    return best


def _carries(ends: FloatArray, soles_px: FloatArray, stature_px: float) -> bool:
    """Whether feet at a place can stand on what ends at an edge."""
    (x0, y0), (x1, y1) = ends
    if x1 - x0 < 0.7 * _SHORTEST * stature_px or abs(y1 - y0) > _STEEPEST * (x1 - x0):
        return False
    aside = _ASIDE * stature_px
    if not x0 - aside <= soles_px[0] <= x1 + aside:
        return False
    x = float(np.clip(soles_px[0], x0, x1))
    below = y0 + (y1 - y0) * (x - x0) / (x1 - x0) - float(soles_px[1])
    return bool(-_ABOVE * stature_px <= below <= _BELOW * stature_px)
