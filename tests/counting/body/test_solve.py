"""Gauss-Newton over frames with shared unknowns, against dense linear algebra."""

import numpy as np
import pytest

from counting.body.solve import Problem, second_differences, solve


def linear_problem(rng, n=12, k=3, g=2, robust=0):
    a, b = rng.normal(size=(n, 5, k)), rng.normal(size=(n, 5, g))
    y = rng.normal(size=(n, 5))

    def residuals(frames, shared):
        return np.einsum("nrk,nk->nr", a, frames) + b @ shared - y

    time_s = np.cumsum(rng.uniform(0.02, 0.06, n))
    problem = Problem(residuals, robust, time_s, np.full(k, 40.0), np.zeros(g), np.full(g, 0.7))
    return problem, a, b, y


def dense_solution(problem, a, b, y):
    """The same least squares as one big matrix."""
    n, rows, k = a.shape
    g = b.shape[2]
    blocks = np.zeros((n * rows, n * k + g))
    for i in range(n):
        blocks[i * rows : (i + 1) * rows, i * k : (i + 1) * k] = a[i]
        blocks[i * rows : (i + 1) * rows, n * k :] = b[i]
    c = second_differences(problem.time_s)
    smooth = np.zeros(((n - 2) * k, n * k + g))
    for i in range(n - 2):
        for j in range(k):
            for offset in range(3):
                smooth[i * k + j, (i + offset) * k + j] = c[i, offset] / problem.acceleration[j]
    prior = np.zeros((g, n * k + g))
    prior[:, n * k :] = np.diag(1 / problem.prior_spread)
    matrix = np.concatenate([blocks, smooth, prior])
    right = np.concatenate([y.ravel(), np.zeros(len(smooth) + g)])
    solution = np.linalg.lstsq(matrix, right, rcond=None)[0]
    covariance = np.linalg.inv(matrix.T @ matrix)[n * k :, n * k :]
    return solution[: n * k].reshape(n, k), solution[n * k :], covariance


def test_a_linear_problem_is_solved_as_dense_least_squares_solves_it():
    problem, a, b, y = linear_problem(np.random.default_rng(2))
    frames, shared, covariance = dense_solution(problem, a, b, y)
    solution = solve(problem, np.zeros_like(frames), np.zeros(2), iterations=60)
    assert solution.shared == pytest.approx(shared, abs=2e-3)
    assert solution.frames == pytest.approx(frames, abs=2e-2)
    assert solution.shared_covariance == pytest.approx(covariance, rel=1e-3, abs=1e-6)


def test_a_shared_unknown_without_spread_stays_where_it_is():
    problem, *_ = linear_problem(np.random.default_rng(3))
    fixed = Problem(
        problem.residuals, 0, problem.time_s, problem.acceleration, np.zeros(2), np.zeros(2)
    )
    solution = solve(fixed, np.zeros((12, 3)), np.array([0.3, -0.4]))
    assert solution.shared == pytest.approx([0.3, -0.4])
    assert np.all(solution.shared_covariance == 0)


def test_one_gross_residual_is_outvoted_where_tails_are_long():
    """Forty frames say 1, one says 500."""
    y = np.ones(41)
    y[20] = 500.0

    def residuals(frames, shared):
        return (frames[:, :1] * 0 + shared[0] - y[:, None]) / 0.1

    time_s = np.arange(41.0)

    def level(robust_columns):
        problem = Problem(
            residuals, robust_columns, time_s, np.ones(1), np.zeros(1), np.full(1, 100.0)
        )
        return solve(problem, np.zeros((41, 1)), np.zeros(1), iterations=60).shared[0]

    assert level(1) == pytest.approx(1.0, abs=0.01)
    assert level(0) > 10


def test_second_differences_of_a_parabola_at_uneven_times():
    time_s = np.array([0.0, 0.1, 0.15, 0.4, 0.41])
    coefficients = second_differences(time_s)
    parabola = 3.0 * time_s**2 - time_s + 2
    bend = [coefficients[i] @ parabola[i : i + 3] for i in range(3)]
    assert bend == pytest.approx([6.0, 6.0, 6.0])
