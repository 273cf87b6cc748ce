"""Clues as straight lines of the quantity, learnt from labelled films."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.judge import MISFIT_LIMIT
from counting.checks.samples import Sample
from counting.checks.table import Calibration, Row, frontality

_FEWEST = 3
_SLOPE_RIDGE: Final = {"deg": 2000.0, "cm": 200.0}
_LEVEL_RIDGE = 0.5
_COMMON_SHARE = 0.15
_CLUE_ERROR: Final = {"deg": (5.0, 2.0), "cm": (2.5, 0.8)}
_PRIOR_FILMS = 3.0


def usable(sample: Sample) -> bool:
    """Whether a film shows enough to learn lines from."""
    return len(film_rows(sample)[1]) >= _FEWEST


def learn_lines(samples: Sequence[Sample]) -> Calibration:
    """Clues as straight lines of the quantity, with their errors: the inverse of a reading."""
    unit = samples[0].check.unit
    reference = float(np.mean([np.median(s.rep_truth) for s in samples]))
    films = [film_rows(s) for s in samples]
    front = np.array([film[2] for film in films])
    k = samples[0].rep_clues.shape[1]
    level, level_front = np.zeros(k), np.zeros(k)
    slope, slope_front = np.ones(k), np.zeros(k)
    residuals = [np.zeros((len(truth), k)) for _, truth, _ in films]
    offsets = np.zeros((len(films), k))
    for clue in range(k):
        slope[clue], slope_front[clue] = _slopes(films, clue, unit)
        for index, (clues, truth, f) in enumerate(films):
            line = (slope[clue] + f * slope_front[clue]) * (truth - reference)
            offsets[index, clue] = np.median(clues[:, clue] - line)
            residuals[index][:, clue] = clues[:, clue] - line - offsets[index, clue]
        level[clue], level_front[clue] = _levels(offsets[:, clue], front)
        offsets[:, clue] -= level[clue] + front * level_front[clue]
    common, own = _CLUE_ERROR[unit]
    noise = {}
    trust = _trust(residuals)
    for name, share in (("side", (1 - front) * trust), ("front", front * trust)):
        within = _covariance(
            np.concatenate(residuals),
            np.concatenate(
                [np.full(len(r), s / len(r)) for r, s in zip(residuals, share, strict=True)]
            ),
            own,
        )
        noise[name] = within + _COMMON_SHARE * _covariance(offsets, share, common)
    return Calibration(
        reference=reference,
        level=_row(level),
        level_front=_row(level_front),
        slope=_row(slope),
        slope_front=_row(slope_front),
        noise_side=tuple(_row(r) for r in noise["side"]),
        noise_front=tuple(_row(r) for r in noise["front"]),
        between={},
        within={},
        slope_error=0.0,
        response={},
        read_share={},
        films={},
        typical=0.0,
        typical_spread=0.0,
        rep_spread=0.0,
        miss_share=0.0,
        miss_mean=0.0,
        miss_spread=0.0,
        met_share=0.0,
    )


def _trust(residuals: Sequence[FloatArray]) -> FloatArray:
    """Weights that keep films in which tracking failed from setting the noise of all others."""
    size = np.array([float(np.sqrt(np.mean(r * r))) for r in residuals])
    trust: FloatArray = 1 / (1 + (size / (2 * np.median(size) + 1e-9)) ** 4)
    return trust


def _row(values: FloatArray) -> Row:
    return tuple(float(v) for v in values)


def film_rows(sample: Sample) -> tuple[FloatArray, FloatArray, float]:
    """Clues and truth of a film's readable reps and frames, and how frontal its view is."""
    known = np.isfinite(sample.rep_clues).all(axis=1) & (sample.rep_misfit < MISFIT_LIMIT)
    clues = np.concatenate([sample.rep_clues[known], sample.frame_clues])
    truth = np.concatenate([sample.rep_truth[known], sample.frame_truth])
    return clues, truth, frontality(sample.view_deg)


def _slopes(
    films: Sequence[tuple[FloatArray, FloatArray, float]], clue: int, unit: str
) -> tuple[float, float]:
    """Slope of a clue within films, drawn towards one, and its change with the view."""
    matrix = np.diag([_SLOPE_RIDGE[unit], _SLOPE_RIDGE[unit]])
    right = np.zeros(2)
    for clues, truth, front in films:
        x = truth - truth.mean()
        y = clues[:, clue] - clues[:, clue].mean() - x
        basis = np.stack([x, front * x], axis=1)
        weight = 20.0 / len(x) / max(1.0, float(np.std(y)) / _CLUE_ERROR[unit][0]) ** 2
        matrix = matrix + weight * basis.T @ basis
        right = right + weight * basis.T @ y
    change = np.linalg.solve(matrix, right)
    return 1.0 + float(change[0]), float(change[1])


def _levels(offsets: FloatArray, front: FloatArray) -> tuple[float, float]:
    basis = np.stack([np.ones_like(front), front], axis=1)
    matrix = basis.T @ basis + np.diag([1e-6, _LEVEL_RIDGE])
    level = np.linalg.solve(matrix, basis.T @ offsets)
    return float(level[0]), float(level[1])


def _covariance(residuals: FloatArray, weights: FloatArray, prior: float) -> FloatArray:
    """Weighted covariance with long tails cut, drawn towards independent errors."""
    size = 1.4826 * np.median(np.abs(residuals), axis=0) + 1e-6
    cut = np.clip(residuals, -3 * size, 3 * size)
    total = weights.sum() + _PRIOR_FILMS
    covariance: FloatArray = (
        (cut * weights[:, None]).T @ cut + _PRIOR_FILMS * prior**2 * np.eye(cut.shape[1])
    ) / total
    return covariance
