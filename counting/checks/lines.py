"""Clues as straight lines of the quantity, learnt from labelled films."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.samples import Sample
from counting.checks.table import LARGEST_FACTOR, Calibration, Row, frontality

_FEWEST = 3
_SLOPE_RIDGE: Final = {"deg": 2000.0, "cm": 200.0}
_LEVEL_RIDGE = 0.5
_COMMON_SHARE = 0.15
_CLUE_ERROR: Final = {"deg": (5.0, 2.0), "cm": (2.5, 0.8)}
_PRIOR_FILMS = 3.0


Rows = tuple[FloatArray, FloatArray, FloatArray, float]
"""Clues (rows, clues), their error factors, truth (rows) and how frontal the film's view is."""


def usable(sample: Sample) -> bool:
    """Whether a film shows enough to learn lines from."""
    return len(film_rows(sample)[2]) >= _FEWEST


def learn_lines(samples: Sequence[Sample]) -> Calibration:
    """Clues as straight lines of the quantity, with their errors: the inverse of a reading."""
    unit = samples[0].check.unit
    reference = float(np.mean([np.median(s.rep_truth) for s in samples]))
    films = [film_rows(s) for s in samples]
    front = np.array([film[3] for film in films])
    k = samples[0].rep_clues.shape[1]
    level, level_front = np.zeros(k), np.zeros(k)
    slope, slope_front = np.ones(k), np.zeros(k)
    residuals = [np.full((len(truth), k), np.nan) for _, _, truth, _ in films]
    offsets = np.full((len(films), k), np.nan)
    for clue in range(k):
        slope[clue], slope_front[clue] = _slopes(films, clue, unit)
        for index, (clues, factors, truth, f) in enumerate(films):
            seen = np.isfinite(clues[:, clue])
            if seen.sum() < _FEWEST:
                continue
            line = (slope[clue] + f * slope_front[clue]) * (truth - reference)
            offset = np.median((clues[:, clue] - line)[seen])
            offsets[index, clue] = offset
            residuals[index][:, clue] = (clues[:, clue] - line - offset) / factors[:, clue]
        known = np.isfinite(offsets[:, clue])
        level[clue], level_front[clue] = _levels(offsets[known, clue], front[known])
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
    size = np.array([_size(r) for r in residuals])
    trust: FloatArray = 1 / (1 + (size / (2 * np.median(size) + 1e-9)) ** 4)
    return trust


def _size(residuals: FloatArray) -> float:
    known = residuals[np.isfinite(residuals)]
    return float(np.sqrt(np.mean(known * known))) if len(known) else 0.0


def _row(values: FloatArray) -> Row:
    return tuple(float(v) for v in values)


def film_rows(sample: Sample) -> Rows:
    """Readable reps and frames of a film; clues whose joints were lost are NaN."""
    lost = ~(sample.rep_factors < LARGEST_FACTOR)
    clues = np.concatenate([np.where(lost, np.nan, sample.rep_clues), sample.frame_clues])
    factors = np.concatenate([sample.rep_factors, np.ones_like(sample.frame_clues)])
    truth = np.concatenate([sample.rep_truth, sample.frame_truth])
    readable = np.isfinite(clues).any(axis=1)
    return clues[readable], factors[readable], truth[readable], frontality(sample.view_deg)


def _slopes(films: Sequence[Rows], clue: int, unit: str) -> tuple[float, float]:
    """Slope of a clue within films, drawn towards one, and its change with the view."""
    matrix = np.diag([_SLOPE_RIDGE[unit], _SLOPE_RIDGE[unit]])
    right = np.zeros(2)
    for clues, _, truth, front in films:
        seen = np.isfinite(clues[:, clue])
        if seen.sum() < _FEWEST:
            continue
        x = truth[seen] - truth[seen].mean()
        y = clues[seen, clue] - clues[seen, clue].mean() - x
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
    """Weighted covariance with long tails cut, drawn towards independent errors.

    Clues not seen are NaN. A clue's variance rests on the rows that show it and its correlation
    with another on those that show both, which need not give a covariance: eigenvalues are kept
    above a hundredth of the prior's.
    """
    known = np.isfinite(residuals)
    size = 1.4826 * np.nanmedian(np.where(known.any(axis=0), np.abs(residuals), 0.0), axis=0) + 1e-6
    cut = np.where(known, np.clip(residuals, -3 * size, 3 * size), 0.0)
    both = (known * weights[:, None]).T @ known.astype(float)
    sums = (cut * weights[:, None]).T @ cut + _PRIOR_FILMS * prior**2 * np.eye(len(both))
    covariance = sums / (both + _PRIOR_FILMS)
    values, vectors = np.linalg.eigh(covariance)
    kept: FloatArray = (vectors * np.maximum(values, 0.01 * prior**2)) @ vectors.T
    return kept
