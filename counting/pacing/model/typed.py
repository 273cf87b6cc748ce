"""Draws of an athlete of whom nothing was filmed, from what was typed in."""

from collections.abc import Callable
from typing import Final

import numpy as np

from counting.pacing.model.reservoir import FloatArray

STEPS: Final = 8
SLOPE_STEP: Final = 1e-4
LONGEST_STEP: Final = 1.5
"""Most that one step changes a score, where what was typed in bends away."""

LUCK: Final = 20_11
"""The draws are those of one fixed luck, so that one plan follows from what was typed in."""


def draws_after(
    residuals: Callable[[FloatArray], FloatArray], likely: FloatArray, count: int
) -> FloatArray:
    """Draw from the posterior of parameters that are standard normal beforehand.

    Parameters
    ----------
    residuals
        Maps ``(n, size)`` to ``(n, K)``: how far parameters lie from each of K measurements, in
        standard deviations; smooth.
    likely
        Shape ``(size,)``: the most likely parameters, from which each draw is sought.
    count
        Number of draws.

    Returns
    -------
    Shape ``(count, size)``. A little change of the measurements changes every draw a little.

    Notes
    -----
    Randomised maximum likelihood (Oliver, He, Reynolds 1996), exact where the residuals are linear:
    each draw of the prior is moved to what fits the measurements, shifted by an error of their own,
    with as little change as can be, by Gauss-Newton steps.
    """
    random = np.random.default_rng(LUCK)
    size = likely.size
    prior = random.standard_normal((count, size))
    here = np.tile(likely, (count, 1))
    error = random.standard_normal(residuals(prior).shape)
    if error.shape[1] == 0:
        return prior
    eye = np.eye(error.shape[1])
    for _ in range(STEPS):
        off = residuals(here)
        slopes = np.stack(
            [(residuals(here + SLOPE_STEP * row) - off) / SLOPE_STEP for row in np.eye(size)],
            axis=2,
        )
        wanted = error - off + np.einsum("nkp,np->nk", slopes, here - prior)
        spread = np.einsum("nkp,njp->nkj", slopes, slopes) + eye
        pull = np.linalg.solve(spread, wanted[:, :, None])[:, :, 0]
        there = prior + np.einsum("nkp,nk->np", slopes, pull)
        here = here + np.clip(there - here, -LONGEST_STEP, LONGEST_STEP)
    return here
