"""Weights by which features make a value, learnt from labelled films.

The value is the mean of the truth given the features, over films of every share of faults: ridge
regression of the true value on features, for each view by the films seen from it, while films from
beside it count little. What all frames of a film miss the line by counts once, what they differ by
among each other counts besides. A weight is held back by the error of its feature (the better a
feature follows the truth over the films of a view, the more it may say), and a film far off the
line counts less (Cauchy weights: Holland and Welsch 1977), as where somebody else was read.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.inference import TrueValues
from counting.checks.table import LARGEST_FACTOR, VIEWS, Calibration, Row, view_name
from counting.lab.readings import Sample, margins_of

_FEWEST = 3
_REPS_SHARE = 0.7
_HELD_BACK: Final = 3.0
"""Films by which weights are held back, as if so many more had been filmed in which the errors of
features had nothing to do with each other."""
_BESIDE: Final = 0.07
"""Weight of films from the view beside; its square for those from the view after that. Bodies left
out of 168 films, all contexts, mean logarithm of errors: one line for all views, changing with the
view, 0; 0.3: -0.05; 0.15: -0.08; 0.07: -0.10; 0.01: -0.09. From 1 to 10 films above: -0.08 to
-0.06 at 0.15."""
_ROUNDS: Final = 3
_FAR: Final = 2.0
"""Scales off the line from which a film counts less than half."""
_LEAST_ERROR: Final = 0.15
"""Error of a feature at least, as a share of its spread: few films are alike by chance."""
_TRUTH_HELD: Final = 0.3
_WITHIN_WEIGHT: Final = 2.0
"""Weight of differences within a film over that of its mean: errors there are smaller."""
_LEAST_SPREAD: Final = {"deg": 1.0, "cm": 0.4}
"""Standard deviation at least of where bodies end that do what is asked: few films are alike by
chance."""
_UNCORRELATED: Final = 0.1
"""Share of the features' covariance that is held to be uncorrelated, as shrinking does (Ledoit and
Wolf 2004; the share is chosen, not measured)."""
_TAIL: Final = 4.0
"""Standard deviations at which a feature is cut before its covariance is taken."""
_FLAT: Final = 1e-4
"""Least variance in any direction, as a share of the largest, so that it can be inverted."""


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
    view
        Name of the film's view.
    """

    features: FloatArray
    factors: FloatArray
    truth: FloatArray
    share: FloatArray
    view: str | None


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
        view=view_name(sample.view_deg),
    )


def learn_lines(samples: Sequence[Sample]) -> Calibration:
    """Learn how features make a value; the errors are left open."""
    films = [rows for rows in map(film_rows, samples) if len(rows.truth) >= _FEWEST]
    centre, covariance = _features_together(films)
    plain = Calibration(
        centre=_row(centre),
        covariance=tuple(map(_row, covariance)),
        noise=_row(_noise(films)),
        weight={},
        level={},
        before=_true_values(samples),
        between={},
        within={},
        response={},
        read_share={},
        films={},
    )
    return _with_weights(plain, films, np.sqrt(np.diag(covariance)))


def _with_weights(plain: Calibration, films: Sequence[FilmRows], size: FloatArray) -> Calibration:
    bases = []
    for film in films:
        likely = plain.completed(film.features, film.factors)[0] / size
        bases.append(np.hstack([likely, np.ones((len(likely), 1))]))
    weight, level = {}, {}
    for view in VIEWS:
        found = _weights_from(view, films, bases)
        weight[view], level[view] = _row(found[:-1] / size), float(found[-1])
    return replace(plain, weight=weight, level=level)


def _weights_from(view: str, films: Sequence[FilmRows], bases: Sequence[FloatArray]) -> FloatArray:
    """Weights of the features, in units of their spread, and the level, for films from a view."""
    near = np.array([_BESIDE ** _views_apart(view, film.view) for film in films])
    truth = np.array([film.share @ film.truth for film in films])
    means = np.array([film.share @ basis for film, basis in zip(films, bases, strict=True)])
    middle = float(near @ truth / near.sum())
    error = _errors(means[:, :-1], truth - middle, near)
    counts = near
    found: FloatArray = np.zeros(means.shape[1])
    for _ in range(_ROUNDS):
        matrix = np.diag(np.append(_HELD_BACK * error**2, 1e-6))
        right = np.zeros(len(matrix))
        for film, basis, mean, level, count in zip(films, bases, means, truth, counts, strict=True):
            apart, change = basis - mean, film.truth - level
            weighted = _WITHIN_WEIGHT * apart * film.share[:, None]
            matrix += count * (np.outer(mean, mean) + weighted.T @ apart)
            right += count * (mean * (level - middle) + weighted.T @ change)
        found = np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
        off = truth - middle - means @ found
        counts = near * _cauchy(off, near, least=_LEAST_OFF)
    found[-1] += middle
    return found


def _errors(means: FloatArray, truth: FloatArray, near: FloatArray) -> FloatArray:
    """Error of each feature about its own line of the truth, over films, in units of its spread."""
    basis = np.stack([truth, np.ones_like(truth)], axis=1)
    errors: FloatArray = np.empty(means.shape[1])
    for place, values in enumerate(means.T):
        counts = near
        for _ in range(_ROUNDS):
            held = np.diag([_TRUTH_HELD, 1e-6])
            weighted = counts[:, None] * basis
            line = np.linalg.solve(basis.T @ weighted + held, weighted.T @ values)
            off = values - basis @ line
            square = float(counts @ off**2) / max(float(counts.sum()) - 1.5, 0.5)
            errors[place] = np.sqrt(square + _LEAST_ERROR**2)
            counts = near / (1.0 + (off / errors[place] / _FAR) ** 2)
    return errors


_LEAST_OFF: Final = 0.5
"""Scale at least, degrees or centimetres, by which films are off their line."""
_USUAL: Final = 0.8
"""Share of films that the scale is taken from whole; those farther off are cut to it."""


def _cauchy(off: FloatArray, near: FloatArray, least: float) -> FloatArray:
    """How much each film counts by how far it is off, the farthest fifth cut for the scale."""
    cut = np.minimum(off**2, np.quantile(off**2, _USUAL))
    scale = float(np.sqrt(near @ cut / near.sum())) + least
    counts: FloatArray = 1.0 / (1.0 + (off / scale / _FAR) ** 2)
    return counts


def _views_apart(one: str, other: str | None) -> int:
    names = list(VIEWS)
    return len(names) - 1 if other is None else abs(names.index(one) - names.index(other))


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
