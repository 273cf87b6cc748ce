"""What several films of the same reps say together.

Each film's value has an error common to the film and one of the rep, as the calibration states.
Errors of two films are alike in part, because body and movement are the same; how far was learnt on
labelled pairs (`counting.lab.pairs`). A body fitted to two films at once gives one more value. The
best mean of values whose errors vary together is that of generalised least squares (Aitken 1936);
its errors follow from the same weights.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.errors import Readings
from counting.checks.reading import CheckClues
from counting.checks.table import LARGEST_FACTOR, Calibration, Provenance, entry_name
from counting.movements.types import Unit

FITTED_FEATURE: Final = 0
"""Which feature of every quantity is read from the fitted body."""


@dataclass(frozen=True, slots=True)
class FittedLine:
    """What a body fitted to two films says of a quantity in a context.

    Attributes
    ----------
    level, slope
        The value is ``level + slope`` times the fitted body's feature. Networks draw a joint as
        straight as it usually is, and two views of it agree on that: what is read of a bend is
        less than the bend.
    common, own
        Scale of the error common to a pair of films, and from rep to rep, on bodies left out.
    pairs
        How many pairs told.
    """

    level: float
    slope: float
    common: float
    own: float
    pairs: int


@dataclass(frozen=True, slots=True)
class FilmsTable:
    """What was learnt on labelled pairs of films.

    Attributes
    ----------
    alike_common, alike_own
        Correlation of two films' errors: of those common to a film, and from rep to rep.
    fitted_alike_common, fitted_alike_own
        Correlation of a film's errors with those of the body fitted to both.
    fitted
        By context, as in the calibration: what the body fitted to both says. A context without
        pairs of two bodies has no such value.
    growth
        By unit: how many times larger, beside what they state, errors of two films were than those
        of one, on pairs of bodies left out.
    made_from
        What it was made from.
    """

    alike_common: float
    alike_own: float
    fitted_alike_common: float
    fitted_alike_own: float
    fitted: Mapping[str, FittedLine]
    growth: Mapping[str, float]
    made_from: Provenance


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """Values of the body fitted to two films, in a unit."""

    readings: Readings
    unit: Unit


def fitted_readings(read: CheckClues, base: str, table: FilmsTable) -> Fitted | None:
    """Make values of the fitted body's feature; None in a context without labelled pairs."""
    check = read.check
    line = table.fitted.get(entry_name(check.quantity, base, check.phase))
    if line is None:
        return None
    factor = read.factors[:, FITTED_FEATURE]
    value = line.level + line.slope * read.features[:, FITTED_FEATURE]
    value = np.where(factor < LARGEST_FACTOR, value, np.nan)
    own = line.own * np.where(np.isfinite(value), factor, 1.0)
    return Fitted(Readings(value, own, np.full(len(value), line.common)), check.unit)


def together(alone: Sequence[Readings], fitted: Sequence[Fitted], table: FilmsTable) -> Readings:
    """Put values of the same reps together.

    Parameters
    ----------
    alone
        From each film, at least one.
    fitted
        From the body fitted to two of them.
    table
        How their errors vary together.

    Returns
    -------
    Readings
        A rep that one film alone shows has that film's value and errors, one that none shows is
        NaN.
    """
    values = [*alone, *(one.readings for one in fitted)]
    if len(values) == 1:
        return values[0]
    films = len(alone)
    common_alike = _alike(len(values), films, table.alike_common, table.fitted_alike_common)
    own_alike = _alike(len(values), films, table.alike_own, table.fitted_alike_own)
    growth = table.growth.get(fitted[0].unit, 1.0) if fitted else max(table.growth.values())
    count = len(values[0].value)
    value, own, common = np.full((3, count), np.nan)
    for rep in range(count):
        seen = [k for k, one in enumerate(values) if np.isfinite(one.value[rep])]
        if not seen:
            own[rep] = common[rep] = 1.0
            continue
        of_common, of_own = (
            alike[np.ix_(seen, seen)] * np.outer(errors, errors)
            for alike, errors in (
                (common_alike, np.array([values[k].common_error[rep] for k in seen])),
                (own_alike, np.array([values[k].own_error[rep] for k in seen])),
            )
        )
        weight = _weights(of_common + of_own)
        grown = growth if len(seen) > 1 else 1.0
        value[rep] = weight @ np.array([values[k].value[rep] for k in seen])
        common[rep] = grown * np.sqrt(weight @ of_common @ weight)
        own[rep] = grown * np.sqrt(weight @ of_own @ weight)
    return Readings(value, own, common)


def stated_error(
    entry: Calibration, views: Sequence[str], key: str, unit: Unit, table: FilmsTable
) -> float:
    """Scale of the whole error that two films from some views would state, all being well seen."""
    alone = [
        Readings(np.zeros(1), np.full(1, entry.within[view]), np.full(1, entry.between[view]))
        for view in views
    ]
    fitted: list[Fitted] = []
    line = table.fitted.get(key)
    if line is not None:
        one = Readings(np.zeros(1), np.full(1, line.own), np.full(1, line.common))
        fitted.append(Fitted(one, unit))
    found = together(alone, fitted, table)
    return float(np.hypot(found.own_error[0], found.common_error[0]))


def _alike(count: int, films: int, of_films: float, of_fitted: float) -> FloatArray:
    """Correlations between all values: films first, then bodies fitted to two of them."""
    alike = np.full((count, count), of_fitted)
    alike[:films, :films] = of_films
    np.fill_diagonal(alike, 1.0)
    return alike


def _weights(covariance: FloatArray) -> FloatArray:
    """Weights of generalised least squares, none of them negative.

    A negative weight would take the difference of two values for more than it was learnt to be.
    """
    kept = np.ones(len(covariance), dtype=np.bool_)
    while True:
        inverse = np.linalg.solve(covariance[np.ix_(kept, kept)], np.ones(kept.sum()))
        if (inverse >= 0).all():
            weights = np.zeros(len(covariance))
            weights[kept] = inverse / inverse.sum()
            return weights
        kept[np.flatnonzero(kept)[np.argmin(inverse)]] = False


def write_films_table(table: FilmsTable, path: Path) -> None:
    """Write a table as JSON."""
    path.write_text(json.dumps(asdict(table), indent=1) + "\n", encoding="utf-8")


def parse_films_table(document: Mapping[str, Any]) -> FilmsTable:
    """Build a table from its JSON document."""
    values = dict(document)
    values["fitted"] = {key: FittedLine(**one) for key, one in document["fitted"].items()}
    values["made_from"] = Provenance(**document["made_from"])
    return FilmsTable(**values)


def load_films_table(file: Path) -> FilmsTable:
    """Read a table that `write_films_table` wrote."""
    return parse_films_table(json.loads(file.read_text(encoding="utf-8")))


@cache
def packaged_films_table() -> FilmsTable:
    """Read the table shipped with the package."""
    return load_films_table(Path(str(files("counting.checks").joinpath("films.json"))))
