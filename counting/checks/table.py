"""The calibration table: how clues become a value, and how far it may be off."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from counting.body.skeleton import FloatArray
from counting.decision.reliability import AS_STATED, Reliability
from counting.movements.types import Check

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


SAME_LIMIT: Final = {"deg": 10.0, "cm": 4.0}
"""How far limits may differ and still ask for the same."""

_ANY_SPREAD: Final = {"deg": 40.0, "cm": 30.0}


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
    own_side, own_front
        Covariance of the clues' errors from rep to rep, seen from the side and from the front,
        (clues, clues).
    common_side, common_front
        Likewise of the errors that all reps of a film share.
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
    miss_share
        Share of reps taken to be something else before looking. Never less than one in eight: a
        reading has to earn its verdict.
    misses
        What they then are: share, centre and standard deviation of each part.
    met_share
        Share of labelled reps that met the usual limit: all there is to say of a rep not read.
    relation, limit
        The check whose habits these are, see `for_check`; no limit where they were learnt at
        several.
    """

    reference: float
    level: Row
    level_front: Row
    slope: Row
    slope_front: Row
    own_side: tuple[Row, ...]
    own_front: tuple[Row, ...]
    common_side: tuple[Row, ...]
    common_front: tuple[Row, ...]
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
    misses: tuple[Row, ...]
    met_share: float
    relation: str
    limit: float | None

    def for_check(self, check: Check) -> "Calibration":
        """Keep the habits where the check is the one they were learnt at, else know nothing.

        What people do at the end of a built-in movement says nothing about a standard that asks
        for something else. Their true value may then be anything, and the reading alone decides.
        """
        if (
            self.limit is not None
            and check.relation == self.relation
            and abs(check.limit - self.limit) <= SAME_LIMIT[check.unit]
        ):
            return self
        return replace(
            self,
            typical=check.limit,
            typical_spread=_ANY_SPREAD[check.unit],
            miss_share=0.5,
            misses=((1.0, check.limit, _ANY_SPREAD[check.unit]),),
            met_share=0.5,
        )

    def combine(self, clues: FloatArray, factors: FloatArray, view_deg: float) -> "Values":
        """Make values out of the clues of one film, each of slope one.

        The clue that tells one rep from the next need not know the true value: hands rise by as
        much as elbows open, whatever the athlete's size. Two combinations are therefore made, the
        one with the smallest error of its own and the one with the smallest error common to the
        film. Values differ from rep to rep like the first and lie, as a film, where the second
        puts them.

        Parameters
        ----------
        clues
            (n, clues) of one film, NaN where not seen.
        factors
            (n, clues) how many times larger than usual each clue's error is, see `error_factor`.
            Clues beyond `LARGEST_FACTOR` are left out.
        view_deg
            View of the film.
        """
        front = frontality(view_deg)
        slope = np.array(self.slope) + front * np.array(self.slope_front)
        own = (1 - front) * np.array(self.own_side) + front * np.array(self.own_front)
        common = (1 - front) * np.array(self.common_side) + front * np.array(self.common_front)
        shift = clues - np.array(self.level) - front * np.array(self.level_front)
        seen = np.isfinite(clues) & (factors < LARGEST_FACTOR)
        grown = np.where(seen, factors, 1.0)
        rep, rep_factor, weights = _least_noisy(shift, seen, slope, own, grown)
        lasting = common + own / _REPS_A_FILM
        film, film_factor, _ = _least_noisy(shift, seen, slope, lasting, common_error_factor(grown))
        read = np.isfinite(rep)
        if not read.any():
            return Values(rep, rep_factor, 1.0)
        return Values(
            value=self.reference + rep + float(np.median((film - rep)[read])),
            own_factor=np.hypot(rep_factor, _unlike(weights, rep_factor, common, own, slope)),
            common_factor=float(np.median(film_factor[read])),
        )


_REPS_A_FILM: Final = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Values:
    """Values of one film.

    Attributes
    ----------
    value
        (n,), NaN where too little was seen.
    own_factor
        (n,) error of a rep over that of clues all well seen.
    common_factor
        Likewise of the error common to the film.
    """

    value: FloatArray
    own_factor: FloatArray
    common_factor: float


def _least_noisy(
    shift: FloatArray,
    seen: npt.NDArray[np.bool_],
    slope: FloatArray,
    noise: FloatArray,
    factors: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Least noisy combination of slope one, (n,), and its error over that of all clues well seen.

    NaN and infinite where no clue was seen. Also the (n, clues) weights it was made with.
    """
    best = float(slope @ np.linalg.solve(noise, slope))
    value = np.full(len(shift), np.nan)
    factor = np.full(len(shift), np.inf)
    weights = np.zeros_like(shift)
    for good, rows in _alike(seen):
        growth = factors[np.ix_(rows, good)]
        grown = noise[np.ix_(good, good)] * (growth[:, :, None] * growth[:, None])
        direction = np.linalg.solve(grown, np.broadcast_to(slope[good, None], (*growth.shape, 1)))
        information = direction[..., 0] @ slope[good]
        some = information > 0
        rows, information = rows[some], information[some]
        share = direction[some, :, 0] / information[:, None]
        value[rows] = (shift[np.ix_(rows, good)] * share).sum(axis=1)
        factor[rows] = np.sqrt(best / information)
        weights[np.ix_(rows, good)] = share
    return value, factor, weights


def _alike(
    seen: npt.NDArray[np.bool_],
) -> Iterator[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]]:
    """Clues that are seen together in a film, and the reps in which these and no others are."""
    patterns, which = np.unique(seen, axis=0, return_inverse=True)
    for index, pattern in enumerate(patterns):
        if pattern.any():
            yield np.flatnonzero(pattern), np.flatnonzero(which.ravel() == index)


def _unlike(
    weights: FloatArray, factor: FloatArray, common: FloatArray, own: FloatArray, slope: FloatArray
) -> FloatArray:
    """Error of reps read from other clues than the rest, (n,), over that of clues well seen.

    What all clues of a film err by in common is the same for reps read alike. A rep read from
    others, as the one rep whose elbows showed, differs by their common errors.
    """
    read = np.isfinite(factor)
    share = np.where(read, 1.0 / np.where(read, factor, 1.0) ** 2, 0.0)
    apart = weights - share @ weights / max(float(share.sum()), 1e-12)
    variance = np.einsum("ij,jk,ik->i", apart, common, apart) * float(
        slope @ np.linalg.solve(own, slope)
    )
    unlike: FloatArray = np.where(read, np.sqrt(np.maximum(variance, 0.0)), 0.0)
    return unlike


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
    """All calibrations, by quantity, base and phase, and how they were made.

    Attributes
    ----------
    entries
        By `entry_name`, and by quantity alone for contexts without films.
    shared_error
        Share of variance that errors of two checks of one rep have in common.
    made_from
        What it was made from, in words.
    reliability
        What the probabilities that follow from the entries are worth on bodies left out.
    """

    entries: Mapping[str, Calibration]
    shared_error: float
    made_from: str
    reliability: Reliability = AS_STATED

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
        "reliability": asdict(table.reliability),
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
    return CalibrationTable(
        entries=entries,
        shared_error=float(document["shared_error"]),
        made_from=str(document["made_from"]),
        reliability=Reliability(**document["reliability"]),
    )


@cache
def packaged_table() -> CalibrationTable:
    """Read the table shipped with the package."""
    text = files("counting.checks").joinpath("calibration.json").read_text(encoding="utf-8")
    return parse_table(json.loads(text))
