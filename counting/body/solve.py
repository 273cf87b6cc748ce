"""Damped Gauss-Newton for unknowns of each frame plus unknowns shared by a window of frames.

Neighbouring frames of a window are tied only by a smoothness term over three frames, so that the
normal matrix is a band with a border: a step costs time linear in the number of frames. Windows
have nothing in common; they are stepped side by side, each with a damping of its own, so that
their results are those of each by itself.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.linalg import LinAlgError

from counting.body.banded import solve_banded
from counting.body.skeleton import FloatArray

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

_MOST_DAMPING: Final = 1e6
"""Damping at which steps are too small to gain anything: a window is left as it is."""
_ENOUGH_GAIN: Final = 1e-3
"""Share of the cost; what is gained beyond moves joints by less than they are known to (chosen, not
measured)."""


@dataclass(frozen=True, slots=True, eq=False)
class Normal:
    """The normal equations of frames at some values of their K unknowns and the g shared ones.

    Attributes
    ----------
    blocks
        By pair of frame unknowns (i, j), i <= j: (N,) elements that are not zero throughout.
    gradient
        (K, N) by frame unknown.
    border
        (K, g, N) by frame unknown and shared unknown.
    shared
        (g, g, N) each frame's part of the shared unknowns' own matrix.
    shared_gradient
        (g, N) each frame's part of their gradient.
    """

    blocks: Mapping[tuple[int, int], FloatArray]
    gradient: FloatArray
    border: FloatArray
    shared: FloatArray
    shared_gradient: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """A least-squares problem over frames.

    Attributes
    ----------
    cost
        Maps (N, K) frame unknowns, (N, g) shared unknowns as each frame has them, and the rows of
        these frames to (N,) costs.
    normal
        Maps the same to the normal equations.
    time_s
        (F,) times of all frames.
    starts
        (W,) row at which each window starts, the first 0.
    acceleration
        (K,) standard deviation of each frame unknown's second derivative.
    prior_mean, prior_spread
        (W, g) of the shared unknowns; a spread of 0 holds one fixed, the same in all windows.
    tied_s
        Frames whose neighbours are further away in sum are not tied to them by smoothness.
    """

    cost: Callable[[FloatArray, FloatArray, IntArray], FloatArray]
    normal: Callable[[FloatArray, FloatArray, IntArray], Normal]
    time_s: FloatArray
    starts: IntArray
    acceleration: FloatArray
    prior_mean: FloatArray
    prior_spread: FloatArray
    tied_s: float = math.inf


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Unknowns at the minimum, (F, K) and (W, g), and the (W,) costs there."""

    frames: FloatArray
    shared: FloatArray
    cost: FloatArray


def second_differences(time_s: FloatArray) -> FloatArray:
    """Coefficients of the second derivative at inner frames, (N - 2, 3), for uneven times."""
    before, after = np.diff(time_s)[:-1], np.diff(time_s)[1:]
    span = before + after
    return np.stack([2 / (before * span), -2 / (before * after), 2 / (after * span)], axis=1)


def solve(
    problem: Problem,
    frames: FloatArray,
    shared: FloatArray,
    iterations: int = 25,
    enough_gain: float = _ENOUGH_GAIN,
) -> Solution:
    """Minimise from a start, (F, K) and (W, g).

    A window is left alone as soon as its cost falls by less than a share of ``enough_gain``.
    """
    work = _Work(problem, frames.copy(), shared.copy())
    active = np.ones(len(problem.starts), dtype=bool)
    damping = np.full(len(problem.starts), 1e-3)
    steps = np.zeros(len(problem.starts), dtype=int)
    moved = active
    while active.any():
        work.linearise(moved)
        trial, trial_shared, found = work.step(active, damping)
        cost = work.cost_of(trial, trial_shared, active)
        better = active & found & np.isfinite(cost) & (cost < work.cost)
        gain = np.where(better, (work.cost - cost) / work.cost, 0.0)
        work.take(trial, trial_shared, cost, better)
        damping = np.where(better, np.maximum(damping / 5, 1e-9), damping * 10)
        steps += better
        done = better & ((gain < enough_gain) | (steps >= iterations))
        active = active & ~done & (damping < _MOST_DAMPING)
        moved = better & active
    return Solution(work.frames, work.shared, work.cost)


def covariance_of_shared(problem: Problem, solution: Solution) -> FloatArray:
    """Covariance of the shared unknowns at a solution, (W, g, g); 0 for those held fixed."""
    work = _Work(problem, solution.frames, solution.shared)
    every = np.ones(len(problem.starts), dtype=bool)
    work.linearise(every)
    return work.covariance()


class _Work:
    """Where the windows are, and their normal equations there."""

    def __init__(self, problem: Problem, frames: FloatArray, shared: FloatArray) -> None:
        self.problem, self.frames, self.shared = problem, frames, shared
        count, unknowns = frames.shape
        self._free = np.flatnonzero(problem.prior_spread[0] > 0)
        self._window = np.zeros(count, dtype=np.int64)
        self._window[problem.starts[1:]] = 1
        self._window = np.cumsum(self._window)
        self._bend = _bends(problem.time_s, self._window, problem.tied_s)
        self._upper = 2 * unknowns if count > 2 else unknowns - 1
        self._band = np.zeros((self._upper + 1, count * unknowns))
        self._gradient = np.zeros((count, unknowns))
        self._border = np.zeros((count, unknowns, len(self._free)))
        self._corner = np.zeros((len(problem.starts), len(self._free), len(self._free)))
        self._corner_gradient = np.zeros((len(problem.starts), len(self._free)))
        self.cost = np.zeros(len(problem.starts))
        self.cost = self.cost_of(frames, shared, np.ones(len(problem.starts), dtype=bool))

    def _rows(self, windows: BoolArray) -> IntArray:
        rows: IntArray = np.flatnonzero(windows[self._window])
        return rows

    def cost_of(self, frames: FloatArray, shared: FloatArray, windows: BoolArray) -> FloatArray:
        """(W,) costs of the chosen windows, infinite elsewhere."""
        problem, rows = self.problem, self._rows(windows)
        of_frame = np.zeros(len(frames))
        of_frame[rows] = problem.cost(frames[rows], shared[self._window[rows]], rows)
        bend = self._bent(frames) / problem.acceleration
        of_frame += (bend * bend).sum(axis=1)
        cost = np.add.reduceat(of_frame, problem.starts)
        offset = (shared - problem.prior_mean)[:, self._free]
        offset = offset / problem.prior_spread[:, self._free]
        total: FloatArray = np.where(windows, cost + (offset * offset).sum(axis=1), np.inf)
        return total

    def _bent(self, frames: FloatArray) -> FloatArray:
        """(F, K) second derivatives, 0 at the ends of windows."""
        c = self._bend
        bent = c[:, 1:2] * frames
        bent[1:] += c[1:, :1] * frames[:-1]
        bent[:-1] += c[:-1, 2:] * frames[1:]
        return bent

    def linearise(self, windows: BoolArray) -> None:
        """Renew the normal equations of the chosen windows."""
        if not windows.any():
            return
        rows = self._rows(windows)
        frames, unknowns = self.frames[rows], self.frames.shape[1]
        normal = self.problem.normal(frames, self.shared[self._window[rows]], rows)
        band = self._band.reshape(self._upper + 1, -1, unknowns)
        place: IntArray | slice = slice(None) if len(rows) == len(self.frames) else rows
        band[self._upper, place] = 0.0
        for (i, j), values in normal.blocks.items():
            band[self._upper + i - j, place, j] = values
        self._gradient[rows] = normal.gradient.T
        self._border[rows] = normal.border[:, self._free].transpose(2, 0, 1)
        firsts = np.flatnonzero(np.diff(self._window[rows], prepend=-1))
        corner = np.add.reduceat(normal.shared[np.ix_(self._free, self._free)], firsts, axis=2)
        slope = np.add.reduceat(normal.shared_gradient[self._free], firsts, axis=1)
        inverse = self.problem.prior_spread[:, self._free][windows] ** -2.0
        self._corner[windows] = corner.transpose(2, 0, 1)
        diagonal = np.arange(len(self._free))
        self._corner[np.flatnonzero(windows)[:, None], diagonal, diagonal] += inverse
        offset = (self.shared - self.problem.prior_mean)[:, self._free][windows]
        self._corner_gradient[windows] = slope.T + inverse * offset
        self._smooth(rows)

    def _smooth(self, rows: IntArray) -> None:
        """Add the smoothness term to what was renewed in these rows."""
        if len(self.frames) < 3:
            return
        c, unknowns = self._bend, self.frames.shape[1]
        inverse = self.problem.acceleration**-2.0
        bent = self._bent(self.frames) * inverse
        gradient = c[:, 1:2] * bent
        gradient[:-1] += c[1:, :1] * bent[1:]
        gradient[1:] += c[:-1, 2:] * bent[:-1]
        self._gradient[rows] += gradient[rows]
        own = c[:, 1] ** 2
        own[:-1] += c[1:, 0] ** 2
        own[1:] += c[:-1, 2] ** 2
        next_one, next_but_one = np.zeros(len(c)), np.zeros(len(c))
        next_one[1:] = c[:-1, 1] * c[:-1, 2] + c[1:, 0] * c[1:, 1]
        next_but_one[2:] = c[1:-1, 0] * c[1:-1, 2]
        band = self._band.reshape(self._upper + 1, -1, unknowns)
        band[self._upper, rows] += own[rows, None] * inverse
        band[self._upper - unknowns, rows] = next_one[rows, None] * inverse
        band[self._upper - 2 * unknowns, rows] = next_but_one[rows, None] * inverse

    def step(
        self, windows: BoolArray, damping: FloatArray
    ) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Frame and shared unknowns after a damped step, and in which windows there is one."""
        rows, unknowns = self._rows(windows), self.frames.shape[1]
        columns = (rows[:, None] * unknowns + np.arange(unknowns)).ravel()
        some = self._band if windows.all() else self._band[:, columns]
        damped = some.copy(order="F")  # as LAPACK wants it
        damped[-1] *= 1 + np.repeat(damping[self._window[rows]], unknowns)
        damped[-1] += 1e-9
        border = self._border[rows].reshape(len(columns), -1)
        gradient = self._gradient[rows].reshape(-1, 1)
        right = np.concatenate([border, gradient], axis=1)
        frames, shared = self.frames.copy(), self.shared.copy()
        try:
            reduced = self._reduced(damped, right)
        except LinAlgError:
            return frames, shared, np.zeros_like(windows)
        firsts = np.flatnonzero(np.diff(self._window[rows], prepend=-1))
        edges = [*(firsts * unknowns), len(columns)]
        for window, first, last in zip(np.flatnonzero(windows), edges[:-1], edges[1:], strict=True):
            part, of_border = reduced[first:last], border[first:last]
            step = -part[:, -1]
            if len(self._free):
                corner = self._corner[window] - of_border.T @ part[:, :-1]
                corner = corner + np.diag(np.diag(self._corner[window]) * damping[window])
                rest = self._corner_gradient[window] - of_border.T @ part[:, -1]
                step_shared = -np.linalg.solve(corner, rest)
                shared[window, self._free] += step_shared
                step = step - part[:, :-1] @ step_shared
            frames[rows[first // unknowns : last // unknowns]] += step.reshape(-1, unknowns)
        return frames, shared, windows

    def _reduced(self, band: FloatArray, right: FloatArray) -> FloatArray:
        """Solve for the frames' own unknowns; both arrays may be overwritten."""
        if self._bend.any():
            return solve_banded(np.asfortranarray(band), right)
        # Frames apart from each other are many small systems, much cheaper than one band.
        unknowns = self.frames.shape[1]
        of_frames = band.reshape(self._upper + 1, -1, unknowns)
        blocks = np.empty((of_frames.shape[1], unknowns, unknowns))
        for column in range(unknowns):
            part = of_frames[self._upper - column : self._upper + 1, :, column].T
            blocks[:, : column + 1, column] = blocks[:, column, : column + 1] = part
        apart = np.linalg.solve(blocks, right.reshape(len(blocks), unknowns, -1))
        joined: FloatArray = apart.reshape(right.shape).astype(np.float64, copy=False)
        return joined

    def take(
        self, frames: FloatArray, shared: FloatArray, cost: FloatArray, windows: BoolArray
    ) -> None:
        """Go where the chosen windows have got better."""
        rows = self._rows(windows)
        self.frames[rows] = frames[rows]
        self.shared[windows] = shared[windows]
        self.cost = np.where(windows, cost, self.cost)

    def covariance(self) -> FloatArray:
        """(W, g, g) covariances of the shared unknowns."""
        count, free = self.shared.shape[0], self._free
        covariance = np.zeros((count, self.shared.shape[1], self.shared.shape[1]))
        if not len(free):
            return covariance
        unknowns = self.frames.shape[1]
        band = self._band.copy()
        band[-1] += 1e-9
        border = self._border.reshape(-1, len(free))
        reduced = self._reduced(band, border.copy())
        edges = [*(self.problem.starts * unknowns), len(border)]
        for window, first, last in zip(range(count), edges[:-1], edges[1:], strict=True):
            corner = self._corner[window] - border[first:last].T @ reduced[first:last]
            covariance[window][np.ix_(free, free)] = np.linalg.inv(corner)
        return covariance


def _bends(time_s: FloatArray, window: IntArray, tied_s: float) -> FloatArray:
    """(F, 3) coefficients of the second derivative, 0 at the ends of windows and where untied."""
    c = np.zeros((len(time_s), 3))
    if len(time_s) > 2:
        inner = (window[:-2] == window[2:]) & (time_s[2:] - time_s[:-2] <= tied_s)
        with np.errstate(divide="ignore", invalid="ignore"):
            c[1:-1][inner] = second_differences(time_s)[inner]
    return c
