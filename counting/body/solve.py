"""Damped Gauss-Newton for unknowns of each frame plus unknowns shared by all.

Neighbouring frames are tied only by a smoothness term over three frames, so that the normal matrix
is a band with a border: a step costs time linear in the number of frames.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import LinAlgError, solveh_banded

from counting.body.skeleton import FloatArray

Residuals = Callable[[FloatArray, FloatArray], FloatArray]

_STEP = 1e-5


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """A least-squares problem over frames.

    Attributes
    ----------
    residuals
        Maps (N, K) frame unknowns and (g,) shared unknowns to (N, R) standardised residuals; row
        i may depend on row i of the frame unknowns only.
    robust_columns
        Leading residual columns treated as heavy-tailed (Cauchy weights).
    time_s
        (N,) times of the frames.
    acceleration
        (K,) standard deviation of each frame unknown's second derivative.
    prior_mean, prior_spread
        (g,) of the shared unknowns; a spread of 0 holds one fixed.
    """

    residuals: Residuals
    robust_columns: int
    time_s: FloatArray
    acceleration: FloatArray
    prior_mean: FloatArray
    prior_spread: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Unknowns at the minimum, the cost there and the covariance of the shared unknowns."""

    frames: FloatArray
    shared: FloatArray
    cost: float
    shared_covariance: FloatArray


def second_differences(time_s: FloatArray) -> FloatArray:
    """Coefficients of the second derivative at inner frames, (N - 2, 3), for uneven times."""
    before, after = np.diff(time_s)[:-1], np.diff(time_s)[1:]
    span = before + after
    return np.stack([2 / (before * span), -2 / (before * after), 2 / (after * span)], axis=1)


def solve(
    problem: Problem, frames: FloatArray, shared: FloatArray, iterations: int = 25
) -> Solution:
    """Minimise from a start; stops early when the cost falls by less than a thousandth."""
    free = problem.prior_spread > 0
    damping = 1e-3
    cost, weights = _cost(problem, frames, shared, free)
    border = np.eye(int(free.sum()))
    for _ in range(iterations):
        block, border_rows, border, gradient, gradient_shared = _normal(
            problem, frames, shared, weights, free
        )
        improved = False
        while damping < 1e6:
            try:
                step, step_shared = _step(
                    block, border_rows, border, gradient, gradient_shared, damping
                )
            except LinAlgError:
                damping *= 10
                continue
            trial = frames + step.reshape(frames.shape)
            trial_shared = shared.copy()
            trial_shared[free] += step_shared
            trial_cost, trial_weights = _cost(problem, trial, trial_shared, free)
            if np.isfinite(trial_cost) and trial_cost < cost:
                improved = True
                break
            damping *= 10
        if not improved:
            break
        gain = (cost - trial_cost) / cost
        frames, shared, cost, weights = trial, trial_shared, trial_cost, trial_weights
        damping = max(damping / 5, 1e-9)
        if gain < 1e-3:
            break
    return Solution(frames, shared, cost, _covariance(problem, frames, shared, weights, free))


def _cost(
    problem: Problem, frames: FloatArray, shared: FloatArray, free: np.ndarray
) -> tuple[float, FloatArray]:
    r = problem.residuals(frames, shared)
    heavy = r[:, : problem.robust_columns]
    weights = np.ones_like(r)
    weights[:, : problem.robust_columns] = 1 / (1 + heavy * heavy / 9)
    total = float((9 * np.log1p(heavy * heavy / 9)).sum())
    total += float((r[:, problem.robust_columns :] ** 2).sum())
    if len(frames) > 2:
        bend = _bend(problem.time_s, frames) / problem.acceleration
        total += float((bend * bend).sum())
    offset = (shared - problem.prior_mean)[free] / problem.prior_spread[free]
    return total + float(offset @ offset), weights


def _bend(time_s: FloatArray, frames: FloatArray) -> FloatArray:
    c = second_differences(time_s)
    bend: FloatArray = c[:, :1] * frames[:-2] + c[:, 1:2] * frames[1:-1] + c[:, 2:] * frames[2:]
    return bend


def _normal(
    problem: Problem,
    frames: FloatArray,
    shared: FloatArray,
    weights: FloatArray,
    free: np.ndarray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    n, k = frames.shape
    r = problem.residuals(frames, shared)
    jacobian = np.empty((n, r.shape[1], k))
    for column in range(k):
        moved = frames.copy()
        moved[:, column] += _STEP
        jacobian[:, :, column] = (problem.residuals(moved, shared) - r) / _STEP
    which = np.flatnonzero(free)
    jacobian_shared = np.empty((n, r.shape[1], len(which)))
    for position, index in enumerate(which):
        moved = shared.copy()
        moved[index] += _STEP
        jacobian_shared[:, :, position] = (problem.residuals(frames, moved) - r) / _STEP
    weighted = jacobian * weights[:, :, None]
    blocks = np.matmul(weighted.transpose(0, 2, 1), jacobian)
    border_rows = np.matmul(weighted.transpose(0, 2, 1), jacobian_shared).reshape(n * k, -1)
    gradient = np.matmul(weighted.transpose(0, 2, 1), r[:, :, None])[..., 0]
    weighted_shared = jacobian_shared * weights[:, :, None]
    border = np.einsum("nri,nrj->ij", weighted_shared, jacobian_shared)
    gradient_shared = np.einsum("nri,nr->i", weighted_shared, r)
    band = _band(blocks, problem)
    if n > 2:
        gradient = gradient + _bend_gradient(problem, frames)
    inverse = problem.prior_spread[free] ** -2.0
    border = border + np.diag(inverse)
    gradient_shared = gradient_shared + inverse * (shared - problem.prior_mean)[free]
    return band, border_rows, border, gradient.ravel(), gradient_shared


def _bend_gradient(problem: Problem, frames: FloatArray) -> FloatArray:
    c = second_differences(problem.time_s)
    bend = _bend(problem.time_s, frames) / problem.acceleration**2
    gradient = np.zeros_like(frames)
    for offset in range(3):
        gradient[offset : len(frames) - 2 + offset] += c[:, offset : offset + 1] * bend
    return gradient


def _band(blocks: FloatArray, problem: Problem) -> FloatArray:
    """Upper band storage of the frames' normal matrix: blocks plus smoothness over three frames."""
    n, k, _ = blocks.shape
    upper = 2 * k if n > 2 else k - 1
    band = np.zeros((upper + 1, n * k))
    for i in range(k):
        for j in range(i, k):
            band[upper + i - j, j::k] += blocks[:, i, j]
    if n > 2:
        c = second_differences(problem.time_s)
        inverse = problem.acceleration**-2.0
        for a in range(3):
            for b in range(a, 3):
                product = c[:, a] * c[:, b]
                target = band[upper - (b - a) * k].reshape(n, k)
                target[b : n - 2 + b] += product[:, None] * inverse[None, :]
    return band


def _step(
    band: FloatArray,
    border_rows: FloatArray,
    border: FloatArray,
    gradient: FloatArray,
    gradient_shared: FloatArray,
    damping: float,
) -> tuple[FloatArray, FloatArray]:
    damped = band.copy()
    damped[-1] *= 1 + damping
    damped[-1] += 1e-9
    right = np.concatenate([border_rows, gradient[:, None]], axis=1)
    reduced = solveh_banded(damped, right, check_finite=False)
    schur = border + np.diag(np.diag(border) * damping) - border_rows.T @ reduced[:, :-1]
    rest = gradient_shared - border_rows.T @ reduced[:, -1]
    step_shared = -np.linalg.solve(schur, rest) if len(rest) else np.zeros(0)
    step = -(reduced[:, -1] + reduced[:, :-1] @ step_shared)
    return step, step_shared


def _covariance(
    problem: Problem,
    frames: FloatArray,
    shared: FloatArray,
    weights: FloatArray,
    free: np.ndarray,
) -> FloatArray:
    band, border_rows, border, _, _ = _normal(problem, frames, shared, weights, free)
    band[-1] += 1e-9
    covariance = np.zeros((len(shared), len(shared)))
    if free.any():
        schur = border - border_rows.T @ solveh_banded(band, border_rows, check_finite=False)
        covariance[np.ix_(free, free)] = np.linalg.inv(schur)
    return covariance
