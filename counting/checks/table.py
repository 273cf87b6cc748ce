"""The calibration table: how features become a value, and how far it may be off."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from counting.body.skeleton import FloatArray
from counting.checks.inference import FilmError, TrueValues

VIEWS: Final = {"front": (0.0, 22.0), "oblique": (22.0, 67.0), "side": (67.0, 113.0)}
"""Names and ranges of view angles, degrees, for which labelled films exist."""


Row = tuple[float, ...]

LEAST_RESPONSE: Final = 0.35
"""Least response of a value to the truth for a view to be one from which it can be judged."""


def view_name(view_deg: float) -> str | None:
    """Name of the range a view falls into, or None where no film was labelled."""
    for name, (low, high) in VIEWS.items():
        if low <= view_deg < high:
            return name
    return None


@dataclass(frozen=True, slots=True)
class Calibration:
    """One quantity in one context.

    Attributes
    ----------
    centre, covariance
        Mean of each feature over films of every share of faults, and (features, features) how they
        vary together: what a feature that is hidden would probably have said.
    noise
        Error of each feature from rep to rep where all is well seen.
    weight
        By view: what each feature's distance from its centre adds to the value.
    level
        By view: the value where each feature is at its centre.
    before
        What true values there are, before looking.
    between
        By view: scale of the error common to a film.
    within
        By view: scale of the error from rep to rep of one film.
    response
        By view: change of the value over the true change, within films. Near 0 the view hides the
        quantity.
    read_share
        By view: share of reps in which the body was seen well enough to be read at all.
    films
        By view: number of labelled films behind these figures.
    tuned
        By view: what people's calls say of the error common to a film; see `tuning`.
    """

    centre: Row
    covariance: tuple[Row, ...]
    noise: Row
    weight: Mapping[str, Row]
    level: Mapping[str, float]
    before: TrueValues
    between: Mapping[str, float]
    within: Mapping[str, float]
    response: Mapping[str, float]
    read_share: Mapping[str, float]
    films: Mapping[str, int]
    tuned: Mapping[str, FilmError] = field(default_factory=dict)

    def error(self, view: str) -> float:
        """Scale of a reading's whole error from a view, the film's and the rep's own."""
        return float(np.hypot(self.between[view], self.within[view]))

    def combine(self, features: FloatArray, factors: FloatArray, view_deg: float) -> "Values":
        """Make values out of the features of one film.

        Parameters
        ----------
        features
            (n, features) of one film, NaN where not seen.
        factors
            (n, features) how many times larger than usual each feature's error is, see
            `error_factor`. Features beyond `LARGEST_FACTOR` are left out.
        view_deg
            View of the film.
        """
        view = view_name(view_deg) or next(iter(VIEWS))
        weight = np.array(self.weight[view])
        seen = np.isfinite(features) & (factors < LARGEST_FACTOR)
        likely, doubt, odd = self.completed(np.where(seen, features, np.nan), factors)
        unsure = np.sqrt(np.maximum(np.einsum("i,nij,j->n", weight, doubt, weight), 0.0))
        read = seen.any(axis=1) & (odd < _NO_BODY)
        value = likely @ weight + self.level[view]
        shared = float(np.median(unsure[read])) if read.any() else 0.0
        return Values(
            value=np.where(read, value, np.nan),
            own_unsure=np.sqrt(np.maximum(unsure**2 - shared**2, 0.0)),
            shared_unsure=shared,
            growth=error_growth(odd),
            shared_growth=float(error_growth(np.median(odd[read]))) if read.any() else 1.0,
        )

    def completed(
        self, features: FloatArray, factors: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Distance of each feature from its centre had all been well seen, (n, features).

        Also its covariance, (n, features, features): the normal distribution given what was seen
        and how well (conditional mean and covariance). And how ill the features seen go together,
        (n,): their distance from the centre, as that distribution measures it (Mahalanobis 1936),
        over what is to be expected of so many.
        """
        covariance, noise = np.array(self.covariance), np.array(self.noise)
        off = features - np.array(self.centre)
        known = np.isfinite(off)
        values = np.where(known, off, 0.0)
        more = noise**2 * (np.minimum(factors, LARGEST_FACTOR) ** 2 - 1.0)
        own = np.where(known, more, 1.0)[:, :, None] * np.eye(len(noise))
        # A feature that is hidden stands alone in its row's system, with nothing to say.
        seen = covariance * known[:, :, None] * known[:, None, :] + own
        told = known[:, :, None] * covariance
        gain = np.linalg.solve(seen, told).swapaxes(1, 2)
        likely = (gain @ values[:, :, None])[:, :, 0]
        doubt = covariance - gain @ told
        square = (values * np.linalg.solve(seen, values[:, :, None])[:, :, 0]).sum(axis=1)
        odd = np.sqrt(square / np.maximum(known.sum(axis=1), 1))
        return likely, doubt, odd


@dataclass(frozen=True, slots=True, eq=False)
class Values:
    """Values of one film.

    Attributes
    ----------
    value
        (n,), NaN where too little was seen.
    own_unsure
        (n,) what features that were hidden in this rep may have said: standard deviation.
    shared_unsure
        Likewise where they were hidden in the whole film.
    growth, shared_growth
        (n,) how many times larger than usual a rep's error is because its features do not go
        together, and the same for the film's.
    """

    value: FloatArray
    own_unsure: FloatArray
    shared_unsure: float
    growth: FloatArray
    shared_growth: float


def error_growth(odd: npt.ArrayLike) -> FloatArray:
    """How many times larger errors are where features disagree, see `Calibration.completed`.

    On labelled films of bodies left out they were 0.8 times the usual ones about 0.5, 1.6 times
    about 1, 2 to 3 times about 1.4 and 3 to 6 times beyond 1.8.
    """
    growth: FloatArray = np.clip(np.asarray(odd, float) / _USUALLY_ODD, 0.8, 5.0)
    return growth


_USUALLY_ODD: Final = 0.65
"""Disagreement of features at which errors are the usual ones, by the measurement above."""


_NO_BODY: Final = 2.2
"""Disagreement of features from which they are those of no body that does this: of 451 films and
checks two lie beyond, in which somebody else was read, and errors there know no bounds (53 cm and
30 cm). Left in, they doubled what the errors of push-ups from the side were said to be."""


def covered(calibration: Calibration, view: str) -> bool:
    """Whether a quantity can be read from a view.

    Labelled films exist from it, and the value responded to the truth in them.
    """
    responds = calibration.response.get(view, 1.0) >= LEAST_RESPONSE
    return responds and calibration.films.get(view, 0) > 0


@dataclass(frozen=True, slots=True)
class Shown:
    """What labelled films show of one quantity, on one base, in one part of a repetition.

    Attributes
    ----------
    films
        By view: number of films that were read.
    bodies
        Number of bodies in them.
    lowest, highest
        Limits of the checks that were read: the quantity is known about them.
    """

    films: Mapping[str, int]
    bodies: int
    lowest: float
    highest: float

    def enough(self, view: str) -> bool:
        """Whether as many films show it from a view that errors of other bodies are as stated."""
        return self.bodies >= FEWEST_BODIES and self.films.get(view, 0) >= FEWEST_FILMS


FEWEST_FILMS: Final = 3
FEWEST_BODIES: Final = 3
"""Films from a view, and bodies in all, that are enough: the folder's DECISIONS.md says how bodies
left out were judged by fewer."""


def error_factor(misfit: FloatArray) -> FloatArray:
    """How many times larger a feature's own error is where the body fits its joints badly.

    On labelled films own errors were alike up to a misfit of 0.65 landmark errors, three times
    larger about 0.9 and six times at 1.3; beyond that they grew more slowly.
    """
    misfit = np.asarray(misfit, float)
    factor: FloatArray = (
        1.0 + 8.0 * np.clip(misfit - 0.65, 0.0, 0.65) + 2.0 * np.maximum(misfit - 1.3, 0.0)
    )
    return factor


LARGEST_FACTOR: Final = float(error_factor(np.array(3.0)))
"""Where the body lies three landmark errors off the landmarks they are no reading of it."""


@dataclass(frozen=True, slots=True)
class Provenance:
    """What a table was made from: readings that are read otherwise ask for another table.

    Attributes
    ----------
    words
        In words.
    landmarks
        Digest of the code that found the landmarks.
    reading
        Digest of the code that reads features from landmarks.
    films
        Digest of each film's truth and landmarks, by name.
    """

    words: str
    landmarks: str = ""
    reading: str = ""
    films: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class CalibrationTable:
    """All calibrations, by quantity, base and phase, and how they were made.

    Attributes
    ----------
    entries
        By `entry_name`, and by quantity alone for contexts without films.
    made_from
        What it was made from.
    shown
        By `context_name`: what its films show.
    """

    entries: Mapping[str, Calibration]
    made_from: "Provenance"
    shown: Mapping[str, Shown] = field(default_factory=dict)

    def find(self, quantity: str, base: str, phase: str) -> Calibration | None:
        """Look up the calibration of a check, or of the same quantity elsewhere.

        It has films of the views alone from which enough of them show this part of a repetition.
        """
        exact = self.entries.get(entry_name(quantity, base, phase))
        entry = exact if exact is not None else self.entries.get(quantity)
        shown = self.shown.get(context_name(quantity, base, phase))
        if entry is None or shown is None:
            return entry
        films = {view: n if shown.enough(view) else 0 for view, n in entry.films.items()}
        return replace(entry, films=films)


def entry_name(quantity: str, base: str, phase: str) -> str:
    """Key of a context in the table.

    On the bar an arm's two ends of the rep look unlike, and the extreme of a whole drive is off
    otherwise than a posture that is held.
    """
    alone = base == "hanging" or phase == "drive"
    return f"{quantity} / {base} / {phase}" if alone else f"{quantity} / {base}"


def context_name(quantity: str, base: str, part: str) -> str:
    """Key of what films show: entries hold films of several parts of a repetition together."""
    return f"{quantity} / {base} / {part}"


def write_table(table: CalibrationTable, path: Path) -> None:
    """Write a table as JSON."""
    document = {
        "made_from": asdict(table.made_from),
        "shown": {name: asdict(shown) for name, shown in sorted(table.shown.items())},
        "entries": {name: _document(entry) for name, entry in sorted(table.entries.items())},
    }
    path.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def _document(entry: Calibration) -> dict[str, Any]:
    """One entry as labelled films make it: what people's calls add is kept elsewhere."""
    document = asdict(entry)
    del document["tuned"]
    return document


def _as_rows(value: Any) -> Any:
    return tuple(_as_rows(v) for v in value) if isinstance(value, list) else value


def _parse_entry(entry: Mapping[str, Any]) -> Calibration:
    values: dict[str, Any] = {name: _as_rows(value) for name, value in entry.items()}
    values["before"] = TrueValues(**values["before"])
    values["weight"] = {view: _as_rows(row) for view, row in values["weight"].items()}
    return Calibration(**values)


def parse_table(document: Mapping[str, Any]) -> CalibrationTable:
    """Build a table from its JSON document."""
    entries = {name: _parse_entry(entry) for name, entry in document["entries"].items()}
    return CalibrationTable(
        entries=entries,
        made_from=Provenance(**document["made_from"]),
        shown={name: Shown(**shown) for name, shown in document["shown"].items()},
    )


def load_table(path: Path) -> CalibrationTable:
    """Read a table that `write_table` wrote."""
    return parse_table(json.loads(path.read_text(encoding="utf-8")))


_PACKAGED: Final = "calibration.json"


@cache
def packaged_table() -> CalibrationTable:
    """Read the table shipped with the package."""
    return load_table(Path(str(files("counting.checks").joinpath(_PACKAGED))))


@cache
def packaged_digest() -> str:
    """SHA-256 of the table shipped with the package."""
    return hashlib.sha256(files("counting.checks").joinpath(_PACKAGED).read_bytes()).hexdigest()
