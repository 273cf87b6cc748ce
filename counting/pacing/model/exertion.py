"""One rep, one rest: how work drains the reservoirs, slows the rhythm and may fail.

Every function takes a batch of ``n`` athletes, who lie in the last axis. State is ``missing`` of
shape ``(2, G + 1, n)``: the shares of each reservoir that are missing, fast part and slow part, the
whole body's in the last row; and ``spent`` of shape ``(n,)``: reps of the running set, which fade
within seconds once the bar is let go. Functions of one rep that change no state take further
leading axes, such as all reps of a movement at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from counting.pacing.model.athlete import SUSTAINABLE_SHARE, Athletes
from counting.pacing.model.loads import unbroken_at
from counting.pacing.model.reservoir import FloatArray, exponential_refill, linear_refill

FAILURE_SPREAD: Final = 0.15
"""Spread (log scale) of what a rep asks for, beside its cost (common practice, no source)."""

EMPTY: Final = 0.1
"""Share of a rep's cost below which a level is not told apart from none."""

SET_FADE_S: Final = 8.0
"""Seconds in which the strain of the running set fades in a break (common practice, no source)."""

WHOLE_SHARE_OF_SLOWING: Final = 0.8
"""How far an empty whole-body reservoir slows reps, against an empty muscle group."""


SLOWER_TIRED: Final = 3.0
"""How much longer the fast phase takes when the slow part is empty: recovery slows with repeated
bouts (Chorley et al. 2019; the number is common practice, no source)."""


@dataclass(frozen=True)
class Work:
    """A movement of a batch of athletes, made ready for the steps below.

    Shapes: ``loads`` (G,), all others (n,), but ``used``: indices of the groups that are loaded.
    ``base`` is the share of a reservoir that a fresh first rep draws: an unbroken set to the limit
    draws one whole reservoir.
    """

    loads: FloatArray
    base: FloatArray
    unbroken: FloatArray
    late_cost: FloatArray
    cycle_s: FloatArray
    slow_down: FloatArray
    slow_power: FloatArray
    intensity_per_s: FloatArray
    used: npt.NDArray[np.int64]


def work_of(athletes: Athletes, movement: str, load_kg: float | None = None) -> Work:
    """Make a movement ready; without a load it is the one the unbroken set is meant for."""
    column = athletes.column(movement)
    load = athletes.loads[column]
    unbroken = unbroken_with(athletes, movement, load_kg)
    late = 0.5 * athletes.late_cost * np.maximum(unbroken - 1.0, 0.0)
    loads = np.array([load.loads.get(group, 0.0) for group in athletes.groups])
    return Work(
        loads=loads,
        base=1.0 / (unbroken + late),
        unbroken=np.maximum(unbroken, 1.0),
        late_cost=athletes.late_cost,
        cycle_s=athletes.cycle_s[:, column],
        slow_down=athletes.slow_down,
        slow_power=athletes.slow_power,
        intensity_per_s=load.intensity / athletes.whole_work_s,
        used=np.flatnonzero(loads > 0),
    )


def unbroken_with(athletes: Athletes, movement: str, load_kg: float | None) -> FloatArray:
    """Reps in one fresh set with a load, shape ``(n,)``."""
    column = athletes.column(movement)
    unbroken: FloatArray = athletes.unbroken[:, column]
    if load_kg is None:
        return unbroken
    moved_kg = athletes.loads[column].moved_kg(load_kg)
    return unbroken_at(unbroken, athletes.at_kg[column], moved_kg)


def fresh(athletes: Athletes) -> tuple[FloatArray, FloatArray]:
    """Nothing missing and nothing spent: the rested athlete."""
    return np.zeros((2, len(athletes.groups) + 1, len(athletes))), np.zeros(len(athletes))


def levels_of(missing: FloatArray) -> FloatArray:
    """Shares that are left of each reservoir, from the two parts that are missing."""
    levels: FloatArray = 1.0 - missing[..., 0, :, :] - missing[..., 1, :, :]
    return levels


def rep_cost(work: Work, spent: FloatArray) -> FloatArray:
    """Share of the main reservoir that the next rep draws; later reps of a set draw more."""
    cost: FloatArray = work.base * (1.0 + work.late_cost * spent / work.unbroken)
    return cost


def whole_cost(work: Work, time_s: FloatArray) -> FloatArray:
    """Share of the whole body's reservoir that a rep of some length draws.

    It grows with how far the shown pace lies above what can be held for long, as in critical power.
    """
    pace = np.minimum(work.cycle_s / time_s, 1.5)
    over = np.maximum(pace - SUSTAINABLE_SHARE, 0.0) / (1.0 - SUSTAINABLE_SHARE)
    drawn: FloatArray = work.intensity_per_s * time_s * over
    return drawn


def cycle_time_s(work: Work, levels: FloatArray, effort: FloatArray | float) -> FloatArray:
    """Seconds of the next rep: longer on emptier reservoirs, and where the pace is held back.

    ``levels`` has shape ``(..., G + 1, n)``.

    Notes
    -----
    Slowing grows with a power of what is missing, so that it is slight at first and steep near the
    limit (loss of velocity in sets to failure; shared evidence is told in the plan's notes). Which
    power is the athlete's own: from sets that end early it cannot be told from strength.
    """
    strain = WHOLE_SHARE_OF_SLOWING * (1.0 - levels[..., -1, :])
    for group in work.used:
        np.maximum(strain, work.loads[group] * (1.0 - levels[..., group, :]), out=strain)
    time_s: FloatArray = work.cycle_s / effort * (1.0 + work.slow_down * strain**work.slow_power)
    return time_s


def success_score(work: Work, levels: FloatArray, cost: FloatArray) -> FloatArray:
    """Give the standard score of the next rep's success: its muscles' levels against its cost."""
    margin = levels[..., work.used[0], :] / work.loads[work.used[0]]
    for group in work.used[1:]:
        margin = np.minimum(margin, levels[..., group, :] / work.loads[group])
    score: FloatArray = np.log(np.maximum(margin / cost, EMPTY)) / FAILURE_SPREAD
    return score


def success_probability(work: Work, levels: FloatArray, cost: FloatArray) -> FloatArray:
    """Probability that the next rep goes."""
    chance: FloatArray = ndtr(success_score(work, levels, cost))
    return chance


def after_rep(
    athletes: Athletes, work: Work, missing: FloatArray, cost: FloatArray, time_s: FloatArray
) -> FloatArray:
    """State after one rep that took so long.

    Muscle groups the movement does not load refill meanwhile.
    """
    after = rested(athletes, missing, time_s)
    whole = len(athletes.groups)
    drawn = np.concatenate(
        [work.loads[work.used, None] * cost[None, :], whole_cost(work, time_s)[None, :]]
    )
    drain(athletes, missing, after, [*work.used, whole], drawn)
    return after


def drain(
    athletes: Athletes,
    before: FloatArray,
    after: FloatArray,
    rows: Sequence[int] | npt.NDArray[np.int64],
    drawn: FloatArray,
) -> None:
    """Write into some rows of ``after`` what is missing of ``before`` once a draw is added.

    Nothing can be drawn from an empty reservoir. ``drawn`` has shape ``(len(rows), n)``.
    """
    slow = before[1, rows] + drawn
    if athletes.two_phase:
        fast_drawn = athletes.fast_share * drawn
        fast = before[0, rows] + fast_drawn
        slow -= fast_drawn
        over = np.maximum(fast + slow, 1.0)
        after[0, rows] = fast / over
        after[1, rows] = slow / over
        return
    after[1, rows] = np.minimum(slow, 1.0)


def after_rest(
    athletes: Athletes, missing: FloatArray, spent: FloatArray, rest_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """State and spent reps after a rest with the hands off."""
    return rested(athletes, missing, rest_s), spent * np.exp(-rest_s / SET_FADE_S)


def rested(athletes: Athletes, missing: FloatArray, rest_s: FloatArray | float) -> FloatArray:
    """State after a time without work."""
    after = np.empty_like(missing)
    if athletes.two_phase:
        tired = 1.0 + SLOWER_TIRED * missing[1]
        after[0] = missing[0] * np.exp(-np.asarray(rest_s) / (athletes.fast_refill_s * tired))
    else:
        after[0] = missing[0]
    rate_per_s, slow = athletes.slow_rate_per_s, missing[1]
    if athletes.refills_linearly:
        after[1] = 1.0 - linear_refill(1.0 - slow, rest_s, rate_per_s, 1.0)
        return after
    after[1] = 1.0 - exponential_refill(1.0 - slow, rest_s * rate_per_s, 1.0, 1.0)
    if athletes.refills_linearly is None:
        straight = 1.0 - linear_refill(1.0 - slow, rest_s, rate_per_s, 1.0)
        after[1] = np.where(athletes.linear, straight, after[1])
    return after


def rest_until_able_s(
    athletes: Athletes, work: Work, missing: FloatArray, margin: float, longest_s: float
) -> FloatArray:
    """Rest after which a single rep has ``margin`` times its cost in the tank, up to the longest.

    Found to a second or so by halving: the two parts refill at rates of their own.
    """
    wanted = np.minimum(margin * work.base, 0.98) * work.loads[work.used, None]
    low, high = np.zeros(len(athletes)), np.full(len(athletes), longest_s)
    for _ in range(6):
        middle = 0.5 * (low + high)
        levels = levels_of(rested(athletes, missing, middle))[work.used]
        able = np.all(levels >= wanted, axis=0)
        high = np.where(able, middle, high)
        low = np.where(able, low, middle)
    return high
