"""Readings of labelled films beside the truth: what calibration learns from and is tried on.

They are taken as users' films are read: reps are found, the body is fitted, features are read where
a found rep is decided. Kept in one compact file, the table can be made again without the films.
"""

import hashlib
import json
import lzma
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import msgspec
import numpy as np

from counting.body.evidence import View
from counting.body.skeleton import FloatArray
from counting.checks.reading import CheckClues, FilmReading, read_film
from counting.checks.table import entry_name
from counting.lab.body_truth import BodyTruth
from counting.lab.matching import match
from counting.movements.loader import built_in_movements
from counting.movements.types import QUANTITY_APPARATUS, QUANTITY_UNITS, Base, Check, Movement
from counting.quantities.features import FEATURES
from counting.reps.types import Rep
from counting.timeline import find_reps
from counting.workout.likeness import describe_film
from vision.track import IntArray, PoseTrack

_WINDOW: Final = {"deg": (45.0, 16.0), "cm": (26.0, 12.0)}
"""How far short of a limit and beyond it frames on the way are learnt from."""
_BINS: Final = 12
_A_BIN: Final = 4
"""Parts of that range, and frames of a film from each, so that no part outweighs another."""
_NEAR_S: Final = 0.6
"""From the moment that decides, to either side."""
_GOOD_FIT: Final = 0.9
"""Misfit in landmark errors below which a single frame's features are learnt from: errors are three
times the usual there (`error_factor`). All of these are chosen, not measured."""


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """One check in one film.

    Attributes
    ----------
    key
        Context in the table.
    check
        The check.
    film, body, view_deg
        Where it was seen; the view is the fitted one.
    rep_features, rep_shown
        (reps, features) at the deciding stay of each rep found, NaN where unseen, and (reps,) true
        values in the frames of that stay: what there was to be read.
    rep_factors
        (reps, features) error factors there.
    frame_features, frame_truth
        Features and true values in single frames on the way through the range around the limit; a
        feature is NaN where the body fitted its joints badly.
    rep_truth
        (reps,) true values of the reps by which they are good or not; NaN where what was found is
        none. A stay found too early or too late shows something else.
    """

    key: str
    check: Check
    film: str
    body: str
    view_deg: float
    rep_features: FloatArray
    rep_shown: FloatArray
    rep_truth: FloatArray
    rep_factors: FloatArray
    frame_features: FloatArray
    frame_truth: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class FilmSamples:
    """Everything that was read of one labelled film.

    Attributes
    ----------
    name, body, movement
        The film, who is in it, and what is done.
    digest
        SHA-256 of its truth and landmarks, shortened.
    azimuth_deg
        True direction of the camera, 0 from the front.
    true_good
        For each true rep whether it meets the standard.
    description
        How the athlete moves, see `counting.workout.likeness`; None where they hardly do.
    samples
        One for each check of the standard, then quantities that no built-in standard asks for.
    """

    name: str
    body: str
    movement: str
    digest: str
    azimuth_deg: float
    true_good: tuple[bool, ...]
    samples: tuple[Sample, ...]
    description: tuple[float, ...] | None = None


def film_samples(
    film: BodyTruth, track: PoseTrack, digest: str = "", others: Sequence[View] = ()
) -> FilmSamples:
    """Read all checks of a labelled film, with what further cameras saw at its times.

    Raises
    ------
    counting.body.motion.BodyFitError
        The athlete is hardly seen, or no rep was found.
    """
    base = film.movement.base
    keyed = [(entry_name(c.quantity, base, c.phase), c) for c in _as_read(film.movement)]
    keyed += [(check.quantity, check) for check in _beyond_the_standards(film)]
    reps = find_reps(track, film.movement).reps
    pairs = match(
        [(rep.start_s, rep.end_s) for rep in film.reps], [(rep.start_s, rep.end_s) for rep in reps]
    ).pairs
    description = describe_film(track)
    checks = [check for _, check in keyed]
    on_the_way = [_on_the_way(film, track.time_s, reps, check) for check in checks]
    also = np.zeros(track.frames, dtype=np.bool_)
    for rows in on_the_way:
        also[rows] = True
    reading = read_film(track, reps, film.movement, checks, also=also, others=others)
    samples = [
        _sample(film, reading, key, features, rows, pairs)
        for (key, _), features, rows in zip(keyed, reading.checks, on_the_way, strict=True)
    ]
    return FilmSamples(
        name=film.name,
        body=film.body,
        movement=film.movement.name,
        digest=digest,
        azimuth_deg=film.view_deg,
        true_good=tuple(_is_good(film, index) for index in range(len(film.reps))),
        samples=tuple(sample for sample in samples if sample is not None),
        description=None if description is None else tuple(float(v) for v in description),
    )


def _as_read(movement: Movement) -> list[Check]:
    """Give a movement's checks by the part of a repetition that each is read in."""
    read = [movement.as_read(check) for check in movement.checks]
    return [check for check in read if check is not None]


def _is_good(film: BodyTruth, index: int) -> bool:
    values = [(film.true_value(film.reps[index], c), c) for c in _as_read(film.movement)]
    return all(margin_of(value, c) >= 0.0 for value, c in values if value is not None)


def margin_of(value: float, check: Check) -> float:
    """By how much a value meets a check; negative where it falls short."""
    return value - check.limit if check.relation == "at least" else check.limit - value


def margins_of(values: FloatArray, check: Check) -> FloatArray:
    """(n,) margins, as `margin_of`."""
    margins: FloatArray = (values - check.limit) * (1.0 if check.relation == "at least" else -1.0)
    return margins


_UPRIGHT_OR_PLANK: Final[frozenset[Base]] = frozenset({"standing", "floor"})
"""Bases in which one line reads such a quantity; one who hangs or is upside down looks unlike."""


def _beyond_the_standards(film: BodyTruth) -> list[Check]:
    """Quantities no built-in standard asks for, read at the turn: users' standards may ask."""
    if film.movement.base not in _UPRIGHT_OR_PLANK:
        return []
    asked = {check.quantity for movement in built_in_movements() for check in movement.checks}
    checks = []
    for quantity, unit in QUANTITY_UNITS.items():
        apparatus = QUANTITY_APPARATUS.get(quantity, film.movement.apparatus)
        if quantity in asked or apparatus != film.movement.apparatus:
            continue
        check = Check(
            name=quantity,
            words=quantity,
            quantity=quantity,
            phase="turn",
            read="highest",
            relation="at least",
            limit=0.0,
            unit=unit,
        )
        truth = [film.true_value(rep, check) for rep in film.reps]
        known = [value for value in truth if value is not None]
        if known:
            checks.append(msgspec.structs.replace(check, limit=float(np.median(known))))
    return checks


def _sample(
    film: BodyTruth,
    reading: FilmReading,
    key: str,
    read: CheckClues,
    rows: IntArray,
    pairs: Sequence[tuple[int, int]],
) -> Sample | None:
    truth = np.full(len(read.stays), np.nan)
    for true, found in pairs:
        value = film.true_value(film.reps[true], read.check)
        if value is None:
            return None
        truth[found] = value
    motion = reading.motion
    features = FEATURES[read.check.quantity](reading.scene)
    misfit = np.stack([motion.misfit_of(joints, rows) for joints in features.joints], axis=1)
    series = film.true_series(read.check.quantity)
    return Sample(
        key=key,
        check=read.check,
        film=film.name,
        body=film.body,
        view_deg=motion.view_deg,
        rep_features=read.features,
        rep_shown=_shown(series, read, truth),
        rep_truth=truth,
        rep_factors=read.factors,
        frame_features=np.where(misfit < _GOOD_FIT, features.values[rows], np.nan),
        frame_truth=np.zeros(0) if series is None else series[rows],
    )


def _shown(series: FloatArray | None, read: CheckClues, truth: FloatArray) -> FloatArray:
    """(reps,) true values in the frames that decide; those of the reps where no series is known."""
    if series is None:
        return truth
    rows = [None if stay is None else stay.rows[stay.rows < len(series)] for stay in read.stays]
    return np.array([np.nan if r is None or not len(r) else np.median(series[r]) for r in rows])


def _on_the_way(film: BodyTruth, time_s: FloatArray, reps: Sequence[Rep], check: Check) -> IntArray:
    """Rows on the way into and out of the deciding posture, a few from each part of the range."""
    series = film.true_series(check.quantity)
    if series is None:
        return np.zeros(0, int)
    n = min(len(series), len(time_s))
    near = np.zeros(n, dtype=np.bool_)
    for rep in reps:
        first_s, last_s = {
            "start": (rep.start_s, rep.start_s),
            "drive": (rep.start_s, rep.turn_s),
            "turn": (rep.turn_s, rep.turn_s),
            "finish": (rep.end_s, rep.end_s),
        }[check.phase]
        near |= (time_s[:n] >= first_s - _NEAR_S) & (time_s[:n] <= last_s + _NEAR_S)
    below, above = _WINDOW[check.unit]
    if check.relation == "at most":
        below, above = above, below
    rng = np.random.default_rng(0)
    edges = np.linspace(check.limit - below, check.limit + above, _BINS + 1)
    chosen: list[int] = []
    for low, high in pairwise(edges):
        rows = np.flatnonzero(near & (series[:n] >= low) & (series[:n] < high))
        chosen += list(rng.permutation(rows)[:_A_BIN])
    return np.array(sorted(chosen), int)


FILE_DECIMALS: Final = 1
"""Readings are kept to a tenth of a degree or centimetre, factors likewise."""
_ARRAYS: Final = (
    "rep_features",
    "rep_shown",
    "rep_truth",
    "rep_factors",
    "frame_features",
    "frame_truth",
)


def film_digest(*files: Path) -> str:
    """Name the content of some files: the first 16 digits of its SHA-256."""
    content = hashlib.sha256()
    for file in files:
        content.update(file.read_bytes())
    return content.hexdigest()[:16]


def write_readings(films: Sequence[FilmSamples], file: Path) -> None:
    """Keep readings, as packed JSON."""
    documents = [_film_document(film) for film in sorted(films, key=lambda f: f.name)]
    text = json.dumps(documents, separators=(",", ":")).encode()
    file.write_bytes(lzma.compress(text, preset=9 | lzma.PRESET_EXTREME))


def load_readings(file: Path) -> list[FilmSamples]:
    """Read kept readings, by the films' names."""
    return [_film_from(document) for document in json.loads(lzma.decompress(file.read_bytes()))]


def _film_document(film: FilmSamples) -> dict[str, Any]:
    return {
        "name": film.name,
        "body": film.body,
        "movement": film.movement,
        "digest": film.digest,
        "azimuth_deg": film.azimuth_deg,
        "true_good": film.true_good,
        "description": film.description and [round(v, 4) for v in film.description],
        "samples": [
            {
                "key": sample.key,
                "check": msgspec.to_builtins(sample.check),
                "view_deg": round(sample.view_deg, FILE_DECIMALS),
                **{name: _numbers(getattr(sample, name)) for name in _ARRAYS},
            }
            for sample in film.samples
        ],
    }


def _numbers(values: FloatArray) -> list[Any]:
    """Numbers column by column, which packs best; None where there is none."""
    columns = np.atleast_2d(values.T)
    return [
        [None if np.isnan(v) else round(float(v), FILE_DECIMALS) for v in column]
        for column in columns
    ]


def _film_from(document: dict[str, Any]) -> FilmSamples:
    return FilmSamples(
        name=document["name"],
        body=document["body"],
        movement=document["movement"],
        digest=document["digest"],
        azimuth_deg=document["azimuth_deg"],
        true_good=tuple(document["true_good"]),
        samples=tuple(_samples_from(document)),
        description=document["description"] and tuple(document["description"]),
    )


def _samples_from(document: dict[str, Any]) -> Iterator[Sample]:
    for sample in document["samples"]:
        arrays = {name: np.array(sample[name], float).T for name in _ARRAYS}
        yield Sample(
            key=sample["key"],
            check=msgspec.convert(sample["check"], Check),
            film=document["name"],
            body=document["body"],
            view_deg=sample["view_deg"],
            rep_features=arrays["rep_features"],
            rep_shown=arrays["rep_shown"].ravel(),
            rep_truth=arrays["rep_truth"].ravel(),
            rep_factors=arrays["rep_factors"],
            frame_features=arrays["frame_features"],
            frame_truth=arrays["frame_truth"].ravel(),
        )
