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

    def combine(
        self, clues: FloatArray, factors: FloatArray, view_deg: float
    ) -> tuple[FloatArray, FloatArray]:
        """Make the least noisy value of slope one out of the clues that were seen.

        Parameters
        ----------
        clues
            (n, clues), NaN where not seen.
        factors
            (n, clues) how many times larger than usual each clue's error is, see `error_factor`.
            Clues beyond `LARGEST_FACTOR` are left out.
        view_deg
            View of the film.

        Returns
        -------
        value, factor
            (n,) each: the value, and its error over that of clues all well seen. NaN and infinite
            where no clue is left, or those left say little.
        """
        front = frontality(view_deg)
        slope = np.array(self.slope) + front * np.array(self.slope_front)
        noise = (1 - front) * np.array(self.noise_side) + front * np.array(self.noise_front)
        level = np.array(self.level) + front * np.array(self.level_front)
        best = float(slope @ np.linalg.solve(noise, slope))
        value = np.full(len(clues), np.nan)
        factor = np.full(len(clues), np.inf)
        for row, (clue, growth) in enumerate(zip(clues, factors, strict=True)):
            seen = np.isfinite(clue) & (growth < LARGEST_FACTOR)
            if not seen.any():
                continue
            grown = noise[np.ix_(seen, seen)] * np.outer(growth[seen], growth[seen])
            direction = np.linalg.solve(grown, slope[seen])
            information = float(slope[seen] @ direction)
            ratio = np.sqrt(best / information) if information > 0 else np.inf
            if ratio < LARGEST_FACTOR:
                shift = (clue - level)[seen] @ direction / information
                value[row], factor[row] = self.reference + float(shift), ratio
        return value, factor


def covered(calibration: Calibration, view: str) -> bool:
    """Whether a quantity can be judged from a view.

    Labelled films exist from it or one beside it, and the value responded to the truth in them.
    """
    if calibration.response.get(view, 1.0) < LEAST_RESPONSE:
        return False
    names = list(VIEWS)
    place = names.index(view)
    return any(calibration.films.get(name) for name in names[max(0, place - 1) : place + 2])


def error_factor(misfit: FloatArray) -> FloatArray:
    """How many times larger a clue's own error is where the body fits its joints badly.

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


def common_error_factor(factor: FloatArray) -> FloatArray:
    """Likewise for the error common to a film, by that of single reps: later and slower."""
    common: FloatArray = 1.0 + 0.25 * np.maximum(np.asarray(factor, float) - 3.0, 0.0)
    return common


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
