"""Gauss-Newton over frames with shared unknowns, against dense linear algebra."""

from dataclasses import replace

import numpy as np
import pytest

from counting.body.solve import Normal, Problem, covariance_of_shared, second_differences, solve


def problem_of(residuals, slopes, slopes_shared, time_s, acceleration, mean, spread, heavy=()):
    """Turn (n, r) residuals with constant slopes, (n, r, k) and (n, r, g), into a problem."""
    robust = np.zeros(slopes.shape[1], bool)
    robust[list(heavy)] = True

    def cost(frames, shared, rows):
        square = residuals(frames, shared, rows) ** 2
        return np.where(robust, 9 * np.log1p(square / 9), square).sum(axis=1)

    def normal(frames, shared, rows):
        r = residuals(frames, shared, rows)
        weight = np.where(robust, 1 / (1 + r * r / 9), 1.0)
        a, b = slopes[rows], slopes_shared[rows]
        own = np.einsum("nr,nri,nrj->ijn", weight, a, a)
        edge = np.einsum("nr,nri,nrj->ijn", weight, a, b)
        k = a.shape[2]
        return Normal(
            {(i, j): own[i, j] for i in range(k) for j in range(i, k)},
            np.einsum("nr,nri->in", weight * r, a),
            edge,
            np.einsum("nr,nri,nrj->ijn", weight, b, b),
            np.einsum("nr,nri->in", weight * r, b),
        )

    starts = np.zeros(1, int)
    return Problem(cost, normal, time_s, starts, acceleration, mean[None], spread[None])


def linear_problem(rng, n=12, k=3, g=2, spread=0.7):
    a, b = rng.normal(size=(n, 5, k)), rng.normal(size=(n, 5, g))
    y = rng.normal(size=(n, 5))

    def residuals(frames, shared, rows):
        of_frames = np.einsum("nrk,nk->nr", a[rows], frames)
        return of_frames + np.einsum("nrg,ng->nr", b[rows], shared) - y[rows]

    time_s = np.cumsum(rng.uniform(0.02, 0.06, n))
    mean, spreads = np.zeros(g), np.full(g, spread)
    return problem_of(residuals, a, b, time_s, np.full(k, 40.0), mean, spreads), a, b, y


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
    prior[:, n * k :] = np.diag(1 / problem.prior_spread[0])
    matrix = np.concatenate([blocks, smooth, prior])
    right = np.concatenate([y.ravel(), np.zeros(len(smooth) + g)])
    solution = np.linalg.lstsq(matrix, right, rcond=None)[0]
    covariance = np.linalg.inv(matrix.T @ matrix)[n * k :, n * k :]
    return solution[: n * k].reshape(n, k), solution[n * k :], covariance


def test_a_linear_problem_is_solved_as_dense_least_squares_solves_it():
    problem, a, b, y = linear_problem(np.random.default_rng(2))
    frames, shared, covariance = dense_solution(problem, a, b, y)
    solution = solve(problem, np.zeros_like(frames), np.zeros((1, 2)), iterations=60)
    assert solution.shared[0] == pytest.approx(shared, abs=2e-3)
    assert solution.frames == pytest.approx(frames, abs=2e-2)
    found = covariance_of_shared(problem, solution)[0]
    assert found == pytest.approx(covariance, rel=1e-3, abs=1e-6)


def test_windows_side_by_side_are_solved_as_each_by_itself():
    parts = [
        linear_problem(np.random.default_rng(seed), n=count)
        for seed, count in ((4, 9), (5, 2), (6, 14))
    ]
    starts = np.cumsum([0, 9, 2])
    _, a, b, y = (np.concatenate([part[i] for part in parts]) if i else None for i in range(4))

    def residuals(frames, shared, rows):
        of_frames = np.einsum("nrk,nk->nr", a[rows], frames)
        return of_frames + np.einsum("nrg,ng->nr", b[rows], shared) - y[rows]

    time_s = np.concatenate([part[0].time_s for part in parts])
    one = parts[0][0]
    mean, spread = one.prior_mean[0], one.prior_spread[0]
    made = problem_of(residuals, a, b, time_s, one.acceleration, mean, spread)
    together = replace(
        made, starts=starts, prior_mean=np.zeros((3, 2)), prior_spread=np.full((3, 2), 0.7)
    )
    solution = solve(together, np.zeros((25, 3)), np.zeros((3, 2)))
    for index, (problem, *_) in enumerate(parts):
        count = len(problem.time_s)
        alone = solve(problem, np.zeros((count, 3)), np.zeros((1, 2)))
        rows = slice(starts[index], starts[index] + count)
        assert solution.frames[rows] == pytest.approx(alone.frames, abs=1e-9)
        assert solution.shared[index] == pytest.approx(alone.shared[0], abs=1e-9)
        assert solution.cost[index] == pytest.approx(alone.cost[0])


def test_a_shared_unknown_without_spread_stays_where_it_is():
    fixed, *_ = linear_problem(np.random.default_rng(3), spread=0.0)
    solution = solve(fixed, np.zeros((12, 3)), np.array([[0.3, -0.4]]))
    assert solution.shared[0] == pytest.approx([0.3, -0.4])
    assert np.all(covariance_of_shared(fixed, solution) == 0)


def test_one_gross_residual_is_outvoted_where_tails_are_long():
    """Forty frames say 1, one says 500."""
    y = np.ones(41)
    y[20] = 500.0

    def residuals(frames, shared, rows):
        return (0.0 * frames + shared - y[rows, None]) / 0.1

    slopes, slopes_shared = np.zeros((41, 1, 1)), np.full((41, 1, 1), 10.0)
    mean, spread = np.zeros(1), np.full(1, 100.0)

    def level(heavy):
        problem = problem_of(
            residuals, slopes, slopes_shared, np.arange(41.0), np.ones(1), mean, spread, heavy
        )
        return solve(problem, np.zeros((41, 1)), np.zeros((1, 1)), iterations=60).shared[0, 0]

    assert level([0]) == pytest.approx(1.0, abs=0.01)
    assert level([]) > 10


def test_second_differences_of_a_parabola_at_uneven_times():
    time_s = np.array([0.0, 0.1, 0.15, 0.4, 0.41])
    coefficients = second_differences(time_s)
    parabola = 3.0 * time_s**2 - time_s + 2
    bend = [coefficients[i] @ parabola[i : i + 3] for i in range(3)]
    assert bend == pytest.approx([6.0, 6.0, 6.0])
