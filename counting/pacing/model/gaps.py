"""Gaps between sets and stations: the shortest that an athlete can do, from those of a film."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.special import log_ndtr, logsumexp

from counting.pacing.model.reservoir import FloatArray

GAP_SPREAD: Final = 0.10
"""Standard deviation of a shortest gap as a share of it (common practice, no source)."""

USUAL_EXTRA_REST_S: Final = (2.5, 5.0, 10.0, 20.0)
"""Mean seconds that an athlete rests beyond the shortest gap: what a film may show (common
practice, no source)."""


def shortest_gap_draws(
    usual_s: float,
    spread: float,
    gaps_s: FloatArray,
    random: np.random.Generator,
    count: int,
    rested_s: Sequence[float] = (0.0,),
) -> FloatArray:
    """Draw the shortest gap, shape ``(count,)``, from gaps that were seen.

    Beforehand it is ``usual_s`` with a spread (log scale); ``rested_s`` as in
    `log_density_of_gaps`.
    """
    scores = np.linspace(-4.0, 4.0, 801)
    candidates_s = usual_s * np.exp(spread * scores)
    log_weight = -0.5 * scores**2
    if gaps_s.size:
        log_weight += log_density_of_gaps(candidates_s, gaps_s, rested_s)
    weight = np.cumsum(np.exp(log_weight - np.max(log_weight)))
    draws: FloatArray = np.interp(random.random(count), weight / weight[-1], candidates_s)
    return draws


def log_density_of_gaps(
    shortest_s: FloatArray, gaps_s: FloatArray, rested_s: Sequence[float] = (0.0,)
) -> FloatArray:
    """Log density of gaps that are a shortest possible one plus a free extra.

    Parameters
    ----------
    shortest_s
        Shape ``(n,)``: candidates for the shortest possible gap.
    gaps_s
        Shape ``(m,)``: gaps seen.
    rested_s
        What may have been rested in each gap beside: none, or a break before going on.

    Returns
    -------
    Shape ``(n,)``: that of all gaps together, up to a constant.

    Notes
    -----
    A film does not say how its athlete chose rests, so equal odds go to every habit: a short, a
    usual or a long extra, exponential (some gaps are the shortest possible) or the sum of two such
    parts (no gap is), after each of ``rested_s``. Each is convolved with a normal distribution.
    """
    habits = [
        np.sum(
            _log_density(shortest_s[:, None], gaps_s[None, :] - beside_s, extra_s, parts), axis=1
        )
        for beside_s in rested_s
        for extra_s in USUAL_EXTRA_REST_S
        for parts in (1, 2)
    ]
    total: FloatArray = logsumexp(habits, axis=0)
    return total


def _log_density(
    shortest_s: FloatArray, gaps_s: FloatArray, extra_s: float, parts: int
) -> FloatArray:
    """Log density of a normal distribution convolved with one or two exponential parts."""
    noise = GAP_SPREAD * shortest_s
    rate = parts / extra_s
    lateness = gaps_s - shortest_s
    score = lateness / noise - rate * noise
    tail = log_ndtr(score)
    density: FloatArray = parts * np.log(rate) + rate * (0.5 * rate * noise**2 - lateness) + tail
    if parts == 2:
        hazard = np.exp(-0.5 * score**2 - 0.5 * np.log(2.0 * np.pi) - tail)
        density = density + np.log(noise * np.maximum(score + hazard, 1e-9))
    return density
