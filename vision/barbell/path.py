"""Which of the round shapes is the plate: the smoothest way of one size through all pictures."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.barbell.discs import LARGEST, SMALLEST

FloatArray = npt.NDArray[np.float64]

FASTEST_PER_S: Final = 1.0
"""Usual speed of a bar in statures a second: a thruster's bar rises at 1 to 2 m/s
(common practice, no source)."""

_SAME_PLACE: Final = 0.03
_FURNITURE: Final = 0.6
_SLACK: Final = 0.01
_LEAP_COST: Final = 30.0
_RANK_COST: Final = 0.15
_FIRST_COST: Final = 0.3
_SIZE_SPREAD: Final = 0.01
_SIZE_COST: Final = 0.15
_HIDDEN_COST: Final = 1.6
_CHANGE_COST: Final = 1.0
_SIZES: Final = np.linspace(SMALLEST + 0.01, LARGEST - 0.01, 11)


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
