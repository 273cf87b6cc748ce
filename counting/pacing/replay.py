"""How likely a film's reps are under a batch of athletes, replayed with their own times."""

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr

from counting.pacing.athlete import Athletes
from counting.pacing.attempt import Attempt
from counting.pacing.exertion import (
    after_rep,
    after_rest,
    cycle_time_s,
    fresh,
    rep_cost,
    success_score,
    work_of,
)
from counting.pacing.reservoir import FloatArray


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
        Shape ``(n, R, G + 1)``: reservoirs after each rep.
    """

    log_time: FloatArray
    log_chance: FloatArray
    surprise: FloatArray
    levels: FloatArray


def replay(athletes: Athletes, attempt: Attempt) -> Replay:
    """Lead a batch of athletes through the reps and gaps of an attempt.

    Between sets the gap is rest. Inside a set it is a pause with the bar in hand: it rests the
    whole body and muscles that the movement does not load, and nothing else.
    """
    count, reps = len(athletes), len(attempt.reps)
    levels, spent = fresh(count, athletes)
    log_time, log_chance = np.empty((2, count, reps))
    surprise = np.zeros((count, reps))
    seen = np.empty((count, reps, levels.shape[1]))
    works = {movement: work_of(athletes, movement) for movement in attempt.movements}
    ones = np.ones(count)
    before = None
    for index, rep in enumerate(attempt.reps):
        work = works[rep.movement]
        if before is not None:
            gap_s = max(rep.start_s - before.end_s, 0.0) * ones
            rested, faded = after_rest(athletes, levels, spent, gap_s)
            if rep.set_number == before.set_number:
                rested[:, :-1] = np.where(work.loads > 0, levels[:, :-1], rested[:, :-1])
                faded = spent
            same_station = rep.place == before.place
            levels, spent = rested, faded if same_station else np.zeros(count)
        cost = rep_cost(work, spent)
        expected_s = cycle_time_s(work, levels, 1.0)
        log_time[:, index] = np.log(expected_s)
        score = success_score(work, levels, cost)
        log_chance[:, index] = log_ndtr(score)
        if rep.gave_out is not None:
            surprise[:, index] = -log_ndtr(-score) if rep.gave_out else -log_chance[:, index]
        levels = after_rep(athletes, work, levels, cost, rep.time_s * ones)
        spent = spent + 1.0
        seen[:, index] = levels
        before = rep
    return Replay(log_time, log_chance, surprise, seen)


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
