"""Draws from a posterior by leading a whole population there from the prior."""

from collections.abc import Callable
from typing import Final

import numpy as np

from counting.pacing.reservoir import FloatArray

MOVES_PER_STAGE: Final = 8
LAST_MOVES: Final = 20
KEPT_SHARE: Final = 0.5
"""Each stage trusts the measurements as much more as leaves this share of the draws effective."""

WANTED_ACCEPTANCE: Final = 0.3
WIDENING: Final = 1.1


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
    resampled and moved by Metropolis steps that leave a normal distribution fitted to it unchanged
    (preconditioned Crank-Nicolson; Cotter et al. 2013).
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

    def excess(scores: FloatArray, fit: FloatArray) -> FloatArray:
        """Log ratio of the wanted density to the fitted normal one."""
        distance: FloatArray = np.sum(((scores - centre) @ inverse.T) ** 2, axis=1)
        ratio: FloatArray = power * fit - 0.5 * np.sum(scores**2, axis=1) + 0.5 * distance
        return ratio

    here, fit = here.copy(), fit.copy()
    for _ in range(moves):
        noise = random.standard_normal((count, size)) @ root.T
        there = centre + keep * (here - centre) + np.sqrt(1.0 - keep**2) * noise
        there_fit = log_likelihood(there)
        taken = np.log(random.random(count)) < excess(there, there_fit) - excess(here, fit)
        here[taken], fit[taken] = there[taken], there_fit[taken]
        keep = float(np.clip(keep + 0.4 * (WANTED_ACCEPTANCE - np.mean(taken)), 0.0, 0.97))
    return here, fit, keep
