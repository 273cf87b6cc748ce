"""What two films of the same reps say together, learnt and measured on labelled pairs.

    python -m counting.lab.pairs FOLDER... --tracks DIR [--learn]

A pair are the folders ``NAME_a`` and ``NAME_b`` of one motion; ``NAME_b/truth.json`` says under
``pair`` how its clock runs on that of the other (``offset_s``, ``drift_ppm``). With ``--learn`` the
packaged table is made from the pairs, else they are judged by it and what went wrong is printed.
"""

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from importlib.resources import files
from pathlib import Path
from typing import Final

import msgspec
import numpy as np

from counting.body.motion import BodyFitError
from counting.body.skeleton import FloatArray
from counting.checks.coverage import why_not_judged
from counting.checks.errors import readings_of
from counting.checks.films import FilmsReading, OtherFilm, read_films
from counting.checks.reading import FilmReading
from counting.checks.table import Provenance, entry_name, packaged_table
from counting.checks.together import (
    FITTED_FEATURE,
    FilmsTable,
    FittedErrors,
    write_films_table,
)
from counting.lab.body_truth import BodyTruth, read_body_truth
from counting.lab.matching import match
from counting.lab.pair_figures import report
from counting.lab.reading_code import landmark_digest, reading_digest
from counting.lab.readings import film_digest
from counting.movements.types import Movement
from counting.reps.types import Rep
from counting.timeline import find_reps
from vision.sound.reading import Sound, read_sound
from vision.synchrony.fit import fit_clock
from vision.synchrony.types import ClockFit, SynchronyError
from vision.track import PoseTrack, load_track

TABLE: Final = Path(str(files("counting.checks"))) / "films.json"
_PRIOR_ALIKE: Final = 0.3
_PRIOR_COUNT: Final = 4.0
_MOST_ALIKE: Final = 0.9
_PRIOR_FITTED: Final = {"deg": FittedErrors(5.0, 3.0), "cm": FittedErrors(2.0, 1.0)}
_PRIOR_PAIRS: Final = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two labelled films of one motion, and what was read of them.

    ``values`` holds, for each check of ``movement``, (reps,) true values, NaN for a rep that is
    none.
    """

    name: str
    digest: str
    truth: BodyTruth
    true_clock: ClockFit
    clock: ClockFit
    tracks: tuple[PoseTrack, PoseTrack]
    sounds: tuple[Sound | None, Sound | None]
    movement: Movement
    reps: tuple[Rep, ...]
    reading: FilmsReading
    values: tuple[FloatArray, ...]


def read_pairs(
    folders: Sequence[Path], tracks: Path, leave_out: Sequence[str] = ()
) -> Iterator[Pair]:
    """Read all pairs in some folders; those that cannot be read are told of and left out."""
    for folder in folders:
        for second in sorted(folder.glob("*_b/truth.json")):
            name = second.parent.name[:-2]
            if any(fnmatch(name, pattern) for pattern in leave_out):
                continue
            places = [folder / f"{name}_{side}" for side in "ab"]
            landmark_files = [tracks / f"{place.name}.npz" for place in places]
            if not all(file.exists() for file in landmark_files):
                print(f"{name}: no landmark files, left out", file=sys.stderr)
                continue
            try:
                yield _read_pair(name, places, landmark_files)
            except (SynchronyError, BodyFitError) as error:
                print(f"{name}: {error}, left out", file=sys.stderr)


def _read_pair(name: str, places: Sequence[Path], landmark_files: Sequence[Path]) -> Pair:
    told = json.loads((places[1] / "truth.json").read_text(encoding="utf-8"))["pair"]
    truth = read_body_truth(places[0])
    first, second = (load_track(file) for file in landmark_files)
    one, other = (read_sound(place / "clip.mp4") for place in places)
    clock = fit_clock((first, second), (one, other))
    judged = tuple(c for c in truth.movement.checks if why_not_judged(c, truth.movement) is None)
    movement = msgspec.structs.replace(truth.movement, checks=judged)
    reps = find_reps(first, movement).reps
    reading = read_films(first, [OtherFilm(second, clock)], reps, movement)
    pairs = match(
        [(rep.start_s, rep.end_s) for rep in truth.reps], [(rep.start_s, rep.end_s) for rep in reps]
    ).pairs
    values = np.full((len(judged), len(reps)), np.nan)
    for row, check in enumerate(judged):
        for true, found in pairs:
            value = truth.true_value(truth.reps[true], check)
            values[row, found] = np.nan if value is None else value
    print(f"{name}: read", file=sys.stderr)
    return Pair(
        name=name,
        digest=film_digest(*(place / "truth.json" for place in places), *landmark_files),
        truth=truth,
        true_clock=ClockFit(told["offset_s"], told["drift_ppm"], 0.0, 0.0, "sound"),
        clock=clock,
        tracks=(first, second),
        sounds=(one, other),
        movement=movement,
        reps=tuple(reps),
        reading=reading,
        values=tuple(values),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Residual:
    """Errors of one value in one pair: common, and from rep to rep, over what is stated of them."""

    key: str
    unit: str
    pair: str
    film: int
    common: float
    common_error: float
    own: FloatArray
    own_error: FloatArray


def learn(pairs: Sequence[Pair], made_from: Provenance) -> FilmsTable:
    """Learn how errors vary together, and how far a body fitted to both films is off."""
    alone = [one for pair in pairs for one in _alone(pair)]
    fitted = [one for pair in pairs for one in _fitted(pair)]
    squares: dict[str, list[float]] = {unit: [] for unit in _PRIOR_FITTED}
    for pair in pairs:
        others = _learnt(
            [one for one in alone if one.pair != pair.name],
            [one for one in fitted if one.pair != pair.name],
            made_from,
        )
        for unit, square in _squares(pair, others):
            squares[unit].append(square)
    growth = {
        unit: float(np.sqrt((sum(found) + _PRIOR_PAIRS) / (len(found) + _PRIOR_PAIRS)))
        for unit, found in squares.items()
    }
    return replace(_learnt(alone, fitted, made_from), growth=growth)


def _squares(pair: Pair, table: FilmsTable) -> Iterator[tuple[str, float]]:
    """Mean square of each check's errors over what a table states of them."""
    for row, check in enumerate(pair.movement.checks):
        entry = packaged_table().find(check.quantity, pair.movement.base, check.phase)
        values = pair.reading.values(row, entry, table)
        if values is None:
            continue
        first = next(one for one in pair.reading.alone if one is not None)
        second = pair.reading.alone[0] is None
        shown = _shown(pair, first, row, second=second)
        off = (values.value - shown) / np.hypot(values.own_error, values.common_error)
        known = off[np.isfinite(off)]
        if len(known):
            yield check.unit, float(np.mean(known**2))


def _learnt(
    alone: Sequence[_Residual], raw: Sequence[_Residual], made_from: Provenance
) -> FilmsTable:
    offset = {key: float(np.mean([one.common for one in raw if one.key == key]))
              for key in {one.key for one in raw}}  # fmt: skip
    count = {key: sum(one.key == key for one in raw) for key in offset}
    errors = {unit: _fitted_errors([o for o in raw if o.unit == unit], offset, count, prior)
              for unit, prior in _PRIOR_FITTED.items()}  # fmt: skip
    off = [_about(one, offset, count, errors) for one in raw if count[one.key] > 1]
    return FilmsTable(
        alike_common=_alike(_common_products(alone, alone)),
        alike_own=_alike(_own_products(alone, alone)),
        fitted_alike_common=_alike(_common_products(alone, off)),
        fitted_alike_own=_alike(_own_products(alone, off)),
        fitted=errors,
        offset=dict(sorted(offset.items())),
        pairs=dict(sorted(count.items())),
        growth=dict.fromkeys(_PRIOR_FITTED, 1.0),
        made_from=made_from,
    )


def _shown(pair: Pair, reading: FilmReading, row: int, *, second: bool = False) -> FloatArray:
    """(reps,) true values in the frames that decide, as there was nothing else to be read."""
    read = reading.checks[row]
    series = pair.truth.true_series(read.check.quantity)
    if series is None:
        return pair.values[row]
    track = pair.tracks[1] if second else pair.tracks[0]
    shown = np.full(len(read.stays), np.nan)
    for rep, stay in enumerate(read.stays):
        if stay is not None and np.isfinite(pair.values[row][rep]):
            time_s = track.time_s[stay.rows]
            at_s = pair.clock.first_s(time_s) if second else time_s
            shown[rep] = np.median(np.interp(at_s, pair.truth.time_s, series))
    return shown


def _alone(pair: Pair) -> Iterator[_Residual]:
    for film, reading in enumerate(pair.reading.alone):
        if reading is None:
            continue
        for row, check in enumerate(pair.movement.checks):
            entry = packaged_table().find(check.quantity, pair.movement.base, check.phase)
            values = readings_of(reading.checks[row], entry, reading.motion.view_deg)
            if values is None:
                continue
            off = values.value - _shown(pair, reading, row, second=film > 0)
            key = entry_name(check.quantity, pair.movement.base, check.phase)
            one = _residual(key, check.unit, pair.name, film, off, values.own_error)
            if one is not None:
                yield replace(one, common_error=float(values.common_error[0]))


def _fitted(pair: Pair) -> Iterator[_Residual]:
    for reading in pair.reading.fitted:
        if reading is None:
            continue
        for row, check in enumerate(pair.movement.checks):
            read = reading.checks[row]
            off = read.features[:, FITTED_FEATURE] - _shown(pair, reading, row)
            key = entry_name(check.quantity, pair.movement.base, check.phase)
            factor = np.nan_to_num(read.factors[:, FITTED_FEATURE], nan=1.0)
            one = _residual(key, check.unit, pair.name, -1, off, factor)
            if one is not None:
                yield one


def _residual(
    key: str, unit: str, pair: str, film: int, off: FloatArray, own_error: FloatArray
) -> _Residual | None:
    known = np.isfinite(off)
    if not known.any():
        return None
    weight = np.where(known, own_error, np.inf) ** -2.0
    common = float((weight * np.where(known, off, 0.0)).sum() / weight.sum())
    return _Residual(key, unit, pair, film, common, 1.0, off - common, own_error)


def _about(
    one: _Residual, offset: dict[str, float], count: dict[str, int],
    errors: dict[str, FittedErrors],
) -> _Residual:  # fmt: skip
    """Take a context's offset, learnt without this pair, from a fitted body's error."""
    n = count[one.key]
    without = (n * offset[one.key] - one.common) / (n - 1)
    known = errors[one.unit]
    return replace(
        one,
        common=one.common - without,
        common_error=known.common * float(np.sqrt(1 + 1 / (n - 1))),
        own_error=one.own_error * known.own,
    )


def _fitted_errors(
    raw: Sequence[_Residual], offset: dict[str, float], count: dict[str, int], prior: FittedErrors
) -> FittedErrors:
    """Errors about the contexts' offsets, drawn to those expected by the weight of few pairs."""
    about = [(one.common - offset[one.key]) ** 2 for one in raw if count[one.key] > 1]
    freedom = len(about) - len({one.key for one in raw if count[one.key] > 1})
    common = (sum(about) + _PRIOR_PAIRS * prior.common**2) / (freedom + _PRIOR_PAIRS)
    own: list[float] = []
    for one in raw:
        scaled = (one.own / one.own_error)[np.isfinite(one.own)]
        if len(scaled) > 1:
            own += list(scaled**2 * len(scaled) / (len(scaled) - 1))
    within = (sum(own) + _PRIOR_PAIRS * prior.own**2) / (len(own) + _PRIOR_PAIRS)
    return FittedErrors(float(np.sqrt(common)), float(np.sqrt(within)))


def _common_products(
    ones: Sequence[_Residual], others: Sequence[_Residual]
) -> list[tuple[float, float]]:
    return [
        (one.common / one.common_error, other.common / other.common_error)
        for one in ones
        for other in others
        if _same(one, other)
    ]


def _own_products(
    ones: Sequence[_Residual], others: Sequence[_Residual]
) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for one in ones:
        for other in others:
            if _same(one, other):
                both = np.isfinite(one.own) & np.isfinite(other.own)
                pair = zip(
                    (one.own / one.own_error)[both], (other.own / other.own_error)[both],
                    strict=True,
                )  # fmt: skip
                found += [(float(a), float(b)) for a, b in pair]
    return found


def _same(one: _Residual, other: _Residual) -> bool:
    """Whether two errors are of the same check and pair, from the first film and another value."""
    alike = (one.key, one.pair) == (other.key, other.pair)
    return alike and (one.film < other.film or other.film < 0)


def _alike(products: Sequence[tuple[float, float]]) -> float:
    """Correlation about zero, drawn to a usual one by the weight of few pairs."""
    a, b = np.array([(0.0, 0.0), *products]).T
    a, b = (np.clip(one, -3.0, 3.0) for one in (a, b))
    together = float(np.sqrt((a @ a + _PRIOR_COUNT) * (b @ b + _PRIOR_COUNT)))
    return float(np.clip((a @ b + _PRIOR_ALIKE * _PRIOR_COUNT) / together, 0.0, _MOST_ALIKE))


def main(arguments: Sequence[str] | None = None) -> None:
    """Learn from labelled pairs, or measure on them."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.pairs", description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path, help="folders of labelled pairs")
    parser.add_argument("--tracks", type=Path, required=True, help="folder of landmark files")
    parser.add_argument("--learn", action="store_true", help="make the packaged table")
    parser.add_argument(
        "--leave-out", nargs="*", default=[], help="patterns of names of pairs kept for trials"
    )
    options = parser.parse_args(arguments)
    pairs = list(read_pairs(options.folders, options.tracks, options.leave_out))
    if options.learn:
        made_from = Provenance(
            f"{len(pairs)} labelled pairs of films",
            landmark_digest(),
            reading_digest(),
            {pair.name: pair.digest for pair in pairs},
        )
        write_films_table(learn(pairs, made_from), TABLE)
        return
    print(report(pairs))


if __name__ == "__main__":
    main()
