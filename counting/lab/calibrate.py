"""Making the calibration table from labelled films.

    python -m counting.lab.calibrate CLIPS_DIR... --tracks DIR

reads the films, keeps their readings in the repository and makes the packaged table from them;
with --add the readings that are there stay, and these films' come beside them; without folders the
table is made again from the readings that are kept. Films of every shipped movement are read.

Each feature is a straight line of the quantity with an error common to a film and one of its own;
errors of the values made of them are read off films whose body was left out of the fit, so that
the table states what happens with a body and a camera never seen before.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from importlib.resources import files
from pathlib import Path
from typing import Final

import numpy as np

from counting.body.motion import BodyFitError
from counting.body.skeleton import FloatArray
from counting.checks.inference import COMMON_FREEDOM, OWN_FREEDOM
from counting.checks.table import (
    VIEWS,
    Calibration,
    CalibrationTable,
    Provenance,
    Shown,
    Values,
    context_name,
    load_table,
    view_name,
    write_table,
)
from counting.lab.body_truth import read_body_truth
from counting.lab.reading_code import landmark_digest, reading_digest
from counting.lab.readings import (
    FilmSamples,
    Sample,
    film_digest,
    film_samples,
    load_readings,
    write_readings,
)
from counting.lab.ridge import learn_lines, usable
from counting.lab.truth import TruthError
from counting.movements.loader import UnknownMovementError, find_movement
from vision.track import TrackError, load_track

READINGS: Final = Path(str(files("counting.lab"))) / "readings.xz"
"""Where readings are kept."""
TABLE: Final = Path(str(files("counting.checks"))) / "calibration.json"

_FEWEST = 3
_RESPONSE_SPAN: Final = {"deg": 12.0, "cm": 4.0}
_PRIOR_FILMS: Final = 2
_PRIOR_ERROR: Final = {"deg": (6.0, 2.5), "cm": (2.5, 1.0)}


_UNLIKE_FILMS: Final = 6.0
"""What few films tell of the next: with so many of a context its error is the root of two larger,
as weights of as many unknowns do not fit a film they have not seen."""


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    """One film's values by lines that its body was left out of."""

    sample: Sample
    values: Values
    view: str

    @property
    def residual(self) -> FloatArray:
        """(reps,) value less what was shown, NaN where either is missing."""
        return np.asarray(self.values.value - self.sample.rep_shown)


def fit_entry(samples: Sequence[Sample]) -> Calibration:
    """Calibrate one context by films of several bodies."""
    chosen = [s for s in samples if usable(s)]
    read: list[_Read] = []
    for body in sorted({s.body for s in samples}):
        others = [s for s in chosen if s.body != body]
        if not others:
            continue
        fitted = learn_lines(others)
        for sample in (s for s in samples if s.body == body):
            view = view_name(sample.view_deg)
            values = fitted.combine(sample.rep_features, sample.rep_factors, sample.view_deg)
            if view is not None and np.isfinite(values.value - sample.rep_shown).any():
                read.append(_Read(sample, values, view))
    return _with_errors(learn_lines(chosen), read, samples)


def _with_errors(
    calibration: Calibration, read: Sequence[_Read], samples: Sequence[Sample]
) -> Calibration:
    """State by view how far values of bodies left out were off."""
    prior_between, prior_within = _PRIOR_ERROR[samples[0].check.unit]
    common: dict[str, list[Error]] = {name: [] for name in VIEWS}
    own: dict[str, list[Error]] = {name: [] for name in VIEWS}
    responses: dict[str, list[float]] = {name: [] for name in VIEWS}
    for one in read:
        known = np.isfinite(one.residual)
        residual, unsure = one.residual[known], one.values.own_unsure[known]
        growth = one.values.growth[known]
        weight = 1.0 / ((prior_within * growth) ** 2 + unsure**2)
        centre = float(weight @ residual / weight.sum())
        common[one.view].append((centre, one.values.shared_unsure, one.values.shared_growth))
        if known.sum() > 1:
            spread = np.sqrt(known.sum() / (known.sum() - 1))
            own[one.view] += zip((residual - centre) * spread, unsure, growth, strict=True)
        response = _response(one)
        if response is not None:
            responses[one.view].append(response)
    unlike = float(np.sqrt(1.0 + _UNLIKE_FILMS / max(len(read), 1)))
    between = _scale(_all(common), prior_between, COMMON_FREEDOM)
    within = _scale(_all(own), prior_within, OWN_FREEDOM)
    return replace(
        calibration,
        between={
            name: unlike * _scale(found, between, COMMON_FREEDOM) for name, found in common.items()
        },
        within={name: _scale(found, within, OWN_FREEDOM) for name, found in own.items()},
        response=_responses(responses),
        read_share={name: _read_share(calibration, samples, name) for name in VIEWS},
        films={name: len(found) for name, found in common.items()},
    )


Error = tuple[float, float, float]
"""An error, how much of it comes from features that were hidden, and how many times it is grown."""


def _all(by_view: dict[str, list[Error]]) -> list[Error]:
    return [error for found in by_view.values() for error in found]


def _scale(found: Sequence[Error], prior: float, freedom: float) -> float:
    """Scale of Student's t about zero by maximum likelihood, drawn to a prior of a few films."""
    tried = prior * np.geomspace(1 / 8, 8, 97)
    error, unsure, growth = np.array([*found, *[(prior, 0.0, 1.0)] * _PRIOR_FILMS]).T
    scale = np.hypot(tried[:, None] * growth, unsure)
    likelihood = (log_density(error / scale, freedom) - np.log(scale)).sum(axis=1)
    return float(tried[np.argmax(likelihood)])


def log_density(z: FloatArray, freedom: float) -> FloatArray:
    """Logarithm of the density of Student's t at ``z``, but for a constant."""
    density: FloatArray = -0.5 * (freedom + 1.0) * np.log1p(z * z / freedom)
    return density


def _response(one: _Read) -> float | None:
    """Slope of value over truth among one film's reps, 0 to 1.5; None where all did alike."""
    known = np.isfinite(one.residual)
    value, truth = one.values.value[known], one.sample.rep_shown[known]
    if len(truth) < _FEWEST or np.ptp(truth) < _RESPONSE_SPAN[one.sample.check.unit]:
        return None
    change = truth - np.median(truth)
    slope = float((value - np.median(value)) @ change / (change @ change))
    return min(max(slope, 0.0), 1.5)


def _responses(found: dict[str, list[float]]) -> dict[str, float]:
    """Mean response by view, drawn towards that of all views by the weight of a few films."""
    of_all = [value for values in found.values() for value in values]
    usual = (sum(of_all) + _PRIOR_FILMS) / (len(of_all) + _PRIOR_FILMS)
    return {
        name: (sum(values) + _PRIOR_FILMS * usual) / (len(values) + _PRIOR_FILMS)
        for name, values in found.items()
    }


def _read_share(calibration: Calibration, samples: Sequence[Sample], view: str) -> float:
    """Share of reps read from a view, drawn towards a half where few were filmed."""
    values = [
        calibration.combine(s.rep_features, s.rep_factors, s.view_deg).value
        for s in samples
        if view_name(s.view_deg) == view
    ]
    reps = np.concatenate([np.zeros(0), *values])
    return float((np.isfinite(reps).sum() + 1) / (len(reps) + 2))


def build_table(films: Sequence[FilmSamples], made_from: Provenance) -> CalibrationTable:
    """Calibrate every context, and every quantity over all its contexts as a fallback."""
    samples = [sample for film in films for sample in film.samples]
    groups = {s.key: [t for t in samples if t.key == s.key] for s in samples}
    for sample in samples:
        quantity = sample.check.quantity
        groups[quantity] = [t for t in samples if t.check.quantity == quantity]
    entries = {
        name: fit_entry(group)
        for name, group in sorted(groups.items())
        if any(usable(sample) for sample in group)
    }
    return CalibrationTable(entries=entries, made_from=made_from, shown=shown_in(films))


def shown_in(films: Sequence[FilmSamples]) -> dict[str, Shown]:
    """Tell what the films show of each quantity, by base and part of the repetition."""
    found: dict[str, list[Sample]] = {}
    for film in films:
        base = find_movement(film.movement).base
        for sample in filter(usable, film.samples):
            name = context_name(sample.check.quantity, base, sample.check.phase)
            found.setdefault(name, []).append(sample)
    return {name: _shown(samples) for name, samples in sorted(found.items())}


def _shown(samples: Sequence[Sample]) -> Shown:
    views = Counter(view_name(sample.view_deg) for sample in samples)
    limits = [sample.check.limit for sample in samples]
    return Shown(
        films={view: views[view] for view in VIEWS},
        bodies=len({sample.body for sample in samples}),
        lowest=min(limits),
        highest=max(limits),
    )


def provenance(films: Sequence[FilmSamples], landmarks: str, reading: str) -> Provenance:
    """Say what a table is made from: films of which no check was read only tell of likenesses."""
    films = [film for film in films if film.samples]
    bodies = {film.body for film in films}
    return Provenance(
        words=f"{len(films)} rendered films of {len(bodies)} bodies",
        landmarks=landmarks,
        reading=reading,
        films={film.name: film.digest for film in sorted(films, key=lambda f: f.name)},
    )


def added(kept: Sequence[FilmSamples], read: Sequence[FilmSamples]) -> list[FilmSamples]:
    """Put films that were read beside those that are kept; one of the same name takes its place."""
    by_name = {film.name: film for film in kept}
    return list((by_name | {film.name: film for film in read}).values())


def labelled_clips(folders: Sequence[Path]) -> list[Path]:
    """Folders of the labelled films in some folders, by name."""
    return sorted(file.parent for folder in folders for file in folder.glob("*/truth.json"))


def read_labelled_films(
    clips: Sequence[Path], tracks: Path, workers: int = 2
) -> Iterator[FilmSamples]:
    """Read all labelled films whose landmark file lies in ``tracks``; name those left out."""
    asked = [(clip, tracks / f"{clip.name}.npz") for clip in clips]
    with ProcessPoolExecutor(workers) as pool:
        for number, film in enumerate(pool.map(_read_one, asked), start=1):
            if isinstance(film, str):
                print(f"{film}, left out", file=sys.stderr)
            else:
                print(f"{number} of {len(asked)}: {film.name}", file=sys.stderr)
                yield film


def _read_one(asked: tuple[Path, Path]) -> FilmSamples | str:
    clip, file = asked
    if not file.exists():
        return f"{clip.name}: no landmark file"
    try:
        film = read_body_truth(clip)
        return film_samples(film, load_track(file), film_digest(clip / "truth.json", file))
    except (BodyFitError, TrackError, TruthError, UnknownMovementError) as error:
        return f"{clip.name}: {error}"


def describe(table: CalibrationTable) -> str:
    """Lay the table's errors out, one line a context: errors are those of bodies left out."""
    lines = [f"{'context':<46}{'view':<9}{'films':>6}{'common':>8}{'own':>7}{'follows':>9}"]
    for name, entry in table.entries.items():
        lines += [
            f"{name:<46}{view:<9}{entry.films[view]:>6}{entry.between[view]:>8.1f}"
            f"{entry.within[view]:>7.1f}{entry.response[view]:>9.2f}"
            for view in VIEWS
            if entry.films[view]
        ]
    lines += ["", f"{'what films show':<60}{'bodies':>7}{'films':>12}  judged from"]
    for name, shown in table.shown.items():
        films = ", ".join(str(shown.films[view]) for view in VIEWS)
        judged = ", ".join(view for view in VIEWS if shown.enough(view))
        lines.append(f"{name:<60}{shown.bodies:>7}{films:>12}  {judged or '-'}")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Read labelled films, keep the readings, print the errors, write the table."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.calibrate", description=__doc__)
    parser.add_argument("folders", nargs="*", type=Path, help="folders of labelled films")
    parser.add_argument("--tracks", type=Path, help="folder of landmark files")
    parser.add_argument(
        "--add",
        action="store_true",
        help="keep the readings that are there and add those of these films; a film of a name that "
        "is there is read again, and its new reading takes the place of the old one",
    )
    parser.add_argument(
        "--unchanged",
        action="store_true",
        help="landmarks and readings are what they were, though the code for them was changed",
    )
    parser.add_argument("--readings", type=Path, default=READINGS, help="file of kept readings")
    parser.add_argument("--out", type=Path, default=TABLE, help="where to write the table")
    parser.add_argument(
        "--leave-out", nargs="*", default=[], help="patterns of names of films kept for trials"
    )
    parser.add_argument("--workers", type=int, default=2, help="films that are read at a time")
    options = parser.parse_args(arguments)
    if options.add and not options.folders:
        parser.error("--add: name the folders of the films to add")
    if options.folders:
        if options.tracks is None:
            parser.error("labelled films need --tracks")
        clips = [
            clip
            for clip in labelled_clips(options.folders)
            if not any(fnmatch(clip.name, pattern) for pattern in options.leave_out)
        ]
        twice = [name for name, n in Counter(clip.name for clip in clips).items() if n > 1]
        if twice:
            parser.error(f"two films of one name, which stands for a film: {', '.join(twice)}")
        kept = []
        if options.add and options.readings.exists():
            made = load_table(options.out if options.out.exists() else TABLE).made_from
            now = (landmark_digest(), reading_digest())
            if not options.unchanged and (made.landmarks, made.reading) != now:
                parser.error(
                    "--add: the readings that are there were read by other code; read all films "
                    "anew, or say --unchanged where it finds what it found"
                )
            kept = load_readings(options.readings)
        read = list(read_labelled_films(clips, options.tracks, options.workers))
        if options.add:
            again = {film.name for film in kept} & {film.name for film in read}
            print(
                f"{len(kept)} films were there, {len(read) - len(again)} were added, "
                f"{len(again)} read again{': ' if again else ''}{', '.join(sorted(again))}",
                file=sys.stderr,
            )
        write_readings(added(kept, read), options.readings)
    landmarks, reading = landmark_digest(), reading_digest()
    if not options.folders and not options.unchanged:
        made = load_table(options.out).made_from
        landmarks, reading = made.landmarks, made.reading
    films = load_readings(options.readings)
    table = build_table(films, provenance(films, landmarks, reading))
    print(describe(table))
    write_table(table, options.out)


if __name__ == "__main__":
    main()
