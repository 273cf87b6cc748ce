"""Search plans by dynamic programming over place in the workout, reservoirs, clock and tie-break.

One athlete without chance; a rep that may fail costs its expected time and strength. Wherever a
decision is taken, the states reached are sorted into the cells of a grid, and of each cell the
earliest state is kept as it is, unrounded, so that no rounding can be exploited and the value found
is that of the plan. Where cells are so small that each holds one state, the search is exact.
Endurance is a step function of the plan, so nothing here follows a gradient.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.exertion import (
    Work,
    after_rep,
    after_rest,
    cycle_time_s,
    rep_cost,
    success_probability,
    work_of,
)
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.course import Course
from counting.pacing.search.forecast import SHORTEST_WAIT_S
from counting.pacing.search.options import RESTS_S, Chunk, Option, chunks_of
from counting.pacing.search.plan import Plan, Stint

IntArray = npt.NDArray[np.int64]

LEAST_CHANCE: Final = 0.6
"""A rep with a smaller chance is not planned."""


@dataclass(frozen=True)
class Grid:
    """Cells of the state: width in the reservoirs (shares) and in the tie-break time."""

    level: float = 1 / 16
    tie_break_s: float = 12.0


@dataclass(frozen=True)
class Labels:
    """States reached at one place, none of which another one beats.

    Shapes: ``levels`` (n, G + 1); ``spent``, ``clock_s``, ``tie_break_s``, ``parent`` (row before),
    ``option`` all (n,). The tie-break time is infinite until it is passed.
    """

    levels: FloatArray
    spent: FloatArray
    clock_s: FloatArray
    tie_break_s: FloatArray
    parent: IntArray
    option: IntArray


@dataclass(frozen=True)
class Found:
    """The best plan of the discretised model and its value there (see `value_of`)."""

    plan: Plan
    value: float


def value_of(
    course: Course, reps: FloatArray, clock_s: FloatArray, tie_break_s: FloatArray
) -> FloatArray:
    """Value of an end: reps done, then the finish, then the tie-break time (as in `Forecast`)."""
    value = reps.astype(np.float64)
    if course.finishing:
        finished = reps >= course.reps
        value += np.where(finished, 0.9 * np.maximum(1.0 - clock_s / course.cap_s, 0.0), 0.0)
    if course.tie_break_rep is not None:
        value += 0.09 * np.maximum(1.0 - tie_break_s / course.cap_s, 0.0)
    return value


@dataclass(frozen=True)
class Step:
    """All options of one chunk played from all labels: arrays of shape ``(options * n,)``."""

    labels: Labels
    reps_in_time: FloatArray
    possible: npt.NDArray[np.bool_]


def played(course: Course, chunk: Chunk, athlete: Athletes, labels: Labels) -> Step:
    """Play every option of a chunk from every label; reservoirs no longer needed count as full."""
    station, options = course.stations[chunk.station], chunk.options
    work, count = work_of(athlete, station.movement), labels.clock_s.size
    parent = np.tile(np.arange(count), len(options))
    option = np.repeat(np.arange(len(options)), count)
    shortest_s = float(athlete.shortest_break_s[0, athlete.column(station.movement)])
    begins = chunk.station > 0 or not chunk.opening
    base_s = (float(athlete.transition_s[0]) if chunk.opening else shortest_s) if begins else 0.0
    fixed_s = station.fixed_rest_s if chunk.opening else 0.0
    wait_s = np.array([choice.wait_s for choice in options])[option] + max(base_s, fixed_s)
    clock_s = labels.clock_s[parent]
    if chunk.opening:
        wait_s = np.maximum(wait_s, station.not_before_s - clock_s)
    effort = np.array([choice.effort for choice in options])[option]
    rest_after = np.array([_rests_after(choice, shortest_s) for choice in options])[option]
    spent = np.zeros(parent.size) if chunk.opening else labels.spent[parent]
    levels, spent = after_rest(athlete, labels.levels[parent], spent, wait_s)
    clock_s = clock_s + wait_s
    tie_break_s = labels.tie_break_s[parent].copy()
    in_time, possible = np.zeros(parent.size), np.ones(parent.size, dtype=np.bool_)
    for number in range(chunk.reps):
        levels, spent, clock_s, able = _expected_rep(athlete, work, levels, spent, clock_s, effort)
        possible &= able
        in_time += possible & (clock_s <= course.cap_s)
        if course.tie_break_rep == chunk.first_rep + number + 1:
            tie_break_s = np.where(possible, clock_s, tie_break_s)
        if number < chunk.reps - 1 and np.any(rest_after[:, number] > 0):
            resting = rest_after[:, number]
            rested, faded = after_rest(athlete, levels, spent, resting)
            levels = np.where(resting[:, None] > 0, rested, levels)
            spent = np.where(resting > 0, faded, spent)
            clock_s = clock_s + resting
    levels = np.where(chunk.relevant, levels, 1.0)
    return Step(Labels(levels, spent, clock_s, tie_break_s, parent, option), in_time, possible)


def _rests_after(option: Option, shortest_s: float) -> list[float]:
    rests: list[float] = []
    for size in option.sets:
        rests += [0.0] * (size - 1) + [shortest_s + option.rest_s]
    return rests


def _expected_rep(
    athlete: Athletes,
    work: Work,
    levels: FloatArray,
    spent: FloatArray,
    clock_s: FloatArray,
    effort: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    cost = rep_cost(work, spent)
    chance = success_probability(work, levels, cost)
    time_s = cycle_time_s(work, levels, effort)
    able = chance >= LEAST_CHANCE
    again = 1.0 / np.maximum(chance, LEAST_CHANCE) - 1.0
    levels = after_rep(athlete, work, levels, cost * (1.0 + again), time_s)
    levels, _ = after_rest(athlete, levels, spent, again * SHORTEST_WAIT_S)
    clock_s = clock_s + time_s + again * (time_s + SHORTEST_WAIT_S)
    return levels, spent + 1.0, clock_s, able


def best_plan(course: Course, athlete: Athletes, grid: Grid | None = None) -> Found:
    """Find the best plan for one athlete.

    Parameters
    ----------
    course
        The workout.
    athlete
        A batch of one.
    grid
        The discretisation; the default loses a second or two of twelve minutes.

    Returns
    -------
    The plan with the greatest value. Stations the athlete cannot reach, or not do, are planned as
    singles with rests.
    """
    grid = grid or Grid()
    chunks = chunks_of(course, athlete)
    start = Labels(
        levels=np.ones((1, len(athlete.groups) + 1)),
        spent=np.zeros(1),
        clock_s=np.zeros(1),
        tie_break_s=np.full(1, np.inf),
        parent=np.zeros(1, dtype=np.int64),
        option=np.zeros(1, dtype=np.int64),
    )
    trail: list[Labels] = [start]
    best: tuple[float, int, int, int] = (-np.inf, 0, 0, 0)
    for depth, chunk in enumerate(chunks):
        labels = trail[-1]
        step = played(course, chunk, athlete, labels)
        ended = step.labels
        value = value_of(
            course, chunk.first_rep + step.reps_in_time, ended.clock_s, ended.tie_break_s
        )
        top = int(np.argmax(value))
        if value[top] > best[0]:
            best = (float(value[top]), depth, int(ended.parent[top]), int(ended.option[top]))
        going = step.possible & (ended.clock_s < course.cap_s)
        if not going.any():
            break
        trail.append(_unbeaten(ended, going, grid))
    value_found, depth, parent, option = best
    chosen = [chunks[depth].options[option]]
    for place in range(depth, 0, -1):
        label = trail[place]
        chosen.append(chunks[place - 1].options[int(label.option[parent])])
        parent = int(label.parent[parent])
    return Found(_as_plan(course, chunks, chosen[::-1], athlete), value_found)


def _unbeaten(labels: Labels, going: npt.NDArray[np.bool_], grid: Grid) -> Labels:
    """Keep one label for each state, and none that another one equals or beats in everything."""
    rows = np.flatnonzero(going)
    passed = np.isfinite(labels.tie_break_s[rows])
    tie_break_s = np.where(passed, labels.tie_break_s[rows], 0.0)
    cells = np.column_stack([labels.levels[rows] / grid.level, tie_break_s / grid.tie_break_s])
    order = np.lexsort((labels.clock_s[rows], *np.floor(cells).T))
    sorted_cells = np.floor(cells)[order]
    first = np.ones(order.size, dtype=np.bool_)
    first[1:] = np.any(sorted_cells[1:] != sorted_cells[:-1], axis=1)
    chosen = order[first]
    rows = rows[chosen]
    measures = np.column_stack([labels.clock_s[rows], tie_break_s[chosen], -labels.levels[rows]])
    rows = rows[_undominated(measures)]
    return Labels(
        labels.levels[rows],
        labels.spent[rows],
        labels.clock_s[rows],
        labels.tie_break_s[rows],
        labels.parent[rows],
        labels.option[rows],
    )


def _undominated(measures: FloatArray, block: int = 128) -> IntArray:
    """Rows that no other row equals or undercuts in all columns (smaller is better)."""
    order = np.lexsort(measures.T[::-1])
    kept = np.empty((0, measures.shape[1]))
    rows: list[IntArray] = []
    for begin in range(0, order.size, block):
        batch = order[begin : begin + block]
        values = measures[batch]
        if kept.size:
            beaten = np.any(np.all(kept[None] <= values[:, None], axis=2), axis=1)
            batch, values = batch[~beaten], values[~beaten]
        among = np.all(values[None] <= values[:, None], axis=2)
        np.fill_diagonal(among, val=False)
        earlier = np.tril(among, -1)
        batch = batch[~np.any(earlier, axis=1)]
        kept = np.vstack([kept, measures[batch]])
        rows.append(batch)
    return np.concatenate(rows)


def _as_plan(
    course: Course, chunks: Sequence[Chunk], chosen: Sequence[Option], athlete: Athletes
) -> Plan:
    """Join the decisions on chunks to stints; stations beyond the decisions become singles."""
    stints: list[Stint] = []
    for index, station in enumerate(course.stations):
        shortest_s = float(athlete.shortest_break_s[0, athlete.column(station.movement)])
        own = [
            choice for chunk, choice in zip(chunks, chosen, strict=False) if chunk.station == index
        ]
        sets: list[int] = []
        rests: list[float] = []
        for number, choice in enumerate(own):
            if number:
                rests.append(shortest_s + choice.wait_s)
            sets += choice.sets
            rests += [shortest_s + choice.rest_s] * (len(choice.sets) - 1)
        missing = station.reps - sum(sets)
        if missing:
            rests += [shortest_s + RESTS_S[-1]] * (missing - (0 if sets else 1))
            sets += [1] * missing
        wait_s = own[0].wait_s if own and index else 0.0
        effort = own[0].effort if own else 1.0
        stints.append(Stint(tuple(sets), tuple(rests), wait_s, effort))
    return tuple(stints)
