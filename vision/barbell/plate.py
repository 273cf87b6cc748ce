"""The plate in each picture: round shapes of its size near the athlete, and which of them it is.

That is the smoothest way of one size through all pictures.
"""

from collections.abc import Sequence
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
"""Discs a picture among which the plate is sought."""

_STATURE_PX: Final = 300.0
_BLUR_PX: Final = 5
_ACCUMULATOR: Final = 1.5
_APART_PX: Final = 12
_EDGE: Final = 90.0
_VOTES: Final = 28.0
"""How OpenCV's Hough transform looks at a picture in which the athlete is `_STATURE_PX` tall: blur
and least distance of centres in pixels, coarseness of its cells, edge strength, votes. Set by hand,
none was measured by itself; tests draw discs of known size."""


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


FASTEST_PER_S: Final = 1.0
"""Usual speed of a bar in statures a second: a thruster's bar rises at 1 to 2 m/s
(common practice, no source)."""

_SAME_PLACE: Final = 0.03
_FURNITURE: Final = 0.6
"""What is found within so many statures of one place in more than this share of the film's pictures
is furniture: a bar that is lifted rests less."""
_SLACK: Final = 0.01
"""Error of a centre in statures, beside what the bar moves."""
_LEAP_COST: Final = 30.0
_RANK_COST: Final = 0.15
_FIRST_COST: Final = 0.3
_SIZE_SPREAD: Final = 0.01
_SIZE_COST: Final = 0.15
_HIDDEN_COST: Final = 1.6
_CHANGE_COST: Final = 1.0
"""Costs of a way through the pictures, in squares of usual errors: of a leap at most, of the rank
by votes, of the first rank, of a radius that is off (the spread in statures), of a plate that is
not seen, and of losing or finding it again. Set by hand, none was measured by itself."""
_SIZES: Final = np.linspace(SMALLEST + 0.01, LARGEST - 0.01, 11)
"""Radii over stature that a path is sought at: those that a plate can have, in steps that are
chosen, not measured."""


def plate_path(
    time_s: FloatArray, discs: Sequence[FloatArray], stature_px: float
) -> tuple[FloatArray, float]:
    """Choose at most one disc a picture by dynamic programming (Viterbi).

    Parameters
    ----------
    time_s
        (N,) times of the pictures.
    discs
        For each picture (n, 3) centre and radius, most votes first.
    stature_px
        Apparent body height.

    Returns
    -------
    path
        (N, 2) centre of the plate, NaN where no disc is taken for it.
    radius_px
        The one size that explains the film best.
    """
    discs = without_furniture(discs, stature_px)
    ways = [_cheapest(time_s, discs, stature_px, size) for size in _SIZES]
    best = int(np.argmin([cost for cost, _ in ways]))
    return ways[best][1], float(_SIZES[best] * stature_px)


def without_furniture(discs: Sequence[FloatArray], stature_px: float) -> list[FloatArray]:
    """Leave out the shapes that are in one place for most of the film: nobody lifts them."""
    if not discs:
        return []
    every = np.concatenate(discs)[:, :2] / (_SAME_PLACE * stature_px)
    cells, counts = np.unique(np.floor(every), axis=0, return_counts=True)
    usual = cells[counts > _FURNITURE * len(discs) / 4.0] + 0.5
    fixed = [
        cell
        for cell in usual
        if np.sum(np.all(np.abs(every - cell) < 1.0, axis=1)) > _FURNITURE * len(discs)
    ]
    if not fixed:
        return list(discs)
    places = np.array(fixed) * _SAME_PLACE * stature_px
    kept = []
    for own in discs:
        away = np.abs(own[:, None, :2] - places[None]).max(axis=2).min(axis=1)
        kept.append(own[away > _SAME_PLACE * stature_px])
    return kept


def _cheapest(
    time_s: FloatArray, discs: Sequence[FloatArray], stature_px: float, size: float
) -> tuple[float, FloatArray]:
    path = np.full((len(discs), 2), np.nan)
    if not discs:
        return 0.0, path
    origins: list[npt.NDArray[np.intp]] = []
    total = _own_cost(discs[0], stature_px, size)
    for row in range(1, len(discs)):
        usual = _SLACK + FASTEST_PER_S * (time_s[row] - time_s[row - 1])
        step = _step_cost(discs[row - 1], discs[row], stature_px * usual)
        candidates = total[:, None] + step
        origins.append(candidates.argmin(axis=0))
        total = candidates.min(axis=0) + _own_cost(discs[row], stature_px, size)
    choice = int(total.argmin())
    cost = float(total[choice])
    for row in range(len(discs) - 1, -1, -1):
        if choice < len(discs[row]):
            path[row] = discs[row][choice, :2]
        if row:
            choice = int(origins[row - 1][choice])
    return cost, path


def _own_cost(discs: FloatArray, stature_px: float, size: float) -> FloatArray:
    """Cost of each disc, and last that of taking none."""
    rank = _FIRST_COST + _RANK_COST * np.arange(len(discs))
    away = (discs[:, 2] / stature_px - size) / _SIZE_SPREAD
    return np.append(rank + _SIZE_COST * away**2, _HIDDEN_COST)


def _step_cost(before: FloatArray, after: FloatArray, usual_px: float) -> FloatArray:
    cost = np.full((len(before) + 1, len(after) + 1), _CHANGE_COST)
    away = np.linalg.norm(before[:, None, :2] - after[None, :, :2], axis=2)
    cost[:-1, :-1] = np.minimum((away / usual_px) ** 2, _LEAP_COST)
    cost[-1, -1] = 0.0
    return cost
