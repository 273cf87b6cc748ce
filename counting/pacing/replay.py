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
        For each rep, shape ``(n, G + 1)``: reservoirs after it.
    """

    log_time: FloatArray
    log_chance: FloatArray
    surprise: FloatArray
    levels: tuple[FloatArray, ...]


def replay(athletes: Athletes, attempt: Attempt) -> Replay:
    """Lead a batch of athletes through the reps and gaps of an attempt.

    Between sets the gap is rest. Inside a set it is a pause with the bar in hand: it rests the
    whole body and muscles that the movement does not load, and nothing else.
    """
    count, reps = len(athletes), len(attempt.reps)
    levels, spent = fresh(count, athletes)
    expected_s, score = np.empty((2, reps, count))
    seen: list[FloatArray] = []
    works = {movement: work_of(athletes, movement) for movement in attempt.movements}
    ones = np.ones(count)
    before = None
    for index, rep in enumerate(attempt.reps):
        work = works[rep.movement]
        gap_s = 0.0 if before is None else max(rep.start_s - before.end_s, 0.0)
        if before is not None and rep.set_number != before.set_number:
            levels, spent = after_rest(athletes, levels, spent, gap_s * ones)
            if rep.place != before.place:
                spent = np.zeros(count)
        elif gap_s > 0.0:
            rested, _ = after_rest(athletes, levels, spent, gap_s * ones)
            rested[:, work.used] = levels[:, work.used]
            levels = rested
        cost = rep_cost(work, spent)
        expected_s[index] = cycle_time_s(work, levels, 1.0)
        score[index] = success_score(work, levels, cost)
        levels = after_rep(athletes, work, levels, cost, rep.time_s * ones)
        spent = spent + 1.0
        seen.append(levels)
        before = rep
    expected_s, score = expected_s.T, score.T
    log_chance = log_ndtr(score)
    gave_out = np.array([rep.gave_out is True for rep in attempt.reps])
    unknown = np.array([rep.gave_out is None for rep in attempt.reps])
    surprise = -np.where(gave_out, log_ndtr(-score), log_chance)
    surprise[:, unknown] = 0.0
    return Replay(np.log(expected_s), log_chance, surprise, tuple(seen))


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
