"""Two labelled films of one motion, and what is read of them.

A pair are the folders ``NAME_a`` and ``NAME_b``; ``NAME_b/truth.json`` says under ``pair`` how its
clock runs on that of the other (``offset_s``, ``drift_ppm``).
"""

import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from pathlib import Path

import msgspec
import numpy as np

from counting.body.motion import BodyFitError
from counting.body.sides import settled_sides
from counting.body.skeleton import FloatArray
from counting.body.views import view_at
from counting.checks.coverage import why_not_judged
from counting.checks.films import FilmsReading, OtherFilm, read_films
from counting.checks.ruler import stature_by_plates
from counting.checks.stature import ASSUMED, Stature
from counting.checks.table import entry_name
from counting.lab.body_truth import BodyTruth, read_body_truth
from counting.lab.matching import match
from counting.lab.readings import Sample, film_digest, film_samples
from counting.movements.types import Movement
from counting.reps.types import Rep
from counting.timeline import find_reps
from vision.film.reading import read_film
from vision.sound.reading import Sound, read_sound
from vision.synchrony.fit import fit_clock
from vision.synchrony.types import ClockFit, SynchronyError
from vision.track import PoseTrack, load_track


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two labelled films of one motion, and what was read of them.

    ``values`` holds, for each check of ``movement``, (reps,) true values, NaN for a rep that is
    none; ``samples`` what the body fitted to both shows of what is judged, ``stature`` what plates
    tell of the athlete's height and ``height_m`` the true one.
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
    samples: tuple[Sample, ...]
    stature: Stature
    height_m: float


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
    document = json.loads((places[1] / "truth.json").read_text(encoding="utf-8"))
    told = document["pair"]
    truth = read_body_truth(places[0])
    first, second = (load_track(file) for file in landmark_files)
    one, other = (_sound(place / "clip.mp4") for place in places)
    clock = fit_clock((first, second), (one, other))
    read = [
        truth.movement.as_read(check)
        for check in truth.movement.checks
        if why_not_judged(check, truth.movement) is None
    ]
    judged = tuple(check for check in read if check is not None)
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
        samples=_samples(truth, movement, (first, second), clock),
        height_m=float(document["height_m"]),
        stature=_stature(reading, movement, (first, second), places),
    )


def _stature(
    reading: FilmsReading,
    movement: Movement,
    tracks: tuple[PoseTrack, PoseTrack],
    places: Sequence[Path],
) -> Stature:
    films = [place / "clip.mp4" for place in places]
    if movement.apparatus != "barbell" or not all(film.exists() for film in films):
        return ASSUMED
    return stature_by_plates(reading, tracks, [read_film(film) for film in films], ASSUMED)


def _sound(film: Path) -> Sound | None:
    """Read a film's sound; there is none where only its landmarks are."""
    return read_sound(film) if film.exists() else None


def _samples(
    truth: BodyTruth, movement: Movement, tracks: tuple[PoseTrack, PoseTrack], clock: ClockFit
) -> tuple[Sample, ...]:
    view = view_at(settled_sides(tracks[1]), clock.second_s(tracks[0].time_s))
    film = replace(truth, movement=movement)
    found = film_samples(film, tracks[0], others=[view]).samples
    judged = {entry_name(c.quantity, movement.base, c.phase) for c in movement.checks}
    return tuple(sample for sample in found if sample.key in judged)
