"""Weights by which features make a value, learnt from labelled films.

The value is the mean of the truth given the features, over films of every share of faults: ridge
regression of the true value on features and on features times how frontal the view is. What all
frames of a film miss the line by counts once, what they differ by among each other counts besides.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.inference import TrueValues
from counting.checks.table import LARGEST_FACTOR, Calibration, Row, frontality
from counting.lab.readings import Sample, margins_of

_FEWEST = 3
_REPS_SHARE = 0.7
_RIDGE: Final = 0.3
"""Films by which a weight of one standard deviation is held back; `_FRONT` times as many hold back
its change with the view. 0.03 to 1 were tried: bodies left out are read alike from 0.1 to 0.5."""
_FRONT: Final = 4.0
_WITHIN_WEIGHT: Final = 2.0
"""Weight of differences within a film over that of its mean: errors there are smaller."""
_LEAST_SPREAD: Final = {"deg": 1.0, "cm": 0.4}
_UNCORRELATED: Final = 0.1
_TAIL: Final = 4.0
_FLAT: Final = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class FilmRows:
    """Readable reps and frames of one film.

    Attributes
    ----------
    features, factors
        (rows, features), and how many times larger than usual the features' errors are; a feature
        whose joints were lost is NaN.
    truth
        (rows,) true values.
    share
        (rows,) each row's part of the film, in all 1: most is the reps', whose stay is what gets
        judged, however many frames show the way there.
    front
        How frontal the film's view is.
    """

    features: FloatArray
    factors: FloatArray
    truth: FloatArray
    share: FloatArray
    front: float


def usable(sample: Sample) -> bool:
    """Whether a film shows enough to learn from."""
    return len(film_rows(sample).truth) >= _FEWEST


def film_rows(sample: Sample) -> FilmRows:
    """Take the readable reps and frames of a film."""
    lost = ~(sample.rep_factors < LARGEST_FACTOR)
    reps = np.where(lost, np.nan, sample.rep_features)
    features = np.concatenate([reps, sample.frame_features])
    truth = np.concatenate([sample.rep_shown, sample.frame_truth])
    readable = np.isfinite(features).any(axis=1) & np.isfinite(truth)
    is_rep = (np.arange(len(features)) < len(reps))[readable]
    of_reps = _REPS_SHARE / max(is_rep.sum(), 1)
    share = np.where(is_rep, of_reps, (1 - _REPS_SHARE) / max((~is_rep).sum(), 1))
    return FilmRows(
        features=features[readable],
        factors=np.concatenate([sample.rep_factors, np.ones_like(sample.frame_features)])[readable],
        truth=truth[readable],
        share=share / share.sum() if len(share) else share,
        front=frontality(sample.view_deg) - 0.5,
    )


def learn_lines(samples: Sequence[Sample]) -> Calibration:
    """Learn how features make a value; the errors are left open."""
    films = [rows for rows in map(film_rows, samples) if len(rows.truth) >= _FEWEST]
    centre, covariance = _features_together(films)
    plain = Calibration(
        centre=_row(centre),
        covariance=tuple(map(_row, covariance)),
        noise=_row(_noise(films)),
        weight=(),
        weight_front=(),
        level=0.0,
        level_front=0.0,
        before=_true_values(samples),
        between={},
        within={},
        response={},
        read_share={},
        films={},
    )
    return _with_weights(plain, films, np.sqrt(np.diag(covariance)))


def _with_weights(plain: Calibration, films: Sequence[FilmRows], size: FloatArray) -> Calibration:
    k = len(size)
    matrix = _RIDGE * np.diag(np.concatenate([np.ones(k), np.full(k, _FRONT), [1.0, 1e-6]]))
    right = np.zeros(2 * k + 2)
    reference = float(np.mean([film.share @ film.truth for film in films]))
    for film in films:
        likely = plain.completed(film.features, film.factors)[0] / size
        ones = np.ones((len(likely), 1))
        basis = np.hstack([likely, film.front * likely, film.front * ones, ones])
        mean, level = film.share @ basis, film.share @ (film.truth - reference)
        apart, change = basis - mean, film.truth - reference - level
        weighted = _WITHIN_WEIGHT * apart * film.share[:, None]
        matrix += np.outer(mean, mean) + weighted.T @ apart
        right += mean * level + weighted.T @ change
    found = np.linalg.solve(matrix, right)
    return replace(
        plain,
        weight=_row(found[:k] / size),
        weight_front=_row(found[k : 2 * k] / size),
        level=float(found[-1]) + reference,
        level_front=float(found[-2]),
    )


def _true_values(samples: Sequence[Sample]) -> TrueValues:
    """Where reps end that do what is asked, and how far all reps and frames reach."""
    unit = samples[0].check.unit
    good = [s.rep_truth[margins_of(s.rep_truth, s.check) >= 0] for s in samples]
    means = np.array([values.mean() for values in good if len(values)] or [samples[0].check.limit])
    within = np.mean([values.var() for values in good if len(values)] or [0.0])
    shown = np.concatenate([np.concatenate([s.rep_truth, s.frame_truth]) for s in samples])
    shown = shown[np.isfinite(shown)]
    return TrueValues(
        usual=float(means.mean()),
        usual_spread=max(float(np.sqrt(means.var() + within)), _LEAST_SPREAD[unit]),
        lowest=float(shown.min()),
        highest=float(shown.max()),
    )


def _features_together(films: Sequence[FilmRows]) -> tuple[FloatArray, FloatArray]:
    """Mean of the features and their covariance, each film weighing alike, long tails cut."""
    features = np.concatenate([film.features for film in films])
    share = np.concatenate([film.share for film in films])[:, None]
    known = np.isfinite(features)
    weight = known * share
    total = np.maximum(weight.sum(axis=0), 1e-9)
    centre: FloatArray = (np.where(known, features, 0.0) * weight).sum(axis=0) / total
    off = np.where(known, features - centre, 0.0)
    size = np.sqrt((off**2 * weight).sum(axis=0) / total) + 1e-6
    off = np.clip(off, -_TAIL * size, _TAIL * size)
    both = np.maximum(weight.T @ known, 1e-9)
    covariance = (off * share).T @ off / both
    covariance = (1 - _UNCORRELATED) * covariance + _UNCORRELATED * np.diag(np.diag(covariance))
    values, vectors = np.linalg.eigh(covariance + 1e-6 * np.eye(len(size)))
    return centre, (vectors * np.maximum(values, _FLAT * values.max())) @ vectors.T


def _noise(films: Sequence[FilmRows]) -> FloatArray:
    """Scatter of each feature about its own line of the truth within a film, median over films."""
    scatter = np.full((len(films), films[0].features.shape[1]), np.nan)
    for row, film in enumerate(films):
        for feature in range(scatter.shape[1]):
            seen = np.isfinite(film.features[:, feature]) & (film.factors[:, feature] < 1.5)
            if seen.sum() <= _FEWEST:
                continue
            basis = np.stack([film.truth[seen], np.ones(seen.sum())], axis=1)
            line = np.linalg.lstsq(basis, film.features[seen, feature])[0]
            scatter[row, feature] = np.std(film.features[seen, feature] - basis @ line)
    usual = np.nanmedian(np.where(np.isfinite(scatter).any(axis=0), scatter, 0.0), axis=0)
    noise: FloatArray = np.maximum(np.nan_to_num(usual), 1e-3)
    return noise


def _row(values: FloatArray) -> Row:
    return tuple(float(v) for v in values)
