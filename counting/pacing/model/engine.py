"""Critical power and the balance of work above it: the published forms behind the athlete model.

Powers are in watts, work in joules, times in seconds. The constants of the 2012 form were fitted to
cycling in watts and mean nothing for reps; the athlete model takes the shape, never the constants.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import curve_fit

from counting.pacing.model.reservoir import FloatArray, exponential_refill, linear_refill

CriticalPowerForm = Literal["work over time", "power over inverse time", "hyperbola"]


@dataclass(frozen=True)
class CriticalPower:
    """A sustainable power and the finite work that can be done above it."""

    power_w: float
    reserve_j: float


@dataclass(frozen=True)
class Intermittent:
    """Outcome of work and rest in turn: whole bouts finished and time at which the reserve ends.

    ``end_s`` is infinite where the rests repay the bouts for ever.
    """

    whole_bouts: int
    end_s: float


def fit_critical_power(
    time_s: FloatArray, power_w: FloatArray, form: CriticalPowerForm
) -> CriticalPower:
    """Fit critical power to exhaustion times at constant powers.

    Parameters
    ----------
    time_s, power_w
        Shape ``(n,)``, n at least 2; no NaN.
    form
        Which of the three equivalent equations is fitted; they weigh errors differently.

    Raises
    ------
    ValueError
        Fewer than two points.

    Notes
    -----
    Monod and Scherrer 1965: ``work = reserve + critical power * time``.
    """
    if time_s.size < 2:
        raise ValueError("critical power needs exhaustion times at two powers or more")
    if form == "work over time":
        slope, intercept = np.polyfit(time_s, time_s * power_w, 1)
        return CriticalPower(float(slope), float(intercept))
    if form == "power over inverse time":
        slope, intercept = np.polyfit(1.0 / time_s, power_w, 1)
        return CriticalPower(float(intercept), float(slope))

    def endurance_s(power: FloatArray, critical: float, reserve: float) -> FloatArray:
        return reserve / (power - critical)

    start = fit_critical_power(time_s, power_w, "power over inverse time")
    (critical, reserve), _ = curve_fit(
        endurance_s, power_w, time_s, p0=(start.power_w, start.reserve_j)
    )
    return CriticalPower(float(critical), float(reserve))


def time_to_exhaustion_s(athlete: CriticalPower, power_w: float) -> float:
    """Endurance at a constant power; infinite at or below critical power."""
    above = power_w - athlete.power_w
    return athlete.reserve_j / above if above > 0 else float("inf")


def intermittent(
    athlete: CriticalPower, work_w: float, work_s: float, rest_w: float, rest_s: float
) -> Intermittent:
    """Alternate work and rest until the reserve ends, with linear recovery in the rests.

    Notes
    -----
    Morton and Billat, Eur J Appl Physiol 2004;91:303-307. Endurance is a step function of the four
    quantities, so a search over them must enumerate, not follow gradients.
    """
    drain = (work_w - athlete.power_w) * work_s
    regain = max(athlete.power_w - rest_w, 0.0) * rest_s
    if drain <= 0 or (drain <= athlete.reserve_j and regain >= drain):
        return Intermittent(whole_bouts=0, end_s=float("inf"))
    level, bouts = athlete.reserve_j, 0
    while level >= drain:
        level = float(
            linear_refill(level - drain, rest_s, athlete.power_w - rest_w, athlete.reserve_j)
        )
        bouts += 1
    end_s = bouts * (work_s + rest_s) + level / (work_w - athlete.power_w)
    return Intermittent(bouts, end_s)


def recovery_time_constant_2012_s(below_critical_w: float) -> float:
    """Time constant of the 2012 form at a power so far below critical (Skiba et al. 2012)."""
    return 546.0 * float(np.exp(-0.01 * below_critical_w)) + 316.0


def balance_after_rest_2012_j(
    reserve_j: float, spent_j: float, below_critical_w: float, rest_s: float
) -> float:
    """Work left after a rest, 2012 integral form (Skiba et al., MSSE 2012;44:1526)."""
    constant_s = recovery_time_constant_2012_s(below_critical_w)
    return float(exponential_refill(reserve_j - spent_j, rest_s, constant_s, reserve_j))


def balance_after_rest_2015_j(
    reserve_j: float, spent_j: float, below_critical_w: float, rest_s: float
) -> float:
    """Work left after a rest, 2015 differential form: rate constant is watts below over reserve."""
    constant_s = reserve_j / below_critical_w
    return float(exponential_refill(reserve_j - spent_j, rest_s, constant_s, reserve_j))


def set_splitting_cost_s(sets: int, reps: int, slowing_s_per_rep2: float, break_s: float) -> float:
    """Time added by doing ``reps`` in equal sets when slowing is quadratic in set length.

    The smallest model with an interior optimum: ``(k - 1) c + a N^2 / k``. Long sets pay for
    slowing, many sets pay for breaks.
    """
    return (sets - 1) * break_s + slowing_s_per_rep2 * reps**2 / sets
