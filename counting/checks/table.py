"""The calibration table: how clues become a value, and how far it may be off."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import numpy as np

from counting.body.skeleton import FloatArray

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
    reference
        Value of the quantity about which clues are straight lines.
    level, level_front
        Each clue at the reference value, and what is added times the cosine of the view.
    slope, slope_front
        Likewise the change of each clue with the quantity.
    noise_side, noise_front
        Covariance of the clues' errors seen from the side and from the front, (clues, clues).
    between
        By view: standard deviation, from film to film, of the error common to a film.
    within
        By view: standard deviation of the error from rep to rep of one film.
    slope_error
        Standard deviation of a reading's change over the true change, less one: how far a miss may
        lie from where its reading puts it.
    response
        By view: change of the value over the true change, within films. Near 0 the view hides the
        quantity.
    read_share
        By view: share of reps in which the body was seen well enough to be read at all.
    films
        By view: number of labelled films behind these figures.
    typical, typical_spread
        What athletes do when nothing is amiss: mean, and standard deviation from film to film.
    rep_spread
        Standard deviation of the true value from rep to rep of one athlete.
    miss_share, miss_mean, miss_spread
        Share of reps taken to be something else before looking, and what they then are. Never less
        than one in eight: a reading has to earn its verdict.
    met_share
        Share of labelled reps that met the usual limit: all there is to say of a rep not read.
    """

    reference: float
    level: Row
    level_front: Row
    slope: Row
    slope_front: Row
    noise_side: tuple[Row, ...]
    noise_front: tuple[Row, ...]
    between: Mapping[str, float]
    within: Mapping[str, float]
    slope_error: float
    response: Mapping[str, float]
    read_share: Mapping[str, float]
    films: Mapping[str, int]
    typical: float
    typical_spread: float
    rep_spread: float
    miss_share: float
    miss_mean: float
    miss_spread: float
    met_share: float

    def weights(self, view_deg: float) -> FloatArray:
        """Weights that make the least noisy value of slope one out of the clues, (clues,)."""
        front = frontality(view_deg)
        slope = np.array(self.slope) + front * np.array(self.slope_front)
        noise = (1 - front) * np.array(self.noise_side) + front * np.array(self.noise_front)
        direction = np.linalg.solve(noise, slope)
        weights: FloatArray = direction / (slope @ direction)
        return weights

    def value(self, clues: FloatArray, view_deg: float) -> FloatArray:
        """Combine clues, (..., clues), into values, (...)."""
        level = np.array(self.level) + frontality(view_deg) * np.array(self.level_front)
        combined: FloatArray = self.reference + (clues - level) @ self.weights(view_deg)
        return combined


def covered(calibration: Calibration, view: str) -> bool:
    """Whether a quantity can be judged from a view.

    Labelled films exist from it or one beside it, and the value responded to the truth in them.
    """
    if calibration.response.get(view, 1.0) < LEAST_RESPONSE:
        return False
    names = list(VIEWS)
    place = names.index(view)
    return any(calibration.films.get(name) for name in names[max(0, place - 1) : place + 2])


def own_error_factor(misfit: FloatArray) -> FloatArray:
    """How many times larger a reading's own error is where the body fits the landmarks badly.

    On labelled films own errors were alike up to a misfit of 0.65 landmark errors, three times
    larger about 0.9 and six times at 1.3; beyond that they grew more slowly.
    """
    misfit = np.asarray(misfit, float)
    factor: FloatArray = (
        1.0 + 8.0 * np.clip(misfit - 0.65, 0.0, 0.65) + 2.0 * np.maximum(misfit - 1.3, 0.0)
    )
    return factor


def common_error_factor(misfit: FloatArray) -> FloatArray:
    """Likewise for the error common to a film: alike up to 0.9, twice as large at 1.6."""
    factor: FloatArray = 1.0 + 1.5 * np.maximum(np.asarray(misfit, float) - 0.9, 0.0)
    return factor


def frontality(view_deg: float) -> float:
    """1 from the front or from behind, 0 from the side."""
    return float(abs(np.cos(np.radians(view_deg))))


@dataclass(frozen=True, slots=True)
class CalibrationTable:
    """All calibrations, by quantity, base and phase, and how they were made."""

    entries: Mapping[str, Calibration]
    shared_error: float
    made_from: str

    def find(self, quantity: str, base: str, phase: str) -> Calibration | None:
        """Look up the calibration of a check, or of the same quantity elsewhere."""
        exact = self.entries.get(entry_name(quantity, base, phase))
        return exact if exact is not None else self.entries.get(quantity)


def entry_name(quantity: str, base: str, phase: str) -> str:
    """Key of a context in the table: on the bar an arm's two ends of the rep look unlike."""
    return f"{quantity} / {base} / {phase}" if base == "hanging" else f"{quantity} / {base}"


def write_table(table: CalibrationTable, path: Path) -> None:
    """Write a table as JSON."""
    document = {
        "made_from": table.made_from,
        "shared_error": table.shared_error,
        "entries": {name: asdict(entry) for name, entry in sorted(table.entries.items())},
    }
    path.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def _as_rows(value: Any) -> Any:
    return tuple(_as_rows(v) for v in value) if isinstance(value, list) else value


def parse_table(document: Mapping[str, Any]) -> CalibrationTable:
    """Build a table from its JSON document."""
    entries = {
        name: Calibration(**{k: _as_rows(v) for k, v in entry.items()})
        for name, entry in document["entries"].items()
    }
    return CalibrationTable(entries, float(document["shared_error"]), str(document["made_from"]))


@cache
def packaged_table() -> CalibrationTable:
    """Read the table shipped with the package."""
    text = files("counting.checks").joinpath("calibration.json").read_text(encoding="utf-8")
    return parse_table(json.loads(text))
