"""Where the rhythm of an attempt broke, and how early that could have been foreseen."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Final

import numpy as np

from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.fit import AthleteFit, fit_athlete, joined
from counting.pacing.model.replay import replay
from counting.pacing.model.reservoir import FloatArray

CHANCE_ALONE: Final = 0.05
"""A change is reported when chance alone would show one as clear with less probability."""

LEAST_GROWTH: Final = 1.25
LEAST_SETS: Final = 2
"""Breaks have to grow by so much, and a change to have so many sets on either side, to be told of
(chosen, not measured)."""
SAFE_LAST_REP: Final = 0.9
FORESEEN: Final = 0.5
"""Probability of finishing a set below which it was a risk, and of failing from which the break
could have been foreseen (chosen, not measured)."""
CHECKPOINTS: Final = 5
SHUFFLES: Final = 999
FORESIGHT_DRAWS: Final = 100
"""How many moments are looked back from, orders are tried by chance (99 at least: Davison and
Hinkley 1997, from memory) and athletes are drawn: more take longer and tell the same."""


@dataclass(frozen=True)
class Redline:
    """Where the rhythm broke.

    Attributes
    ----------
    at_s
        Begin of the first set after the break, on the clock.
    set_number, movement, round
        That set.
    growth
        Time per rep (rests included) after the break over before.
    size_before, size_after
        Usual set of that movement before and from the break on; ``size_before`` is None where it
        had no set before.
    chance_alone
        Probability of a step as clear without any change.
    too_long_from_s, too_long_set
        Clock and size of the first set from which sets were too long: its end was closer to the
        limit than a set that can be repeated. None where the model does not see it.
    foreseeable_s
        Earliest clock reading at which the reps seen so far foretold a failing rep before the
        break with more than even odds. None where it was not foreseeable.
    """

    at_s: float
    set_number: int
    movement: str
    round: int
    growth: float
    size_before: int | None
    size_after: int
    chance_alone: float
    too_long_from_s: float | None
    too_long_set: int | None
    foreseeable_s: float | None


@dataclass(frozen=True)
class _Set:
    reps: tuple[SeenRep, ...]
    pace: float

    @property
    def start_s(self) -> float:
        return self.reps[0].start_s


def find_redline(attempt: Attempt, seed: int = 0, fit: AthleteFit | None = None) -> Redline | None:
    """Find the one place where the rhythm broke, if there is one.

    The series is, set by set, the logarithm of time per rep (with the rest after the set) over the
    same movement's in its first set; the change point splits it into two levels. A movement that
    only comes late has no early pace to be compared with and is left out.

    Parameters
    ----------
    attempt
        What the film shows.
    seed
        Of fits and shuffles.
    fit
        A fit to this attempt, or to this and others, made before; without, one is made.

    Returns
    -------
    None where sets are too few or no change stands out from chance.
    """
    sets = _comparable(_sets_of(attempt))
    if len(sets) < 2 * LEAST_SETS:
        return None
    values = np.array([item.pace for item in sets])
    place, chance = change_point(values, seed)
    growth = float(np.exp(np.median(values[place:]) - np.median(values[:place])))
    if chance > CHANCE_ALONE or growth < LEAST_GROWTH:
        return None
    first = sets[place]
    before = attempt.before(first.start_s)
    movement = first.reps[0].movement
    earlier, later = (
        [len(item.reps) for item in part if item.reps[0].movement == movement]
        for part in (sets[:place], sets[place:])
    )
    fit = fit or fit_athlete([attempt], seed=seed, draws=FORESIGHT_DRAWS)
    too_long = _first_too_long(attempt, first.start_s, fit)
    return Redline(
        at_s=first.start_s - attempt.start_s,
        set_number=first.reps[0].set_number,
        movement=movement,
        round=first.reps[0].place[1],
        growth=growth,
        size_before=round(float(np.median(earlier))) if earlier else None,
        size_after=round(float(np.median(later))),
        chance_alone=chance,
        too_long_from_s=None if too_long is None else too_long.start_s - attempt.start_s,
        too_long_set=None if too_long is None else len(too_long.reps),
        foreseeable_s=_foreseeable_s(before, seed),
    )


def change_point(values: FloatArray, seed: int = 0) -> tuple[int, float]:
    """Find where a series most clearly steps up, early and late steps alike.

    Parameters
    ----------
    values
        Shape ``(n,)``, n at least ``2 * LEAST_SETS``; no NaN.
    seed
        Of the shuffles.

    Returns
    -------
    Index of the first value after the change, and the probability of a step as clear without any
    change.

    Notes
    -----
    The largest standardised difference of means over all places that leave ``LEAST_SETS`` values
    on either side, against the same in shuffled series (a permutation test of the maximum; for
    change points Antoch and Huskova, Stat Probab Lett 2001;53:37-46, from memory). The rank test
    of Pettitt 1979 misses a break after a few sets, where most are seen: it does not weigh a step
    by how much its place lets it vary.
    """
    random = np.random.default_rng(seed)
    shuffled = random.permuted(np.tile(values, (SHUFFLES, 1)), axis=1)
    steps = _steps(np.vstack([values, shuffled]))
    largest = np.max(steps, axis=1)
    chance = (1.0 + float(np.sum(largest[1:] >= largest[0] - 1e-9))) / (SHUFFLES + 1.0)
    return LEAST_SETS + int(np.argmax(steps[0])), chance


def _steps(series: FloatArray) -> FloatArray:
    """Rise of the mean at every place of every row, in units of how far that varies by chance."""
    count = series.shape[1]
    before = np.arange(LEAST_SETS, count - LEAST_SETS + 1)
    centred = series - np.mean(series, axis=1, keepdims=True)
    fall = -np.cumsum(centred, axis=1)[:, before - 1]
    steps: FloatArray = fall / np.sqrt(before * (count - before) / count)
    return steps


def _comparable(sets: Sequence[_Set]) -> list[_Set]:
    """Leave out sets of movements that are not seen in the first half of the sets."""
    early = {item.reps[0].movement for item in sets[: (len(sets) + 1) // 2]}
    return [item for item in sets if item.reps[0].movement in early]


def _sets_of(attempt: Attempt) -> list[_Set]:
    groups = [
        tuple(reps)
        for _, reps in groupby(attempt.reps, key=lambda rep: (rep.place, rep.set_number))
    ]
    first_pace: dict[str, float] = {}
    sets = []
    for index, reps in enumerate(groups):
        pace = float(np.log(_set_s(groups, index) / len(reps)))
        own = first_pace.setdefault(reps[0].movement, pace)
        sets.append(_Set(reps, pace - own))
    return sets


def _set_s(groups: list[tuple[SeenRep, ...]], index: int) -> float:
    """Time of a set with its rest; after a station's last set, the mean rest of that station."""
    reps = groups[index]
    station = [group for group in groups if group[0].place == reps[0].place]
    rests_s = [after[0].start_s - before[-1].end_s for before, after in pairwise(station)]
    work_s = reps[-1].end_s - reps[0].start_s
    if not rests_s:
        return work_s
    position = station.index(reps)
    return work_s + (rests_s[position] if position < len(rests_s) else float(np.mean(rests_s)))


def _first_too_long(attempt: Attempt, until_s: float, fit: AthleteFit) -> _Set | None:
    """First set, up to the break, after whose last rep one more would have been no safe bet."""
    run = replay(joined([form.typical for form in fit.forms]), attempt)
    chance = np.average(np.exp(run.log_chance), axis=0, weights=list(fit.weights.values()))
    last = {rep: float(value) for rep, value in zip(attempt.reps, chance, strict=True)}
    for item in _sets_of(attempt):
        if item.start_s > until_s:
            return None
        if last[item.reps[-1]] < SAFE_LAST_REP:
            return item
    return None


def _foreseeable_s(before: Attempt, seed: int) -> float | None:
    """Earliest end of a set at which a failing rep was to be expected on the way that was taken."""
    ends = sorted({reps.reps[-1].end_s for reps in _sets_of(before)})
    for end_s in ends[:: max(1, len(ends) // CHECKPOINTS)]:
        seen = before.before(end_s)
        if len(seen.reps) == len(before.reps):
            return None
        fit = fit_athlete([seen], before.movements, seed=seed, draws=FORESIGHT_DRAWS)
        run = replay(fit.draws(FORESIGHT_DRAWS, seed), before)
        risk = 1.0 - np.mean(np.exp(np.sum(run.log_chance[:, len(seen.reps) :], axis=1)))
        if risk > FORESEEN:
            return end_s - before.start_s
    return None
