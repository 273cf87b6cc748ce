"""Draws from a posterior by leading a whole population there from the prior."""

from collections.abc import Callable
from typing import Final

import numpy as np

from counting.pacing.model.reservoir import FloatArray

MOVES_PER_STAGE: Final = 6
LAST_MOVES: Final = 16
KEPT_SHARE: Final = 0.5
"""Each stage trusts the measurements as much more as leaves this share of the draws effective."""

WANTED_ACCEPTANCE: Final = 0.3
"""Share of moves that should be taken: 0.23 to 0.44 by the number of unknowns (Roberts and
Rosenthal 2001, from memory)."""
DIFFERENCE_REACH: Final = 1.7
"""Length of a move along the difference of two draws, over the root of twice the unknowns: a little
below the 2.38 that suits a normal distribution (ter Braak 2006, from memory)."""
WIDENING: Final = 1.1
"""Moves are drawn from a normal distribution so much wider than the population (chosen)."""


def population_after(
    log_likelihood: Callable[[FloatArray], FloatArray],
    size: int,
    count: int,
    random: np.random.Generator,
) -> tuple[FloatArray, float]:
    """Draw from the posterior of parameters that are standard normal beforehand.

    Parameters
    ----------
    log_likelihood
        Maps shape ``(n, size)`` to ``(n,)``, up to a constant.
    size, count
        Number of parameters and of draws; ``count`` well above ``size``.

    Returns
    -------
    Draws of shape ``(count, size)``, and the logarithm of the evidence: the mean likelihood under
    the prior, up to the constant of ``log_likelihood``.

    Notes
    -----
    A sequential Monte Carlo sampler (Del Moral, Doucet, Jasra 2006): the likelihood's power grows
    from 0 to 1 in steps chosen by the effective sample size; after each, the population is
    resampled and moved by Metropolis steps: in turn such as leave a normal distribution fitted to
    it unchanged (preconditioned Crank-Nicolson; Cotter et al. 2013), and along differences of its
    members (ter Braak 2006), which follow bent ridges.
    """
    here = random.standard_normal((count, size))
    fit = log_likelihood(here)
    power, keep, log_evidence = 0.0, 0.5, 0.0
    while power < 1.0:
        step = _next_step(fit, 1.0 - power)
        power += step
        weight = np.exp(step * (fit - np.max(fit)))
        log_evidence += step * float(np.max(fit)) + float(np.log(np.mean(weight)))
        chosen = _resampled(weight, random)
        here, fit = here[chosen], fit[chosen]
        moves = MOVES_PER_STAGE if power < 1.0 else LAST_MOVES
        here, fit, keep = _moved(log_likelihood, here, fit, power, keep, moves, random)
    return here, log_evidence


def _next_step(fit: FloatArray, most: float) -> float:
    """Find the largest growth of the power that keeps enough draws effective, by bisection."""

    def effective_share(step: float) -> float:
        weight = np.exp(step * (fit - np.max(fit)))
        return float(np.sum(weight) ** 2 / np.sum(weight**2) / fit.size)

    if effective_share(most) >= KEPT_SHARE:
        return most
    low, high = 0.0, most
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if effective_share(middle) >= KEPT_SHARE else (low, middle)
    return max(low, 1e-6)


def _resampled(weight: FloatArray, random: np.random.Generator) -> FloatArray:
    shares = np.cumsum(weight) / np.sum(weight)
    points = (random.random() + np.arange(weight.size)) / weight.size
    chosen: FloatArray = np.minimum(np.searchsorted(shares, points), weight.size - 1)
    return chosen


def _moved(
    log_likelihood: Callable[[FloatArray], FloatArray],
    here: FloatArray,
    fit: FloatArray,
    power: float,
    keep: float,
    moves: int,
    random: np.random.Generator,
) -> tuple[FloatArray, FloatArray, float]:
    count, size = here.shape
    centre = np.mean(here, axis=0)
    covariance = WIDENING**2 * np.cov(here.T) + 1e-6 * np.eye(size)
    root = np.linalg.cholesky(covariance)
    inverse = np.linalg.inv(root)

    def plain(scores: FloatArray, fit: FloatArray) -> FloatArray:
        """Log of the wanted density."""
        density: FloatArray = power * fit - 0.5 * np.sum(scores**2, axis=1)
        return density

    def excess(scores: FloatArray, fit: FloatArray) -> FloatArray:
        """Log ratio of the wanted density to the fitted normal one."""
        distance: FloatArray = np.sum(((scores - centre) @ inverse.T) ** 2, axis=1)
        return plain(scores, fit) + 0.5 * distance

    here, fit = here.copy(), fit.copy()
    for move in range(moves):
        alike = move % 2 == 0
        if alike:
            noise = random.standard_normal((count, size)) @ root.T
            there = centre + keep * (here - centre) + np.sqrt(1.0 - keep**2) * noise
        else:
            reach = DIFFERENCE_REACH / np.sqrt(2.0 * size)
            one, other = here[random.permutation(count)], here[random.permutation(count)]
            there = here + reach * (one - other) + 0.01 * random.standard_normal((count, size))
        there_fit = log_likelihood(there)
        wanted = excess if alike else plain
        taken = np.log(random.random(count)) < wanted(there, there_fit) - wanted(here, fit)
        here[taken], fit[taken] = there[taken], there_fit[taken]
        if alike:
            keep = float(np.clip(keep + 0.4 * (WANTED_ACCEPTANCE - np.mean(taken)), 0.0, 0.97))
    return here, fit, keep
