"""Play plans through many times: the distribution of the score, and the marks on the clock."""

from collections.abc import Iterator, Sequence
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
    levels_of,
    rep_cost,
    rest_until_able_s,
    rested,
    success_probability,
    work_of,
)
from counting.pacing.model.reservoir import BoolArray, FloatArray
from counting.pacing.search.course import Course
from counting.pacing.search.plan import Plan, Stint

REST_NOISE: Final = 0.12
"""Spread (log scale) of rests about what was planned (common practice, no source)."""

SHORTEST_WAIT_S: Final = 15.0
LONGEST_WAIT_S: Final = 120.0
ABLE_MARGIN: Final = 1.25
"""After a failed rep the athlete waits until a single has this margin, within the two limits."""

LAST_TRY: Final = 61
"""Tries at one rep after which an athlete stays there."""

EVEN_CHANCE: Final = 0.5 - 1e-9
"""Without chance a rep goes when it is as likely as not; sums of shares are not exact."""

TRIES_KEPT: Final = 16
"""Luck of second and later tries is drawn for so many, and then comes round again."""


@dataclass(frozen=True)
class Forecast:
    """Outcome of ``n`` plays of one plan.

    Attributes
    ----------
    begin_s, rep_s
        Shape ``(n, R)``: clock at each rep's begin and end; infinite where the rep was not done by
        its deadline or the cap.
    cap_s
        The clock's end.
    before, after
        Shape ``(R, G + 1)``: mean reservoir levels when each rep begins and ends; NaN for reps that
        nobody reached, and where levels were not asked for.
    chance
        Shape ``(R,)``: mean probability that each rep goes at its first try; NaN where nobody
        reached it.
    failing
        Shape ``(n,)``: how many reps fail at their first try.
    refused
        Shape ``(n,)``: how many tries go but do not count.
    scored
        Shape ``(R,)``: which reps are part of the score.
    """

    begin_s: FloatArray
    rep_s: FloatArray
    cap_s: float
    before: FloatArray
    after: FloatArray
    chance: FloatArray
    failing: FloatArray
    refused: FloatArray
    scored: BoolArray

    @property
    def reps(self) -> FloatArray:
        """Reps of the score done in time, shape ``(n,)``."""
        done: FloatArray = np.sum(np.isfinite(self.rep_s[:, self.scored]), axis=1)
        return done.astype(np.float64)

    def clock_at(self, rep: int) -> FloatArray:
        """Clock at the end of a rep (from 1), shape ``(n,)``; infinite where not reached."""
        return self.rep_s[:, rep - 1]

    def take(self, rows: Rows) -> "Forecast":
        """Take some of the plays; means over plays stay those of all."""
        return replace(
            self,
            begin_s=self.begin_s[rows],
            rep_s=self.rep_s[rows],
            failing=self.failing[rows],
            refused=self.refused[rows],
        )


@dataclass
class _Play:
    """State of all plays while they run."""

    athletes: Athletes
    clock_s: FloatArray
    missing: FloatArray
    spent: FloatArray
    failing: FloatArray
    refused: FloatArray
    luck_again: FloatArray
    scale: float
    cap_s: float
    most_tries: int

    def rest(self, rest_s: FloatArray) -> None:
        self.missing, self.spent = after_rest(self.athletes, self.missing, self.spent, rest_s)
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
    """Play one plan once for each athlete of the batch; see `forecasts`."""
    return forecasts(athletes, course, [plan], seed, noise, levels_kept=levels_kept)[0]


def forecasts(
    athletes: Athletes,
    course: Course,
    plans: Sequence[Plan],
    seed: int,
    noise: Noise | None = None,
    *,
    levels_kept: bool = False,
) -> list[Forecast]:
    """Play several plans, each once for each athlete of the batch.

    Parameters
    ----------
    athletes
        Draws of the parameters; forms may be mixed.
    plans
        One stint a station each.
    seed
        The same seed gives the same chances rep for rep, so that plans are compared under equal
        luck.
    levels_kept
        Whether reservoir levels are averaged rep by rep, over the plays of the first plan.

    Raises
    ------
    ValueError
        A plan does not hold one stint with the right reps for each station.
    """
    wanted = [station.reps for station in course.stations]
    if any([stint.reps for stint in plan] != wanted for plan in plans):
        raise ValueError("the plan's reps are not those of the workout's stations")
    noise = noise or Noise()
    random = np.random.default_rng(seed)
    count, many = len(athletes), len(plans)
    athletes = on_the_day(athletes, random, noise.scale * noise.form_of_day)
    chances = [
        random.standard_normal((2, course.reps, count)),
        random.random((2, course.reps, count)),
    ]
    (rhythm_chance, rest_chance), (success_chance, refused_chance) = (
        np.tile(part, (1, 1, many)) for part in chances
    )
    every = athletes.take(np.tile(np.arange(count), many)) if many > 1 else athletes
    missing, spent = fresh(every)
    luck_again = np.tile(random.random((2, TRIES_KEPT, count)), (1, 1, many))
    clock_s, failing, refused = np.zeros((3, count * many))
    play = _Play(
        every,
        clock_s,
        missing,
        spent,
        failing,
        refused,
        luck_again,
        noise.scale,
        course.cap_s,
        1 if course.one_try else LAST_TRY,
    )
    begin_s, rep_s = np.full((2, course.reps, count * many), np.inf)
    before, after = np.full((2, course.reps, missing.shape[1]), np.nan)
    chance_of = np.full((many, course.reps), np.nan)
    columns = _columns(course, plans, every, count)
    scored = course.scored_reps
    for number, (step, luck) in enumerate(zip(columns, rest_chance, strict=True)):
        if step.opening:
            play.spent = np.zeros(count * many)
        last_s = min(step.deadline_s, course.cap_s)
        if step.rests.any():
            jitter = np.exp(noise.scale * REST_NOISE * luck)
            rest_s = np.maximum(step.rest_s * jitter, step.least_s)
            rest_s = np.maximum(rest_s, step.not_before_s - play.clock_s)
            # Whom the deadline stopped waits there: no way leads to work that is left out.
            left_s = np.maximum(last_s - play.clock_s, 0.0)
            play.rest(np.where(step.rests, np.minimum(rest_s, left_s), 0.0))
        running = play.clock_s < last_s
        if not np.any(running):
            if np.isinf(step.deadline_s) or step.deadline_s >= course.cap_s:
                break
            continue
        begin_s[number] = np.where(running, play.clock_s, np.inf)
        if levels_kept:
            before[number] = np.mean(levels_of(play.missing)[:, :count][:, running[:count]], axis=1)
        rhythm = np.exp(noise.scale * every.rhythm_noise * rhythm_chance[number])
        lucky = (success_chance[number], refused_chance[number])
        if isinstance(step.work, Work):
            chance, done = _rep(play, step, step.work, rhythm, lucky, running)
        else:
            chance, done = _timed(play, step.work * rhythm, running), running
        in_time = running & (play.clock_s <= last_s)
        rep_s[number] = np.where(in_time & done, play.clock_s, np.inf)
        stopped = running & ~in_time & np.isfinite(step.deadline_s)
        play.clock_s = np.where(stopped, step.deadline_s, play.clock_s)
        with np.errstate(invalid="ignore"):
            each = running.reshape(many, count)
            shared = np.sum(np.where(running, chance, 0.0).reshape(many, count), axis=1)
            chance_of[:, number] = shared / np.sum(each, axis=1)
        if levels_kept:
            after[number] = np.mean(levels_of(play.missing)[:, :count][:, running[:count]], axis=1)
    return [
        Forecast(
            begin_s[:, own].T,
            rep_s[:, own].T,
            course.cap_s,
            before,
            after,
            chance_of[index],
            play.failing[own],
            play.refused[own],
            scored,
        )
        for index, own in enumerate(slice(i * count, (i + 1) * count) for i in range(many))
    ]


@dataclass(frozen=True)
class _Column:
    """One rep of the course for all plays: what precedes it, and what it is.

    ``rests`` says which plays put the hands off before it, for ``rest_s`` but at least
    ``least_s``; ``effort`` is the share of full pace; ``miss_s`` what it costs beside if it does
    not count. Shapes ``(K n,)``. ``work`` may be seconds: work without reps.
    """

    opening: bool
    rests: BoolArray
    rest_s: FloatArray
    least_s: float
    not_before_s: float
    deadline_s: float
    work: Work | float
    refused: FloatArray
    effort: FloatArray
    miss_s: float


def _columns(
    course: Course, plans: Sequence[Plan], athletes: Athletes, count: int
) -> Iterator[_Column]:
    works: dict[tuple[str, float | None], Work] = {}
    for place, station in enumerate(course.stations):
        work: Work | float
        if station.timed_s is not None:
            work, refused = station.timed_s, np.zeros(len(athletes))
            shortest_s = refused
        else:
            if station.kind not in works:
                works[station.kind] = work_of(athletes, *station.kind)
            work = works[station.kind]
            column = athletes.column(station.movement)
            shortest_s = athletes.shortest_break_s[:, column]
            refused = athletes.refused[:, column]
        stints = [plan[place] for plan in plans]
        effort = np.repeat([stint.effort for stint in stints], count)
        starts = [_set_starts(stint) for stint in stints]
        for rep in range(station.reps):
            opening = rep == 0
            if opening:
                first_s = athletes.transition_s if place else np.zeros(len(athletes))
                waited_s = np.repeat([stint.rest_before_s for stint in stints], count)
                rest_s = np.maximum(first_s, station.fixed_rest_s) + waited_s
                waits = bool(place) or station.fixed_rest_s > 0 or bool(np.any(waited_s > 0))
                rests = np.full(len(athletes), waits)
            else:
                planned = np.repeat([own.get(rep, -1.0) for own in starts], count)
                rests, rest_s = planned >= 0, np.maximum(planned, shortest_s)
            yield _Column(
                opening=opening,
                rests=rests,
                rest_s=rest_s,
                least_s=station.fixed_rest_s if opening else 0.0,
                not_before_s=station.not_before_s if opening else 0.0,
                deadline_s=station.deadline_s,
                work=work,
                refused=refused,
                effort=effort,
                miss_s=course.miss_more_s,
            )


def _set_starts(stint: Stint) -> dict[int, float]:
    """Rest before each rep that opens a set, by its number in the station from 0."""
    ends = np.cumsum(stint.sets)[:-1]
    return dict(zip(ends.tolist(), stint.rests_s, strict=True))


def _timed(play: _Play, time_s: FloatArray, running: BoolArray) -> FloatArray:
    """Do work without reps: muscles recover as at rest, the whole body does not."""
    time_s = np.where(running, time_s, 0.0)
    whole = play.missing[:, -1]
    play.missing = rested(play.athletes, play.missing, time_s)
    play.missing[:, -1] = whole
    play.spent = np.where(running, 0.0, play.spent)
    play.clock_s = play.clock_s + time_s
    return np.ones(len(time_s))


def _rep(
    play: _Play,
    step: _Column,
    work: Work,
    rhythm: FloatArray,
    luck: tuple[FloatArray, FloatArray],
    running: BoolArray,
) -> tuple[FloatArray, BoolArray]:
    """Do one rep until it counts, or once; returns the first try's chances and whether it counts.

    Who never gets it done stays there, but where there is only one try.
    """
    cost = rep_cost(work, play.spent)
    levels = levels_of(play.missing)
    chance = success_probability(work, levels, cost)
    time_s = cycle_time_s(work, levels, step.effort) * rhythm
    after = after_rep(play.athletes, work, play.missing, cost, time_s)
    play.missing = after if running.all() else np.where(running, after, play.missing)
    play.spent = play.spent + running
    play.clock_s = play.clock_s + np.where(running, time_s, 0.0)
    failed = running & (luck[0] > chance if play.scale else chance < EVEN_CHANCE)
    refused = running & ~failed & (luck[1] < step.refused if play.scale else step.refused > 0.5)
    play.failing += failed
    play.refused += refused
    last_s = min(step.deadline_s, play.cap_s)
    for number in range(play.most_tries - 1):
        again = (failed | refused) & (play.clock_s <= last_s)
        if not again.any():
            break
        rows = np.flatnonzero(again)
        failed[rows], refused[rows] = _try_again(
            play,
            step,
            work_of_rows(work, rows),
            rows,
            rhythm,
            failed[rows],
            play.luck_again[:, number % TRIES_KEPT, rows],
        )
    missed = failed | refused
    if play.most_tries > 1:
        play.clock_s = np.where(missed, np.inf, play.clock_s)
    return chance, ~missed


def _try_again(
    play: _Play,
    step: _Column,
    work: Work,
    rows: Rows,
    rhythm: FloatArray,
    failed: BoolArray,
    luck: FloatArray,
) -> tuple[BoolArray, BoolArray]:
    """Try once more in some rows, after a wait where the rep failed for want of strength.

    Returns
    -------
    Which of them failed again, and which were refused.
    """
    athletes = play.athletes.take(rows)
    missing = play.missing[:, :, rows]
    wait_s = rest_until_able_s(athletes, work, missing, ABLE_MARGIN, LONGEST_WAIT_S)
    wait_s = np.where(failed, np.maximum(wait_s, SHORTEST_WAIT_S), 0.0)
    wait_s = wait_s + step.miss_s
    missing, spent = after_rest(athletes, missing, play.spent[rows], wait_s)
    cost = rep_cost(work, spent)
    levels = levels_of(missing)
    chance = success_probability(work, levels, cost)
    time_s = cycle_time_s(work, levels, step.effort[rows]) * rhythm[rows]
    play.missing[:, :, rows] = after_rep(athletes, work, missing, cost, time_s)
    play.spent[rows] = np.where(failed, 1.0, spent + 1.0)
    play.clock_s[rows] += wait_s + time_s
    again = luck[0] > chance if play.scale else chance < EVEN_CHANCE
    refused = ~again & (luck[1] < step.refused[rows] if play.scale else step.refused[rows] > 0.5)
    play.refused[rows] += refused
    return again, refused


def work_of_rows(work: Work, rows: Rows) -> Work:
    """Take the rows of a movement made ready."""
    return replace(
        work,
        **{
            name: value[rows] for name, value in vars(work).items() if name not in ("loads", "used")
        },
    )
