"""How errors of two films of the same reps vary together, learnt from labelled pairs."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.errors import readings_of
from counting.checks.reading import FilmReading
from counting.checks.table import Provenance, entry_name, packaged_table
from counting.checks.together import (
    FITTED_FEATURE,
    FilmsTable,
    FittedErrors,
)
from counting.lab.labelled_pairs import Pair

_PRIOR_ALIKE: Final = 0.3
_PRIOR_COUNT: Final = 4.0
_MOST_ALIKE: Final = 0.9
_PRIOR_FITTED: Final = {"deg": FittedErrors(5.0, 3.0), "cm": FittedErrors(2.0, 1.0)}
_PRIOR_PAIRS: Final = 3.0


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
    offset = {
        key: float(np.mean([one.common for one in raw if one.key == key]))
        for key in {one.key for one in raw}
    }
    count = {key: sum(one.key == key for one in raw) for key in offset}
    errors = {
        unit: _fitted_errors([o for o in raw if o.unit == unit], offset, count, prior)
        for unit, prior in _PRIOR_FITTED.items()
    }
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
    one: _Residual,
    offset: dict[str, float],
    count: dict[str, int],
    errors: dict[str, FittedErrors],
) -> _Residual:
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
                    (one.own / one.own_error)[both],
                    (other.own / other.own_error)[both],
                    strict=True,
                )
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
