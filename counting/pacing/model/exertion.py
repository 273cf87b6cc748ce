"""One rep, one rest: how work drains the reservoirs, slows the rhythm and may fail.

Every function takes a batch. State is ``levels`` of shape ``(n, G + 1)``: shares of the muscle
groups' reservoirs and, in the last column, the whole body's; and ``spent`` of shape ``(n,)``: reps
of the running set, which fade within seconds once the bar is let go. Functions of one rep that
change no state take further leading axes, such as all reps of a movement at once.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from counting.pacing.model.athlete import SUSTAINABLE_SHARE, Athletes
from counting.pacing.model.reservoir import FloatArray, exponential_refill, linear_refill

FAILURE_SPREAD: Final = 0.15
"""Spread (log scale) of what a rep asks for, beside its cost (common practice, no source)."""

EMPTY: Final = 0.1
"""Share of a rep's cost below which a level is not told apart from none."""

SET_FADE_S: Final = 8.0
"""Seconds in which the strain of the running set fades in a break (common practice, no source)."""

WHOLE_SHARE_OF_SLOWING: Final = 0.8
"""How far an empty whole-body reservoir slows reps, against an empty muscle group."""


@dataclass(frozen=True)
class Work:
    """A movement of a batch of athletes, made ready for the steps below.

    Shapes: ``loads`` (G,), all others (n,) or (1,), but ``used``: indices of the groups that are
    loaded. ``base`` is the share of a reservoir that a fresh first rep draws: an unbroken set to
    the limit draws one whole reservoir.
    """

    loads: FloatArray
    base: FloatArray
    unbroken: FloatArray
    late_cost: FloatArray
    cycle_s: FloatArray
    slow_down: FloatArray
    intensity_per_s: FloatArray
    used: npt.NDArray[np.int64]


def work_of(athletes: Athletes, movement: str) -> Work:
    """Make a movement ready."""
    column = athletes.column(movement)
    load = athletes.loads[column]
    unbroken = athletes.unbroken[:, column]
    late = 0.5 * athletes.late_cost * np.maximum(unbroken - 1.0, 0.0)
    loads = np.array([load.loads.get(group, 0.0) for group in athletes.groups])
    return Work(
        loads=loads,
        base=1.0 / (unbroken + late),
        unbroken=np.maximum(unbroken, 1.0),
        late_cost=athletes.late_cost,
        cycle_s=athletes.cycle_s[:, column],
        slow_down=athletes.slow_down,
        intensity_per_s=load.intensity / athletes.whole_work_s,
        used=np.flatnonzero(loads > 0),
    )


def fresh(count: int, athletes: Athletes) -> tuple[FloatArray, FloatArray]:
    """Levels and spent reps of the rested athlete, for ``count`` rows."""
    return np.ones((count, len(athletes.groups) + 1)), np.zeros(count)


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

    Notes
    -----
    Slowing grows with the square of what is missing, so that it is slight at first and steep near
    the limit (loss of velocity in sets to failure; shared evidence is told in the plan's notes).
    """
    strain = WHOLE_SHARE_OF_SLOWING * (1.0 - levels[..., -1])
    for group in work.used:
        np.maximum(strain, work.loads[group] * (1.0 - levels[..., group]), out=strain)
    time_s: FloatArray = work.cycle_s / effort * (1.0 + work.slow_down * strain**2)
    return time_s


def success_score(work: Work, levels: FloatArray, cost: FloatArray) -> FloatArray:
    """Give the standard score of the next rep's success: its muscles' levels against its cost."""
    margin = levels[..., work.used[0]] / work.loads[work.used[0]]
    for group in work.used[1:]:
        margin = np.minimum(margin, levels[..., group] / work.loads[group])
    score: FloatArray = np.log(np.maximum(margin / cost, EMPTY)) / FAILURE_SPREAD
    return score


def success_probability(work: Work, levels: FloatArray, cost: FloatArray) -> FloatArray:
    """Probability that the next rep goes."""
    chance: FloatArray = ndtr(success_score(work, levels, cost))
    return chance


def after_rep(
    athletes: Athletes, work: Work, levels: FloatArray, cost: FloatArray, time_s: FloatArray
) -> FloatArray:
    """Levels after one rep that took so long.

    Muscle groups the movement does not load refill meanwhile.
    """
    after = _refilled(athletes, levels, time_s)
    for group in work.used:
        after[:, group] = levels[:, group] - work.loads[group] * cost
    after[:, -1] = levels[:, -1] - whole_cost(work, time_s)
    np.maximum(after, 0.0, out=after)
    return after


def after_rest(
    athletes: Athletes, levels: FloatArray, spent: FloatArray, rest_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Levels and spent reps after a rest with the hands off."""
    return _refilled(athletes, levels, rest_s), spent * np.exp(-rest_s / SET_FADE_S)


def rest_until_able_s(
    athletes: Athletes, work: Work, levels: FloatArray, margin: float
) -> FloatArray:
    """Rest after which a single rep has ``margin`` times its cost in the tank; may be infinite."""
    wanted = np.minimum(margin * work.base, 0.98)[:, None] * work.loads[work.used]
    level = levels[:, work.used]
    time_s = athletes.local_refill_s[:, None]
    linear = (wanted - level) * time_s
    curved = time_s * np.log(np.maximum(1.0 - level, 1e-12) / np.maximum(1.0 - wanted, 1e-12))
    each = np.where(athletes.exponential[:, None], curved, linear)
    longest: FloatArray = np.maximum(np.max(each, axis=1), 0.0)
    return longest


def _refilled(athletes: Athletes, levels: FloatArray, rest_s: FloatArray) -> FloatArray:
    rest, rate_per_s = rest_s[:, None], athletes.refill_rate_per_s
    if athletes.form_of_all == "linear":
        return linear_refill(levels, rest, rate_per_s, 1.0)
    curved = exponential_refill(levels, rest * rate_per_s, 1.0, 1.0)
    if athletes.form_of_all == "exponential":
        return curved
    straight = linear_refill(levels, rest, rate_per_s, 1.0)
    return np.where(athletes.exponential[:, None], curved, straight)
