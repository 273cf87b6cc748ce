"""Play a plan through many times: the distribution of the score, and the marks on the clock."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes, Rows
from counting.pacing.model.day import Noise, on_the_day
from counting.pacing.model.exertion import (
    Work,
    after_rep,
    after_rest,
    cycle_time_s,
    fresh,
    rep_cost,
    rest_until_able_s,
    success_probability,
    work_of,
)
from counting.pacing.model.reservoir import BoolArray, FloatArray
from counting.pacing.search.course import Course
from counting.pacing.search.plan import Plan

REST_NOISE: Final = 0.12
"""Spread (log scale) of rests about what was planned (common practice, no source)."""

SHORTEST_WAIT_S: Final = 15.0
LONGEST_WAIT_S: Final = 120.0
ABLE_MARGIN: Final = 1.25
"""After a failed rep the athlete waits until a single has this margin, within the two limits."""

LAST_TRY: Final = 60
"""Failed tries at one rep after which an athlete stays there."""


@dataclass(frozen=True)
class Forecast:
    """Outcome of ``n`` plays of one plan.

    Attributes
    ----------
    begin_s, rep_s
        Shape ``(n, R)``: clock at each rep's begin and end; infinite where not reached in time.
    cap_s
        The clock's end.
    before, after
        Shape ``(R, G + 1)``: mean reservoir levels when each rep begins and ends; NaN for reps that
        nobody reached.
    lowest
        Shape ``(S,)``: for each station, the mean of the lowest success probability of its reps.
    failing
        How many reps fail at their first try, on average over the plays.
    """

    begin_s: FloatArray
    rep_s: FloatArray
    cap_s: float
    before: FloatArray
    after: FloatArray
    lowest: FloatArray
    failing: float

    @property
    def reps(self) -> FloatArray:
        """Reps done by the cap, shape ``(n,)``."""
        done: FloatArray = np.sum(self.rep_s <= self.cap_s, axis=1).astype(np.float64)
        return done

    def clock_at(self, rep: int) -> FloatArray:
        """Clock at the end of a rep (from 1), shape ``(n,)``; infinite where not reached."""
        return self.rep_s[:, rep - 1]

    def score(self, course: Course) -> FloatArray:
        """One number a play, larger is better: reps, then the finish or the tie-break time.

        Reps are whole numbers; times only break ties among them (both together less than one rep).
        Where nearly all plays finish, the finishing time decides.
        """
        value = self.reps.copy()
        if course.finishing:
            value += 0.9 * np.maximum(1.0 - self.rep_s[:, -1] / self.cap_s, 0.0)
        if course.tie_break_rep is not None:
            clock = self.clock_at(course.tie_break_rep)
            value += 0.09 * np.maximum(1.0 - clock / self.cap_s, 0.0)
        return value


@dataclass
class _Play:
    """State of all plays while they run."""

    athletes: Athletes
    clock_s: FloatArray
    levels: FloatArray
    spent: FloatArray
    random: np.random.Generator
    scale: float
    cap_s: float

    def rest(self, rest_s: FloatArray) -> None:
        self.levels, self.spent = after_rest(self.athletes, self.levels, self.spent, rest_s)
        self.clock_s = self.clock_s + rest_s


def forecast(
    athletes: Athletes,
    course: Course,
    plan: Plan,
    seed: int,
    noise: Noise | None = None,
    *,
    levels_kept: bool = True,
) -> Forecast:
    """Play a plan once for each athlete of the batch.

    Parameters
    ----------
    athletes
        Draws of the parameters; both forms may be mixed.
    plan
        One stint a station.
    seed
        The same seed gives the same chances rep for rep, so that plans are compared under equal
        luck.
    levels_kept
        Whether reservoir levels are averaged rep by rep; without, they are NaN.

    Raises
    ------
    ValueError
        The plan does not hold one stint with the right reps for each station.
    """
    if [stint.reps for stint in plan] != [station.reps for station in course.stations]:
        raise ValueError("the plan's reps are not those of the workout's stations")
    noise = noise or Noise()
    random = np.random.default_rng(seed)
    count = len(athletes)
    athletes = on_the_day(athletes, random, noise.scale * noise.form_of_day)
    rep_chance = random.standard_normal((course.reps, count))
    rest_chance = random.standard_normal((course.reps, count))
    success_chance = random.random((course.reps, count))
    levels, spent = fresh(count, athletes)
    play = _Play(athletes, np.zeros(count), levels, spent, random, noise.scale, course.cap_s)
    begin_s, rep_s = np.full((2, count, course.reps), np.inf)
    before, after = np.full((2, course.reps, levels.shape[1]), np.nan)
    lowest = np.ones(len(course.stations))
    number, failing = 0, 0.0
    for place, (station, stint) in enumerate(zip(course.stations, plan, strict=True)):
        work = work_of(athletes, station.movement)
        shortest_s = athletes.shortest_break_s[:, athletes.column(station.movement)]
        between = athletes.transition_s if place else np.zeros(count)
        planned_s = np.maximum(between, station.fixed_rest_s) + stint.rest_before_s
        play.spent = np.zeros(count)
        pace = stint.effort * np.ones(count)
        for size, rest_after_s in zip(stint.sets, (*stint.rests_s, 0.0), strict=True):
            for in_set in range(size):
                if in_set == 0:
                    jitter = np.exp(noise.scale * REST_NOISE * rest_chance[number])
                    wait_s = np.maximum(planned_s * jitter, station.fixed_rest_s if place else 0.0)
                    play.rest(np.maximum(wait_s, station.not_before_s - play.clock_s))
                running = play.clock_s <= course.cap_s
                if not np.any(running):
                    return Forecast(begin_s, rep_s, course.cap_s, before, after, lowest, failing)
                begin_s[running, number] = play.clock_s[running]
                if levels_kept:
                    before[number] = np.mean(play.levels[running], axis=0)
                rhythm = np.exp(noise.scale * athletes.rhythm_noise * rep_chance[number])
                chance = _rep(play, work, pace, rhythm, success_chance[number])
                failing += float(np.mean(np.where(running, 1.0 - chance, 0.0)))
                lowest[place] = min(lowest[place], float(np.mean(chance[running])))
                rep_s[:, number] = np.where(play.clock_s <= course.cap_s, play.clock_s, np.inf)
                if levels_kept:
                    after[number] = np.mean(play.levels[running], axis=0)
                number += 1
            planned_s = np.maximum(rest_after_s, shortest_s)
            station = replace(station, fixed_rest_s=0.0, not_before_s=0.0)
    return Forecast(begin_s, rep_s, course.cap_s, before, after, lowest, failing)


def _rep(
    play: _Play, work: Work, pace: FloatArray, rhythm: FloatArray, luck: FloatArray
) -> FloatArray:
    """Do one rep, again after a wait where it failed; returns the first try's chances."""
    cost = rep_cost(work, play.spent)
    first_chance = success_probability(work, play.levels, cost)
    time_s = cycle_time_s(work, play.levels, pace) * rhythm
    play.levels = after_rep(play.athletes, work, play.levels, cost, time_s)
    play.spent = play.spent + 1.0
    play.clock_s = play.clock_s + time_s
    failed = luck > first_chance if play.scale else first_chance < 0.5
    failed &= play.clock_s <= play.cap_s
    for _ in range(LAST_TRY):
        if not failed.any():
            return first_chance
        rows = np.flatnonzero(failed)
        failed[rows] = _try_again(play, work, rows, pace, rhythm)
    play.clock_s = np.where(failed, np.inf, play.clock_s)
    return first_chance


def _try_again(
    play: _Play, work: Work, rows: Rows, pace: FloatArray, rhythm: FloatArray
) -> BoolArray:
    """Wait and try once more in some rows; returns which of them failed and still have time."""
    athletes = play.athletes.take(rows)
    own = work_of_rows(work, rows)
    wait_s = rest_until_able_s(athletes, own, play.levels[rows], ABLE_MARGIN)
    wait_s = np.clip(wait_s, SHORTEST_WAIT_S, LONGEST_WAIT_S)
    levels, spent = after_rest(athletes, play.levels[rows], play.spent[rows], wait_s)
    cost = rep_cost(own, spent)
    chance = success_probability(own, levels, cost)
    time_s = cycle_time_s(own, levels, pace[rows]) * rhythm[rows]
    play.levels[rows] = after_rep(athletes, own, levels, cost, time_s)
    play.spent[rows] = 1.0
    play.clock_s[rows] += wait_s + time_s
    failed = play.random.random(len(athletes)) > chance if play.scale else chance < 0.5
    still: BoolArray = failed & (play.clock_s[rows] <= play.cap_s)
    return still


def work_of_rows(work: Work, rows: Rows) -> Work:
    """Take the rows of a movement made ready."""
    return replace(
        work,
        **{
            name: value[rows] for name, value in vars(work).items() if name not in ("loads", "used")
        },
    )
