"""Making the calibration table from labelled films.

    python -m counting.lab.calibrate CLIPS_DIR... --tracks DIR [--out FILE]

Each clue is a straight line of the quantity with an error common to a film and one of its own;
errors of the values made of them are read off films whose body was left out of the fit, so that
the table states what happens with a body and a camera never seen before.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.body.motion import BodyFitError
from counting.body.skeleton import FloatArray
from counting.checks.judge import infer_reps
from counting.checks.table import (
    VIEWS,
    Calibration,
    CalibrationTable,
    Values,
    view_name,
    write_table,
)
from counting.decision.combination import SHARED_ERROR
from counting.lab.body_truth import films_with_landmarks
from counting.lab.habits import MISS_STEP, with_habits
from counting.lab.lines import learn_lines, usable
from counting.lab.reliability import learn_reliability
from counting.lab.samples import Sample, film_samples

BoolArray = npt.NDArray[np.bool_]

_FEWEST = 3
_RESPONSE_SPAN: Final = {"deg": 15.0, "cm": 4.0}
_TAIL = 3.0
_PRIOR_FILMS = 3.0
_PRIOR_ERROR: Final = {"deg": (5.0, 2.5), "cm": (2.5, 1.0)}
_PRIOR_SLOPE_ERROR = 0.3
_LARGEST_SLOPE_ERROR = 0.35


@dataclass(frozen=True, slots=True, eq=False)
class Learnt:
    """One context.

    Attributes
    ----------
    calibration
        Its entry in the table; errors are those of bodies left out.
    stated, met
        (checks,) probabilities that bodies left out met the limit, and whether they did.
    """

    calibration: Calibration
    stated: FloatArray
    met: BoolArray


def fit_entry(samples: Sequence[Sample]) -> Learnt:
    """Calibrate one context by films of several bodies."""
    chosen = [s for s in samples if usable(s)]
    read: list[tuple[Sample, Values]] = []
    responses: dict[str, list[float]] = {name: [] for name in VIEWS}
    for sample in samples:
        others = [s for s in chosen if s.body != sample.body]
        if others:
            fitted = learn_lines(others)
            values = fitted.combine(sample.rep_clues, sample.rep_factors, sample.view_deg)
            read.append((sample, values))
            response = _response(sample, values)
            if response is not None:
                responses[view_name(sample.view_deg) or ""].append(response)
    calibration = replace(learn_lines(chosen), response=_responses(responses))
    calibration = _with_errors(calibration, read, samples)
    stated = [_stated(calibration, sample, values) for sample, values in read]
    return Learnt(
        calibration,
        stated=np.concatenate([np.zeros(0), *(probability for probability, _ in stated)]),
        met=np.concatenate([np.zeros(0, np.bool_), *(met for _, met in stated)]),
    )


def _stated(
    calibration: Calibration, sample: Sample, values: Values
) -> tuple[FloatArray, BoolArray]:
    """Probabilities that the reps read in one film met the limit, and whether they did."""
    view = view_name(sample.view_deg)
    read = np.isfinite(values.value)
    if view is None or not read.any():
        return np.zeros(0), np.zeros(0, np.bool_)
    check = sample.check
    known = infer_reps(values, calibration.for_check(check), view, check)
    margin = (sample.rep_truth - check.limit) * (1.0 if check.relation == "at least" else -1.0)
    return known.probability_met[read], margin[read] >= 0.0


def _response(sample: Sample, values: Values) -> float | None:
    """Slope of value over truth among one film's reps, 0 to 1.5; None where all did alike."""
    read = np.isfinite(values.value)
    value, truth = values.value[read], sample.rep_truth[read]
    span = _RESPONSE_SPAN[sample.check.unit]
    if view_name(sample.view_deg) is None or len(truth) < _FEWEST or np.ptp(truth) < span:
        return None
    change = truth - np.median(truth)
    slope = float((value - np.median(value)) @ change / (change @ change))
    return min(max(slope, 0.0), 1.5)


def _responses(found: dict[str, list[float]]) -> dict[str, float]:
    """Mean response by view, drawn towards that of all views by the weight of a few films."""
    of_all = [value for values in found.values() for value in values]
    usual = float(np.mean(of_all)) if of_all else 1.0
    return {
        name: (sum(values) + _PRIOR_FILMS * usual) / (len(values) + _PRIOR_FILMS)
        for name, values in found.items()
    }


def _with_errors(
    calibration: Calibration,
    read: Sequence[tuple[Sample, Values]],
    samples: Sequence[Sample],
) -> Calibration:
    unit = samples[0].check.unit
    prior_between, prior_within = _PRIOR_ERROR[unit]
    centres: dict[str, list[float]] = {name: [] for name in VIEWS}
    spreads: dict[str, list[float]] = {name: [] for name in VIEWS}
    slopes: list[float] = []
    for sample, values in read:
        view = view_name(sample.view_deg)
        residual = values.value - sample.rep_truth
        readable = np.isfinite(residual)
        if view is None or not readable.any():
            continue
        known, factor = residual[readable], values.own_factor[readable]
        centre = float(np.median(known))
        centres[view].append(centre / values.common_factor)
        truth = sample.rep_truth[readable]
        usual = np.abs(truth - np.median(truth)) < MISS_STEP[unit]
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
        with_habits(calibration, samples),
        between={name: _pooled(values, pooled_between) for name, values in centres.items()},
        within={name: _pooled(values, pooled_within) for name, values in spreads.items()},
        slope_error=min(_pooled(slopes, _PRIOR_SLOPE_ERROR), _LARGEST_SLOPE_ERROR),
        read_share={name: _read_share(calibration, samples, name) for name in VIEWS},
        films={name: len(values) for name, values in centres.items()},
    )


def _read_share(calibration: Calibration, samples: Sequence[Sample], view: str) -> float:
    """Share of reps read from a view, drawn towards a half where few were filmed."""
    values = [
        calibration.combine(s.rep_clues, s.rep_factors, s.view_deg).value
        for s in samples
        if view_name(s.view_deg) == view
    ]
    reps = np.concatenate([np.zeros(0), *values])
    return float((np.isfinite(reps).sum() + 1) / (len(reps) + 2))


def _pooled(deviations: Sequence[float], prior: float) -> float:
    """Root mean square without its longest tail, drawn towards a prior worth a few films."""
    size = np.abs(np.asarray(deviations, float))
    if len(size):
        size = np.minimum(size, _TAIL * max(float(np.median(size)), prior / _TAIL))
    total = float(size @ size) + _PRIOR_FILMS * prior**2
    return float(np.sqrt(total / (len(deviations) + _PRIOR_FILMS)))


def build_table(samples: Sequence[Sample], made_from: str) -> CalibrationTable:
    """Calibrate every context, and every quantity over all its contexts as a fallback."""
    learnt: dict[str, Learnt] = {}
    groups = {s.key: [t for t in samples if t.key == s.key] for s in samples}
    for sample in samples:
        quantity = sample.check.quantity
        groups[quantity] = [t for t in samples if t.check.quantity == quantity]
    for name, group in sorted(groups.items()):
        if any(usable(sample) for sample in group):
            learnt[name] = fit_entry(group)
    asked = [one for name, one in learnt.items() if "/" in name]
    return CalibrationTable(
        entries={name: one.calibration for name, one in learnt.items()},
        shared_error=SHARED_ERROR,
        made_from=made_from,
        reliability=learn_reliability(
            np.concatenate([np.zeros(0), *(one.stated for one in asked)]),
            np.concatenate([np.zeros(0, np.bool_), *(one.met for one in asked)]),
        ),
    )


def load_samples(folders: Sequence[Path], tracks: Path) -> list[Sample]:
    """Read all labelled films in folders whose landmark file lies in ``tracks``."""
    samples: list[Sample] = []
    for film, track in films_with_landmarks(folders, tracks):
        try:
            samples += film_samples(film, track)
        except BodyFitError as error:
            print(f"{film.name}: {error}, left out", file=sys.stderr)
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
    worth = table.reliability
    lines.append(f"log odds on bodies left out: {worth.shift:+.2f} + {worth.slope:.2f} x stated")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Calibrate from labelled films, print the errors of bodies left out, write the table."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.calibrate", description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path, help="folders of labelled films")
    parser.add_argument("--tracks", type=Path, required=True, help="folder of landmark files")
    parser.add_argument("--out", type=Path, help="where to write the table")
    options = parser.parse_args(arguments)
    samples = load_samples(options.folders, options.tracks)
    films = sorted({s.film for s in samples})
    bodies = sorted({s.body for s in samples})
    source = f"{len(films)} rendered films of {len(bodies)} bodies"
    table = build_table(samples, source)
    print(describe(table))
    if options.out is not None:
        write_table(table, options.out)


if __name__ == "__main__":
    main()
