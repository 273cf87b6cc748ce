"""Clues as straight lines of the quantity, learnt from labelled films."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.table import LARGEST_FACTOR, Calibration, Row, frontality
from counting.lab.samples import Sample

_FEWEST = 3
_SLOPE_RIDGE: Final = {"deg": 2000.0, "cm": 200.0}
_LEVEL_RIDGE = 0.5
_FILM_WEIGHT = 20.0
_CORRELATION = 0.3
_REPS_SHARE = 0.8
_CLUE_ERROR: Final = {"deg": (5.0, 2.0), "cm": (2.5, 0.8)}
_PRIOR_FILMS = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class FilmRows:
    """Readable reps and frames of one film.

    Attributes
    ----------
    clues, factors
        (rows, clues), and how many times larger than usual the clues' errors are; a clue whose
        joints were lost is NaN.
    truth
        (rows,) true values.
    share
        (rows,) each row's part of the film, in all 1: most is the reps', whose stay is what gets
        judged, however many frames show the way there.
    front
        How frontal the film's view is.
    """

    clues: FloatArray
    factors: FloatArray
    truth: FloatArray
    share: FloatArray
    front: float


def usable(sample: Sample) -> bool:
    """Whether a film shows enough to learn lines from."""
    return len(film_rows(sample).truth) >= _FEWEST


def learn_lines(samples: Sequence[Sample]) -> Calibration:
    """Clues as straight lines of the quantity, with their errors: the inverse of a reading."""
    unit = samples[0].check.unit
    reference = float(np.mean([np.median(s.rep_truth) for s in samples]))
    films = [film_rows(s) for s in samples]
    front = np.array([film.front for film in films])
    k = samples[0].rep_clues.shape[1]
    level, level_front = np.zeros(k), np.zeros(k)
    slope, slope_front = np.ones(k), np.zeros(k)
    residuals = [np.full(film.clues.shape, np.nan) for film in films]
    offsets = np.full((len(films), k), np.nan)
    for clue in range(k):
        slope[clue], slope_front[clue] = _slopes(films, clue, unit)
        for index, film in enumerate(films):
            seen = np.isfinite(film.clues[:, clue])
            if seen.sum() < _FEWEST:
                continue
            line = (slope[clue] + film.front * slope_front[clue]) * (film.truth - reference)
            off = film.clues[:, clue] - line
            offsets[index, clue] = _weighted_median(off[seen], film.share[seen])
            residuals[index][:, clue] = (off - offsets[index, clue]) / film.factors[:, clue]
        known = np.isfinite(offsets[:, clue])
        level[clue], level_front[clue] = _levels(offsets[known, clue], front[known])
        offsets[:, clue] -= level[clue] + front * level_front[clue]
    own, common = _errors(films, residuals, offsets, unit)
    return Calibration(
        reference=reference,
        level=_row(level),
        level_front=_row(level_front),
        slope=_row(slope),
        slope_front=_row(slope_front),
        own_side=own["side"],
        own_front=own["front"],
        common_side=common["side"],
        common_front=common["front"],
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
        misses=(),
        met_share=0.0,
        relation=samples[0].check.relation,
        limit=None,
    )


Matrix = tuple[Row, ...]


def _errors(
    films: Sequence[FilmRows], residuals: Sequence[FloatArray], offsets: FloatArray, unit: str
) -> tuple[dict[str, Matrix], dict[str, Matrix]]:
    """Covariance of the clues' own and common errors by view, each drawn towards all films'."""
    common_prior, own_prior = _CLUE_ERROR[unit]
    front = np.array([film.front for film in films])
    trust = _trust(residuals)
    rows, share = np.concatenate(residuals), np.concatenate([film.share for film in films])
    of_film = np.repeat(np.arange(len(films)), [len(r) for r in residuals])
    alike = np.eye(offsets.shape[1])
    any_own = _covariance(rows, share * trust[of_film], own_prior**2 * alike)
    any_common = _covariance(offsets, trust, common_prior**2 * alike)
    own, common = {}, {}
    for name, weight in (("side", (1 - front) * trust), ("front", front * trust)):
        own[name] = _matrix(_covariance(rows, share * weight[of_film], any_own))
        common[name] = _matrix(_covariance(offsets, weight, any_common))
    return own, common


def _matrix(values: FloatArray) -> Matrix:
    return tuple(_row(row) for row in values)


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


def film_rows(sample: Sample) -> FilmRows:
    """Take the readable reps and frames of a film."""
    lost = ~(sample.rep_factors < LARGEST_FACTOR)
    reps = np.where(lost, np.nan, sample.rep_clues)
    clues = np.concatenate([reps, sample.frame_clues])
    readable = np.isfinite(clues).any(axis=1)
    is_rep = (np.arange(len(clues)) < len(reps))[readable]
    of_reps = _REPS_SHARE / max(is_rep.sum(), 1)
    share = np.where(is_rep, of_reps, (1 - _REPS_SHARE) / max((~is_rep).sum(), 1))
    return FilmRows(
        clues=clues[readable],
        factors=np.concatenate([sample.rep_factors, np.ones_like(sample.frame_clues)])[readable],
        truth=np.concatenate([sample.rep_truth, sample.frame_truth])[readable],
        share=share / share.sum() if len(share) else share,
        front=frontality(sample.view_deg),
    )


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    passed = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(passed, passed[-1] / 2)])


def _slopes(films: Sequence[FilmRows], clue: int, unit: str) -> tuple[float, float]:
    """Slope of a clue within films, drawn towards one, and its change with the view."""
    matrix = np.diag([_SLOPE_RIDGE[unit], _SLOPE_RIDGE[unit]])
    right = np.zeros(2)
    for film in films:
        seen = np.isfinite(film.clues[:, clue])
        if seen.sum() < _FEWEST:
            continue
        share = film.share[seen] / film.share[seen].sum()
        x = film.truth[seen] - share @ film.truth[seen]
        y = film.clues[seen, clue] - share @ film.clues[seen, clue] - x
        basis = np.stack([x, film.front * x], axis=1)
        scatter = float(np.sqrt(share @ y**2)) / _CLUE_ERROR[unit][0]
        weight = _FILM_WEIGHT * share / max(1.0, scatter) ** 2
        matrix = matrix + (basis * weight[:, None]).T @ basis
        right = right + (basis * weight[:, None]).T @ y
    change = np.linalg.solve(matrix, right)
    return 1.0 + float(change[0]), float(change[1])


def _levels(offsets: FloatArray, front: FloatArray) -> tuple[float, float]:
    basis = np.stack([np.ones_like(front), front], axis=1)
    matrix = basis.T @ basis + np.diag([1e-6, _LEVEL_RIDGE])
    level = np.linalg.solve(matrix, basis.T @ offsets)
    return float(level[0]), float(level[1])


def _covariance(residuals: FloatArray, weights: FloatArray, prior: FloatArray) -> FloatArray:
    """Weighted covariance with long tails cut, drawn towards a prior worth a few films.

    Clues not seen are NaN. A clue's variance rests on the rows that show it and its correlation
    with another on those that show both. Correlations are taken at a part of their size: those of
    few films would else set one clue against another.
    """
    known = np.isfinite(residuals)
    size = 1.4826 * np.nanmedian(np.where(known.any(axis=0), np.abs(residuals), 0.0), axis=0) + 1e-6
    cut = np.where(known, np.clip(residuals, -3 * size, 3 * size), 0.0)
    both = (known * weights[:, None]).T @ known.astype(float)
    sums = (cut * weights[:, None]).T @ cut + _PRIOR_FILMS * prior
    covariance = sums / (both + _PRIOR_FILMS)
    variance = np.diag(np.diag(covariance))
    drawn: FloatArray = variance + _CORRELATION * (covariance - variance)
    values, vectors = np.linalg.eigh(drawn)
    kept: FloatArray = (vectors * np.maximum(values, 0.05 * np.min(np.diag(drawn)))) @ vectors.T
    return kept
