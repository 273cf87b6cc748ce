"""How likely a film's reps are under a batch of athletes, replayed with their own times."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.exertion import (
    SET_FADE_S,
    Work,
    cycle_time_s,
    rep_cost,
    success_score,
    whole_cost,
    work_of,
)
from counting.pacing.model.reservoir import FloatArray, exponential_refill, linear_refill


@dataclass(frozen=True)
class Replay:
    """What a batch of ``n`` athletes would have been expected to show on ``R`` seen reps.

    Attributes
    ----------
    log_time
        Shape ``(n, R)``: logarithm of each rep's expected time.
    log_chance
        Shape ``(n, R)``: logarithm of the probability that the rep goes.
    surprise
        Shape ``(n, R)``: minus the log probability that it went (or gave out) as it did; 0 where
        the outcome is not known.
    levels
        Shape ``(n, G + 1)``: reservoirs after the last rep.
    """

    log_time: FloatArray
    log_chance: FloatArray
    surprise: FloatArray
    levels: FloatArray


def replay(athletes: Athletes, attempt: Attempt) -> Replay:
    """Lead a batch of athletes through the reps and gaps of an attempt.

    Between sets the gap is rest. Inside a set it is a pause with the bar in hand: it rests the
    whole body and muscles that the movement does not load, and nothing else.

    Notes
    -----
    A fit replays the same reps some hundred times, so only what depends on the rep before is
    stepped through; costs, expected times and chances are worked out for all reps of a movement at
    once. Step by step, `after_rep` and `after_rest` give the same.
    """
    count, reps = len(athletes), len(attempt.reps)
    works = {movement: work_of(athletes, movement) for movement in attempt.movements}
    rows = {
        movement: np.array([i for i, rep in enumerate(attempt.reps) if rep.movement == movement])
        for movement in works
    }
    time_s = np.array([rep.time_s for rep in attempt.reps])
    spent = _spent_before(attempt)
    cost = np.empty((reps, count))
    drawn = np.zeros((reps, len(athletes.groups) + 1, count))
    for movement, work in works.items():
        own = rows[movement]
        cost[own] = rep_cost(work, spent[own, None])
        for group in work.used:
            drawn[own, group] = work.loads[group] * cost[own]
        drawn[own, -1] = whole_cost(work, time_s[own, None])
    before, last = _levels(athletes, attempt, works, drawn)
    log_time, score = np.empty((2, count, reps))
    for movement, work in works.items():
        own = rows[movement]
        levels = before[own]
        log_time[:, own] = np.log(cycle_time_s(work, levels, 1.0)).T
        score[:, own] = success_score(work, levels, cost[own]).T
    log_chance = log_ndtr(score)
    surprise = -log_chance
    gave_out = np.array([rep.gave_out is True for rep in attempt.reps])
    surprise[:, gave_out] = -log_ndtr(-score[:, gave_out])
    surprise[:, [rep.gave_out is None for rep in attempt.reps]] = 0.0
    return Replay(log_time, log_chance, surprise, last)


def _gaps(attempt: Attempt) -> Iterator[tuple[SeenRep | None, SeenRep, float]]:
    """Each rep with the one before it, None for the first, and the seconds between them."""
    before = None
    for rep in attempt.reps:
        yield before, rep, 0.0 if before is None else max(rep.start_s - before.end_s, 0.0)
        before = rep


def _spent_before(attempt: Attempt) -> FloatArray:
    """Reps of the running set before each rep, faded by the breaks; shape ``(R,)``."""
    spent, seen = 0.0, []
    for before, rep, gap_s in _gaps(attempt):
        if before is not None and rep.place != before.place and rep.set_number != before.set_number:
            spent = 0.0
        elif before is not None and rep.set_number != before.set_number:
            spent *= np.exp(-gap_s / SET_FADE_S)
        seen.append(spent)
        spent += 1.0
    return np.array(seen)


def _levels(
    athletes: Athletes, attempt: Attempt, works: Mapping[str, Work], drawn: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Levels before each rep, shape ``(R, n, G + 1)``, and after the last, given what each draws.

    ``drawn`` has shape ``(R, G + 1, n)``. The athletes lie in the last axis of what is stepped
    through, so that every operation runs over neighbours in memory.
    """
    rate_per_s = np.ascontiguousarray(athletes.refill_rate_per_s.T)
    linear, mixed = athletes.form_of_all == "linear", athletes.form_of_all is None

    def rested(level: FloatArray, rest_s: float) -> FloatArray:
        if linear:
            return linear_refill(level, rest_s, rate_per_s, 1.0)
        curved = exponential_refill(level, rest_s * rate_per_s, 1.0, 1.0)
        straight = linear_refill(level, rest_s, rate_per_s, 1.0) if mixed else curved
        return np.where(athletes.exponential, curved, straight) if mixed else curved

    busy = {
        movement: np.append(work.used, len(athletes.groups)) for movement, work in works.items()
    }
    level, seen = np.ones(drawn.shape[1:]), np.empty(drawn.shape)
    for index, (before, rep, gap_s) in enumerate(_gaps(attempt)):
        if gap_s > 0.0:
            held = level
            level = rested(held, gap_s)
            if before is not None and rep.set_number == before.set_number:
                used = works[rep.movement].used
                level[used] = held[used]
        seen[index] = level
        own = busy[rep.movement]
        level = rested(level, rep.time_s)
        level[own] = seen[index, own] - drawn[index, own]
        np.maximum(level, 0.0, out=level)
    return seen.swapaxes(1, 2), level.T


def log_density_of_gaps(
    shortest_s: FloatArray, gaps_s: FloatArray, usual_extra_s: float, spread: float
) -> FloatArray:
    """Log density of gaps that are a shortest possible one plus a free, exponential extra.

    Parameters
    ----------
    shortest_s
        Shape ``(n,)``: candidates for the shortest possible gap.
    gaps_s
        Shape ``(m,)``: gaps seen.
    usual_extra_s
        Mean of the extra.
    spread
        Standard deviation of the shortest gap as a share of it.

    Returns
    -------
    Shape ``(n,)``: sum over the gaps.

    Notes
    -----
    The exponentially modified normal distribution.
    """
    noise = (spread * shortest_s)[:, None]
    lateness = gaps_s[None, :] - shortest_s[:, None]
    rate = 1.0 / usual_extra_s
    log_density = (
        np.log(rate)
        + rate * (0.5 * rate * noise**2 - lateness)
        + log_ndtr(lateness / noise - rate * noise)
    )
    total: FloatArray = np.sum(log_density, axis=1)
    return total
