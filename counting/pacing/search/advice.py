"""From a fitted athlete to advice: one plan, what equals it, and the price of departing."""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes, Form, Rows
from counting.pacing.model.fit import AthleteFit
from counting.pacing.model.refusals import LEAST_TOLD, Refusals, refusals_of
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.best import TIE_BREAK_NOISE, Rated, Table, search
from counting.pacing.search.course import Course
from counting.pacing.search.departures import (
    departures,
    hurried_from,
    plan_words,
    smaller_from,
)
from counting.pacing.search.forecast import Forecast, forecast
from counting.pacing.search.plan import Plan
from counting.pacing.search.schemes import Limits, limits_of, neighbours
from counting.pacing.search.utility import Target

SEARCH_DRAWS: Final = 128
LEAST_SEARCH_DRAWS: Final = 40
SEARCHED_REPS: Final = 16_000
"""Draws in the search: fewer the more reps each plays, whose luck then evens out."""

COMPARED_DRAWS: Final = 500
COMPARED: Final = 10
"""The best and the simplest of the search are played anew by more draws, so that none is chosen
for its luck."""

LUCK: Final = 0
"""Seed of the luck under which plans are sought."""

FORECAST_DRAWS: Final = 1000
MOST_EQUALS: Final = 5
CHECKPOINTS: Final = (1 / 3, 2 / 3)
"""Where being behind is told, as shares of the usual time."""

BEHIND_SHARE: Final = 0.3
"""Being behind is told for the latest share of plays at a checkpoint."""

BAD_DAY: Final = 0.85
"""Share of the usual capacity on a bad day (common practice, no source)."""


@dataclass(frozen=True)
class Price:
    """What a departure from the plan costs; positive is a loss.

    ``reps`` and ``time_s`` are means over equal-luck plays; ``time_s`` is of the finish, or of the
    tie-break where the work is rarely finished, None where neither exists. ``worse`` is the share
    of plays in which the departure ranks lower; ``equal`` whether it is within the noise;
    ``failing`` how many more reps fail; ``reached`` the probability of the target under the
    departure, None without one.
    """

    words: str
    movement: str | None
    reps: float
    time_s: float | None
    worse: float
    equal: bool
    failing: float
    reached: float | None


@dataclass(frozen=True)
class Behind:
    """What to do for an athlete who passes a checkpoint later than most.

    ``place`` is the station whose end is the mark, ``later_than_s`` the clock there; ``hurry`` and
    ``smaller`` price shortest rests and smaller sets from there on, in the late plays alone.
    """

    place: int
    later_than_s: float
    hurry: Price | None
    smaller: Price | None


@dataclass(frozen=True)
class Correction:
    """What it would be worth to have no more reps of a movement refused."""

    seen: Refusals
    price: Price


@dataclass(frozen=True)
class Advice:
    """All that a plan card tells.

    ``by_form`` plays the chosen plan under each form of the model alone. ``most_reps`` prices the
    plan with the most reps where it is another one. ``bad_day`` is the plan for a weaker day.
    """

    course: Course
    fit: AthleteFit
    limits: Limits
    target: Target | None
    chosen: Plan
    forecast: Forecast
    by_form: dict[Form, Forecast]
    equals: tuple[Rated, ...]
    prices: tuple[Price, ...]
    most_reps: Price | None
    behind: tuple[Behind, ...]
    bad_day: Rated
    corrections: tuple[Correction, ...]


def advise(fit: AthleteFit, course: Course, target: Target | None = None, seed: int = 0) -> Advice:
    """Search, compare and price plans for an athlete.

    Parameters
    ----------
    fit
        The athlete; its movements include the course's.
    course
        The workout.
    target
        Ranks plans by the probability of reaching it instead of the expected score.
    seed
        Of the forecast. Plans are sought under one luck, so that no other seed gives another plan.
    """
    limits = limits_of(course, fit.known, fit.draws(FORECAST_DRAWS, LUCK))
    many = fit.draws(FORECAST_DRAWS, seed + 1)
    count = int(np.clip(SEARCHED_REPS // _usual_reps(course), LEAST_SEARCH_DRAWS, SEARCH_DRAWS))
    sketch = Table(course, fit.draws(count, LUCK), limits, fit.noise, LUCK, target)
    search(sketch)
    compared = COMPARED_DRAWS * count // SEARCH_DRAWS
    table = Table(
        course, fit.draws(compared, LUCK + 1), limits, fit.noise, LUCK + 1, target, sketch.scale
    )
    table.rate(item.scheme for item in (*sketch.rated[:COMPARED], *sketch.equals()[:COMPARED]))
    chosen = _chosen(table)
    equals: dict[str, Rated] = {}
    for item in (chosen, *table.equals()):
        equals.setdefault(plan_words(course, item.plan), item)
    price = _Prices(table, chosen)
    prices = [
        price.of(item.plan, item.words, item.movement)
        for item in departures(course, chosen.scheme, limits)
    ]
    by_form = {
        form.form: forecast(form.draws, course, chosen.plan, seed + 1, fit.noise, levels_kept=False)
        for form in fit.forms
    }
    most = max(table.rated, key=lambda item: float(np.mean(item.played.reps)))
    return Advice(
        course=course,
        fit=fit,
        limits=limits,
        target=target,
        chosen=chosen.plan,
        forecast=forecast(many, course, chosen.plan, seed + 1, fit.noise),
        by_form=by_form,
        equals=tuple(equals.values())[:MOST_EQUALS],
        prices=tuple(sorted(prices, key=lambda item: -item.worse)),
        most_reps=None if most is chosen else price.of(most.plan, plan_words(course, most.plan)),
        behind=_behind(table, price),
        bad_day=_bad_day(table, chosen, fit),
        corrections=_corrections(fit, course, price),
    )


def _usual_reps(course: Course) -> int:
    """Reps that an attempt may come to; what is written out beyond reach is not played."""
    return max(1, course.reps if not course.endless else course.reps // 2)


def _chosen(table: Table) -> Rated:
    """Choose, let every departure stand against the choice, and choose again until it holds."""
    chosen = table.equals()[0]
    for _ in range(3):
        table.rate(
            item.scheme
            for item in departures(table.course, chosen.scheme, table.limits)
            if item.scheme is not None
        )
        again = table.equals()[0]
        if again.plan == chosen.plan:
            break
        chosen = again
    return chosen


class _Prices:
    """Prices of other plans against the chosen one, under the table's luck."""

    def __init__(self, table: Table, chosen: Rated) -> None:
        self.table, self.chosen = table, chosen

    def of(
        self,
        plan: Plan,
        words: str,
        movement: str | None = None,
        rows: Rows = slice(None),
    ) -> Price:
        return self.of_played(self.table.play([plan])[0], words, movement, rows)

    def of_played(
        self, played: Forecast, words: str, movement: str | None = None, rows: Rows = slice(None)
    ) -> Price:
        table, ours = self.table, self.chosen.played
        course, target = table.course, table.target
        ties_s = [table.tie_break_s(played.take(rows)) for played in (ours, played)]
        same_tie = abs(ties_s[1] - ties_s[0]) <= TIE_BREAK_NOISE * ties_s[0]
        mine, other = self.chosen.values[rows], table.values(played)[rows]
        return Price(
            words=words,
            movement=movement,
            reps=float(np.mean(ours.reps[rows] - played.reps[rows])),
            time_s=_later_s(course, ours.take(rows), played.take(rows)),
            worse=float(np.mean(mine > other) + 0.5 * np.mean(mine == other)),
            equal=bool(abs(np.mean(mine - other)) <= table.noise and same_tie),
            failing=float(np.mean(played.failing[rows]) - np.mean(ours.failing[rows])),
            reached=None if target is None else float(np.mean(target.reached(played)[rows])),
        )


def _later_s(course: Course, ours: Forecast, theirs: Forecast) -> float | None:
    """How much later the finish is, or the tie-break where few plays finish; None without one."""
    marks = [course.reps] if course.finishing else []
    marks += [course.tie_break_rep] if course.tie_break_rep is not None else []
    for mark in marks:
        one_s, other_s = ours.clock_at(mark), theirs.clock_at(mark)
        both = np.isfinite(one_s) & np.isfinite(other_s)
        if both.size and np.mean(both) > 0.5:
            return float(np.mean(other_s[both] - one_s[both]))
    return None


def _behind(table: Table, price: _Prices) -> tuple[Behind, ...]:
    """Price the two answers to being late at the round's ends nearest to the checkpoints."""
    course, chosen = table.course, price.chosen
    ends = np.cumsum([station.reps for station in course.stations])
    last = [
        place
        for place, (station, after) in enumerate(pairwise(course.stations))
        if (station.block, station.round) != (after.block, after.round)
    ]
    if not last and np.isinf(course.stations[0].deadline_s):
        last = list(range(len(course.stations) - 1))
    passed: dict[int, float] = {}
    for place in last:
        clock_s = chosen.played.clock_at(int(ends[place]))
        mark_s = float(np.quantile(clock_s, 1.0 - BEHIND_SHARE, method="inverted_cdf"))
        if np.isfinite(mark_s):
            passed[place] = mark_s
    if not passed:
        return ()
    usual_s = min(float(np.median(chosen.played.rep_s[:, -1])), course.cap_s)
    nearest = [
        min(passed, key=lambda place: abs(passed[place] - share * usual_s)) for share in CHECKPOINTS
    ]
    return tuple(_at_mark(table, price, place, passed[place]) for place in dict.fromkeys(nearest))


def _at_mark(table: Table, price: _Prices, place: int, later_than_s: float) -> Behind:
    course, chosen = table.course, price.chosen
    number = sum(station.reps for station in course.stations[: place + 1])
    rows = np.flatnonzero(chosen.played.clock_at(number) > later_than_s)
    answers: list[Price | None] = []
    for words, change in (("shortest rests", hurried_from), ("smaller sets", smaller_from)):
        plan = change(course, chosen.plan, table.limits, place + 1)
        different = plan != chosen.plan and rows.size > 0
        answers.append(price.of(plan, words, None, rows) if different else None)
    return Behind(place, later_than_s, *answers)


def _bad_day(table: Table, chosen: Rated, fit: AthleteFit) -> Rated:
    """Find the plan for a day of less capacity, starting from the chosen one."""
    draws = fit.draws(SEARCH_DRAWS // 2, LUCK + 2)
    weaker = replace(
        draws, unbroken=BAD_DAY * draws.unbroken, whole_work_s=BAD_DAY * draws.whole_work_s
    )
    limits = replace(
        table.limits,
        unbroken={kind: max(1, int(BAD_DAY * able)) for kind, able in table.limits.able.items()},
    )
    scheme = {
        kind: replace(pattern, size=min(pattern.size, limits.unbroken[kind]))
        for kind, pattern in chosen.scheme.items()
    }
    day = Table(table.course, weaker, limits, fit.noise, LUCK + 2, table.target, table.scale)
    (start,) = day.rate([scheme])
    day.rate(neighbours(table.course, start.scheme, limits, fine=False))
    return day.equals()[0]


def _corrections(fit: AthleteFit, course: Course, price: _Prices) -> tuple[Correction, ...]:
    """Price the refused reps of each movement: the plan again, with none of them refused."""
    found = []
    for movement in course.movements:
        seen = refusals_of(fit.attempts, movement)
        if seen.refused < LEAST_TOLD:
            continue
        played = price.table.play(
            [price.chosen.plan], _without_refusals(price.table.draws, movement)
        )
        found.append(Correction(seen, price.of_played(played[0], movement, movement)))
    return tuple(found)


def _without_refusals(draws: Athletes, movement: str) -> Athletes:
    refused: FloatArray = draws.refused.copy()
    refused[:, draws.column(movement)] = 0.0
    return replace(draws, refused=refused)
