"""How errors of two films of the same reps vary together, learnt from labelled pairs."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.errors import readings_of
from counting.checks.reading import FilmReading
from counting.checks.table import Provenance, entry_name, packaged_table, view_name
from counting.checks.together import FITTED_FEATURE, FilmsTable, FittedLine
from counting.lab.labelled_pairs import Pair
from counting.lab.readings import Sample
from counting.lab.ridge import learn_lines, usable

_PRIOR_ALIKE: Final = 0.3
_PRIOR_COUNT: Final = 4.0
_MOST_ALIKE: Final = 0.9
_PRIOR_SHARE: Final = 0.8
_PRIOR_PAIRS: Final = 2.0
"""Before looking the body fitted to both errs by this share of what one film errs by from its best
view, and a context's own pairs overrule what all contexts show by the weight of so many."""
_UNITS: Final = ("deg", "cm")
_ONE_VIEW_DEG: Final = 60.0
"""The view of which a line that asks for no view is learnt."""


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
    """Learn how errors vary together, and what a body fitted to two films says."""
    squares: dict[str, list[float]] = {unit: [] for unit in _UNITS}
    of_one: dict[str, list[float]] = {unit: [] for unit in _UNITS}
    for pair in pairs:
        others = _learnt([one for one in pairs if one.truth.body != pair.truth.body], made_from)
        for unit, square in _squares(pair, others):
            squares[unit].append(square)
    for found in (found for pair in pairs for found in _alone(pair)):
        total = np.hypot(found.common_error, found.own_error)
        of_one[found.unit].append(float(np.nanmean(((found.common + found.own) / total) ** 2)))
    growth = {unit: _growth(squares[unit], of_one[unit]) for unit in _UNITS}
    return replace(_learnt(pairs, made_from), growth=growth)


def _growth(of_both: Sequence[float], of_one: Sequence[float]) -> float:
    """How much more two films err beyond what they state than one does.

    What one film errs beyond what it states is for its own table to mend, and grows with nobody's
    second phone.
    """
    both, one = (
        (sum(found) + _PRIOR_PAIRS) / (len(found) + _PRIOR_PAIRS) for found in (of_both, of_one)
    )
    return max(1.0, float(np.sqrt(both / one)))


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


def _learnt(pairs: Sequence[Pair], made_from: Provenance) -> FilmsTable:
    alone = [one for pair in pairs for one in _alone(pair)]
    samples = [(pair, _fitted_only(one)) for pair in pairs for one in pair.samples]
    off = [found for one in samples if (found := _left_out(*one, samples)) is not None]
    lines = _lines(samples, off)
    stated = [_as_stated(one, lines[one.key]) for one in off]
    return FilmsTable(
        alike_common=_alike(_common_products(alone, alone)),
        alike_own=_alike(_own_products(alone, alone)),
        fitted_alike_common=_alike(_common_products(alone, stated)),
        fitted_alike_own=_alike(_own_products(alone, stated)),
        fitted=lines,
        growth=dict.fromkeys(_UNITS, 1.0),
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


def _fitted_only(sample: Sample) -> Sample:
    """Keep the one feature that is read from the fitted body, which is the same from all views."""
    chosen = slice(FITTED_FEATURE, FITTED_FEATURE + 1)
    return replace(
        sample,
        view_deg=_ONE_VIEW_DEG,
        rep_features=sample.rep_features[:, chosen],
        rep_factors=sample.rep_factors[:, chosen],
        frame_features=sample.frame_features[:, chosen],
    )


def _line(samples: Sequence[Sample]) -> tuple[float, float] | None:
    """Level and slope, by the reps that are judged and by the frames on the way to them."""
    chosen = [sample for sample in samples if usable(sample)]
    if not chosen:
        return None
    learnt = learn_lines(chosen)
    view = str(view_name(_ONE_VIEW_DEG))
    slope = learnt.weight[view][0]
    return learnt.level[view] - slope * learnt.centre[0], slope


def _left_out(
    pair: Pair, sample: Sample, samples: Sequence[tuple[Pair, Sample]]
) -> _Residual | None:
    """Errors of the fitted body by a line that this body had no part in."""
    line = _line([one for _, one in samples if one.key == sample.key and one.body != sample.body])
    if line is None:
        return None
    level, slope = line
    off = level + slope * sample.rep_features[:, 0] - sample.rep_shown
    factor = np.nan_to_num(sample.rep_factors[:, 0], nan=1.0)
    return _residual(sample.key, sample.check.unit, pair.name, -1, off, factor)


def _lines(
    samples: Sequence[tuple[Pair, Sample]], off: Sequence[_Residual]
) -> dict[str, FittedLine]:
    """Lines by context, with errors that are, of few pairs, drawn to what is to be expected.

    Contexts differ by far more than films of one: a knee is seen from anywhere, an elbow in a press
    from nowhere. What one film errs by there tells how much, on hundreds of films; all pairs
    together tell what share of that is left with two, and a context's own pairs how much there.
    """
    groups = {key: [one for one in off if one.key == key] for key in {one.key for one in off}}
    expected = {key: _of_one_film(key) for key in groups}
    common = {key: (sum(one.common**2 for one in ones), len(ones)) for key, ones in groups.items()}
    own = {key: _scatter_of_reps(ones) for key, ones in groups.items()}
    common_share = _share(common, {key: one[0] for key, one in expected.items()})
    own_share = _share(own, {key: one[1] for key, one in expected.items()})
    found = {}
    for key, ones in sorted(groups.items()):
        line = _line([one for _, one in samples if one.key == key])
        assert line is not None
        found[key] = FittedLine(
            *line,
            common=_drawn(common[key], common_share * expected[key][0]),
            own=_drawn(own[key], own_share * expected[key][1]),
            pairs=len(ones),
        )
    return found


def _as_stated(one: _Residual, line: FittedLine) -> _Residual:
    return replace(one, common_error=line.common, own_error=one.own_error * line.own)


def _scatter_of_reps(ones: Sequence[_Residual]) -> tuple[float, int]:
    """Sum of squares of errors from rep to rep over their factors, and its degrees of freedom."""
    squares, freedom = 0.0, 0
    for one in ones:
        scaled = (one.own / one.own_error)[np.isfinite(one.own)]
        if len(scaled) > 1:
            squares, freedom = squares + float((scaled**2).sum()), freedom + len(scaled) - 1
    return squares, freedom


def _residual(
    key: str, unit: str, pair: str, film: int, off: FloatArray, own_error: FloatArray
) -> _Residual | None:
    known = np.isfinite(off)
    if not known.any():
        return None
    weight = np.where(known, own_error, np.inf) ** -2.0
    common = float((weight * np.where(known, off, 0.0)).sum() / weight.sum())
    return _Residual(key, unit, pair, film, common, 1.0, off - common, own_error)


def _of_one_film(key: str) -> tuple[float, float]:
    """Errors common to a film and from rep to rep that one film has from its best view."""
    entries = packaged_table().entries
    entry = entries.get(key) or entries[key.partition(" / ")[0]]
    views = [view for view, films in entry.films.items() if films]
    return min(entry.between[view] for view in views), min(entry.within[view] for view in views)


def _share(found: dict[str, tuple[float, int]], expected: dict[str, float]) -> float:
    """How much of one film's error is left: the geometric mean over contexts.

    So one in which the fitted body says little does not make all others unsure.
    """
    ratios = [
        0.5 * np.log(squares / freedom / expected[key] ** 2)
        for key, (squares, freedom) in found.items()
        if freedom
    ]
    return float(np.exp((sum(ratios) + np.log(_PRIOR_SHARE)) / (len(ratios) + 1)))


def _drawn(found: tuple[float, int], expected: float) -> float:
    squares, freedom = found
    return float(np.sqrt((squares + _PRIOR_PAIRS * expected**2) / (freedom + _PRIOR_PAIRS)))


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
