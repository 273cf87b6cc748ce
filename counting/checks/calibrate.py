"""Making the calibration table from labelled films.

    python -m counting.checks.calibrate CLIPS_DIR... --tracks DIR [--out FILE]

Each clue is a straight line of the quantity with an error common to a film and one of its own;
errors of the values made of them are read off films whose body was left out of the fit, so that
the table states what happens with a body and a camera never seen before.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from counting.body.motion import BodyFitError
from counting.body.skeleton import FloatArray
from counting.checks.judge import MISFIT_LIMIT
from counting.checks.labelled import load_labelled
from counting.checks.samples import Sample, film_samples
from counting.checks.table import (
    VIEWS,
    Calibration,
    CalibrationTable,
    common_error_factor,
    frontality,
    own_error_factor,
    view_name,
    write_table,
)
from counting.movements.types import Check
from vision.track import load_track

_FEWEST = 3
_SLOPE_RIDGE: Final = {"deg": 2000.0, "cm": 200.0}
_LEVEL_RIDGE = 0.5
_RESPONSE_SPAN: Final = {"deg": 15.0, "cm": 4.0}
_COMMON_SHARE = 0.15
_SUSPICION = 0.12
_TAIL = 3.0
_PRIOR_FILMS = 3.0
_PRIOR_ERROR: Final = {"deg": (5.0, 2.5), "cm": (2.5, 1.0)}
_CLUE_ERROR: Final = {"deg": (5.0, 2.0), "cm": (2.5, 0.8)}
_PRIOR_SLOPE_ERROR = 0.3
_LARGEST_SLOPE_ERROR = 0.35
_TYPICAL_FLOOR: Final = {"deg": 1.2, "cm": 1.5}
_TOUCH_SPREAD_CM = 0.4
_SPREAD_FLOOR: Final = {"deg": 0.6, "cm": 0.9}
_MISS_FLOOR: Final = {"deg": 12.0, "cm": 5.0}
_MISS_STEP: Final = {"deg": 6.0, "cm": 2.5}


def fit_entry(samples: Sequence[Sample]) -> Calibration:
    """Calibrate one context; errors are those of bodies left out."""
    usable = [s for s in samples if _usable(s)]
    residuals = []
    responses: dict[str, list[float]] = {name: [] for name in VIEWS}
    for sample in samples:
        others = [s for s in usable if s.body != sample.body]
        if others:
            fitted = _weigh(others)
            residuals.append((sample, _residual(sample, fitted)))
            response = _response(sample, fitted)
            if response is not None:
                responses[view_name(sample.view_deg) or ""].append(response)
    calibration = replace(
        _weigh(usable),
        response={
            name: (sum(found) + 0.5) / (len(found) + 0.5) for name, found in responses.items()
        },
    )
    return _with_errors(calibration, residuals, samples)


def _response(sample: Sample, calibration: Calibration) -> float | None:
    """Slope of value over truth in one film, 0 to 1.5; None where the truth hardly changed."""
    clues, truth, _ = _film_rows(sample)
    span = _RESPONSE_SPAN[sample.check.unit]
    if view_name(sample.view_deg) is None or len(truth) < _FEWEST or np.ptp(truth) < span:
        return None
    value = calibration.value(clues, sample.view_deg)
    change = truth - np.median(truth)
    slope = float((value - np.median(value)) @ change / (change @ change))
    return min(max(slope, 0.0), 1.5)


def _usable(sample: Sample) -> bool:
    """Whether a film shows enough to learn lines from."""
    return len(_film_rows(sample)[1]) >= _FEWEST


def _weigh(samples: Sequence[Sample]) -> Calibration:
    """Clues as straight lines of the quantity, with their errors: the inverse of a reading."""
    unit = samples[0].check.unit
    reference = float(np.mean([np.median(s.rep_truth) for s in samples]))
    films = [_film_rows(s) for s in samples]
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


def _row(values: FloatArray) -> tuple[float, ...]:
    return tuple(float(v) for v in values)


def _film_rows(sample: Sample) -> tuple[FloatArray, FloatArray, float]:
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


def _residual(sample: Sample, calibration: Calibration) -> FloatArray:
    """Subtract truth from readings, (reps,), NaN where unread or misfitted."""
    value = calibration.value(sample.rep_clues, sample.view_deg)
    residual: FloatArray = np.where(
        sample.rep_misfit < MISFIT_LIMIT, value - sample.rep_truth, np.nan
    )
    return residual


def _with_errors(
    calibration: Calibration,
    residuals: Sequence[tuple[Sample, FloatArray]],
    samples: Sequence[Sample],
) -> Calibration:
    unit = samples[0].check.unit
    prior_between, prior_within = _PRIOR_ERROR[unit]
    centres: dict[str, list[float]] = {name: [] for name in VIEWS}
    spreads: dict[str, list[float]] = {name: [] for name in VIEWS}
    slopes: list[float] = []
    for sample, residual in residuals:
        view = view_name(sample.view_deg)
        readable = np.isfinite(residual)
        if view is None or not readable.any():
            continue
        known, misfit = residual[readable], sample.rep_misfit[readable]
        factor = own_error_factor(misfit)
        centre = float(np.median(known))
        centres[view].append(centre / float(common_error_factor(np.array(np.median(misfit)))))
        truth = sample.rep_truth[readable]
        usual = np.abs(truth - np.median(truth)) < _MISS_STEP[unit]
        if usual.sum() > 1:
            own = (known[usual] - np.median(known[usual])) / factor[usual]
            spreads[view].append(float(np.sqrt(np.sum(own * own) / (len(own) - 1))))
        if usual.any():
            change = truth[~usual] - float(np.median(truth[usual]))
            excess = known[~usual] - float(np.median(known[usual]))
            slopes += [float(r / c) for r, c in zip(excess, change, strict=True)]
    pooled_between = _pooled([c for values in centres.values() for c in values], prior_between)
    pooled_within = _pooled([s for values in spreads.values() for s in values], prior_within)
    return replace(
        _with_habits(calibration, samples),
        between={name: _pooled(values, pooled_between) for name, values in centres.items()},
        within={name: _pooled(values, pooled_within) for name, values in spreads.items()},
        slope_error=min(_pooled(slopes, _PRIOR_SLOPE_ERROR), _LARGEST_SLOPE_ERROR),
        read_share={name: _read_share(samples, name) for name in VIEWS},
        films={name: len(values) for name, values in centres.items()},
    )


def _read_share(samples: Sequence[Sample], view: str) -> float:
    """Share of reps read from a view, drawn towards a half where few were filmed."""
    misfits = [s.rep_misfit for s in samples if view_name(s.view_deg) == view]
    reps = np.concatenate([np.zeros(0), *misfits])
    return float((np.sum(reps < MISFIT_LIMIT) + 1) / (len(reps) + 2))


def _pooled(deviations: Sequence[float], prior: float) -> float:
    """Root mean square without its longest tail, drawn towards a prior worth a few films."""
    size = np.abs(np.asarray(deviations, float))
    if len(size):
        size = np.minimum(size, _TAIL * max(float(np.median(size)), prior / _TAIL))
    total = float(size @ size) + _PRIOR_FILMS * prior**2
    return float(np.sqrt(total / (len(deviations) + _PRIOR_FILMS)))


def _with_habits(calibration: Calibration, samples: Sequence[Sample]) -> Calibration:
    """Describe what athletes do: their usual value, its spread, and what misses look like."""
    check = samples[0].check
    sign = 1.0 if check.relation == "at least" else -1.0
    usual = np.array([float(np.median(s.rep_truth)) for s in samples])
    usual_ok = usual[sign * (usual - check.limit) > 0]
    offsets = np.concatenate([s.rep_truth - np.median(s.rep_truth) for s in samples])
    values = np.concatenate([s.rep_truth for s in samples])
    missed = sign * offsets < -_MISS_STEP[check.unit]
    regular = offsets[~missed]
    misses = values[missed]
    expected_miss = check.limit - sign * _MISS_FLOOR[check.unit]
    mean = (misses.sum() + 3 * expected_miss) / (len(misses) + 3)
    met = sign * (values - check.limit) >= 0
    typical = float(np.mean(usual_ok)) if len(usual_ok) else float(np.mean(usual))
    return replace(
        calibration,
        typical=typical,
        typical_spread=max(float(np.std(usual_ok)) * 1.2, _typical_floor(check)),
        rep_spread=max(float(np.std(regular)), _spread_floor(check)),
        miss_share=float(max((missed.sum() + 3) / (len(values) + 20), _SUSPICION)),
        miss_mean=float(mean),
        miss_spread=_miss_spread(misses, float(mean), check),
        met_share=float((met.sum() + 2) / (len(met) + 3)),
    )


_STOPPED: Final = frozenset({"chest to bar gap", "chest above floor"})
_SHORT_OF_STOP = 2.326


def _miss_spread(misses: FloatArray, mean: float, check: Check) -> float:
    """Spread of what misses are.

    Where a good rep ends at a stop (a straight joint, the bar, the floor) who stops short has
    missed: no more than one in a hundred of them may meet the limit all the same.
    """
    spread = max(float(np.std(misses)) if len(misses) else 0.0, _MISS_FLOOR[check.unit])
    if check.unit == "deg" or check.quantity in _STOPPED:
        spread = min(spread, abs(mean - check.limit) / _SHORT_OF_STOP)
    return spread


def _typical_floor(check: Check) -> float:
    """Least spread granted to athletes' habits; a touch is a touch with everyone."""
    return _TOUCH_SPREAD_CM if _is_touch(check) else _TYPICAL_FLOOR[check.unit]


def _spread_floor(check: Check) -> float:
    """Least spread granted from rep to rep of one athlete."""
    return _TOUCH_SPREAD_CM if _is_touch(check) else _SPREAD_FLOOR[check.unit]


def _is_touch(check: Check) -> bool:
    return check.quantity == "chest to bar gap"


def build_table(samples: Sequence[Sample], made_from: str) -> CalibrationTable:
    """Calibrate every context, and every quantity over all its contexts as a fallback."""
    entries: dict[str, Calibration] = {}
    groups = {s.key: [t for t in samples if t.key == s.key] for s in samples}
    for sample in samples:
        quantity = sample.check.quantity
        groups[quantity] = [t for t in samples if t.check.quantity == quantity]
    for name, group in sorted(groups.items()):
        if any(_usable(sample) for sample in group):
            entries[name] = fit_entry(group)
    return CalibrationTable(entries, shared_error=0.3, made_from=made_from)


def load_samples(folders: Sequence[Path], tracks: Path) -> list[Sample]:
    """Read all labelled films in folders whose landmark file lies in ``tracks``."""
    samples: list[Sample] = []
    for truth in sorted(path for folder in folders for path in folder.glob("*/truth.json")):
        landmarks = tracks / f"{truth.parent.name}.npz"
        if not landmarks.exists():
            print(f"{truth.parent.name}: no landmark file, left out", file=sys.stderr)
            continue
        try:
            samples += film_samples(load_labelled(truth.parent), load_track(landmarks))
        except BodyFitError as error:
            print(f"{truth.parent.name}: {error}, left out", file=sys.stderr)
    return samples


def describe(table: CalibrationTable) -> str:
    """Lay the table's errors out, one line a context: errors are those of bodies left out."""
    lines = [f"{'context':<46}{'view':<9}{'films':>6}{'common':>8}{'own':>7}{'usual':>8}"]
    for name, entry in table.entries.items():
        lines += [
            f"{name:<46}{view:<9}{entry.films[view]:>6}{entry.between[view]:>8.1f}"
            f"{entry.within[view]:>7.1f}{entry.typical:>8.1f}"
            for view in VIEWS
            if entry.films[view]
        ]
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Calibrate from labelled films, print the errors of bodies left out, write the table."""
    parser = argparse.ArgumentParser(
        prog="python -m counting.checks.calibrate", description=__doc__
    )
    parser.add_argument("folders", nargs="+", type=Path, help="folders of labelled films")
    parser.add_argument("--tracks", type=Path, required=True, help="folder of landmark files")
    parser.add_argument("--out", type=Path, help="where to write the table")
    options = parser.parse_args(arguments)
    samples = load_samples(options.folders, options.tracks)
    films = sorted({s.film for s in samples})
    bodies = sorted({s.body for s in samples})
    table = build_table(samples, f"{len(films)} rendered films of {len(bodies)} bodies")
    print(describe(table))
    if options.out is not None:
        write_table(table, options.out)


if __name__ == "__main__":
    main()
