"""From a fitted athlete to advice: plans equal within the noise, and the price of departing."""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes, Form, Rows
from counting.pacing.model.day import Noise
from counting.pacing.model.fit import AthleteFit
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.best import Grid, best_plan
from counting.pacing.search.course import Course
from counting.pacing.search.departures import (
    departures,
    evened,
    hurried_from,
    in_whole_seconds,
    plan_words,
    smaller_from,
)
from counting.pacing.search.forecast import Forecast, forecast
from counting.pacing.search.plan import Plan

SHORTLIST_DRAWS: Final = 300
FORECAST_DRAWS: Final = 1000
CLEARLY_BETTER: Final = 0.75
SMALL_LOSS: Final = 0.25
"""Two plans are equal while the better one wins in less than a share of equal-luck plays, and is
ahead on average by less than this share of the spread that the forecast has anyway."""

CAUTIOUS_SHARE: Final = 0.85
"""A plan is also sought for the athlete with this share of the unbroken sets believed in."""

COARSE: Final = Grid(level=1 / 10)
"""Enough for a plan that only has to differ from the others."""

MOST_EQUALS: Final = 5
IMPROVEMENTS: Final = 3
"""Rounds in which all departures from the best plan so far are tried as plans of their own."""

FAILING_COST: Final = 0.02
"""Of equal plans the surer is preferred: a rep that fails weighs so many standard deviations of the
score beside the time it takes, for torn hands and a lost rhythm (common practice, no source)."""

BEHIND_SHARE: Final = 0.3
"""Being behind is told for the latest share of plays at the half-way mark."""


@dataclass(frozen=True)
class Target:
    """What the attempt is for: ``reps`` by the cap, or all work within ``time_s``."""

    reps: int | None = None
    time_s: float | None = None

    def reached(self, played: Forecast) -> FloatArray:
        """Which plays reach the target, as 0 and 1."""
        within_s = self.time_s if self.time_s is not None else played.cap_s
        reps = self.reps if self.reps is not None else played.rep_s.shape[1]
        return np.asarray(played.clock_at(reps) <= within_s, dtype=np.float64)


@dataclass(frozen=True)
class Candidate:
    """A plan with its short forecast.

    ``beaten``: share of equal-luck plays in which the best plan wins. ``loss``: how far it stays
    behind on average, in standard deviations of the best plan's score.
    """

    plan: Plan
    origin: str
    played: Forecast
    beaten: float
    loss: float

    @property
    def equal(self) -> bool:
        """Whether the plan is equal to the best within the noise."""
        return self.beaten < CLEARLY_BETTER and self.loss < SMALL_LOSS

    @property
    def cost(self) -> float:
        """What counts among equals: the loss, and the reps that fail."""
        return self.loss + FAILING_COST * self.played.failing


@dataclass(frozen=True)
class Price:
    """What a departure from the plan costs; positive is a loss.

    ``reps`` and ``time_s`` are means over equal-luck plays; ``time_s`` is of the finish, or of the
    tie-break where the work is rarely finished, None where neither exists. ``worse`` is the share
    of plays in which the departure scores less; ``failing`` how many more reps fail; ``reached``
    the probability of the target under the departure, None without one.
    """

    words: str
    movement: str | None
    reps: float
    time_s: float | None
    worse: float
    failing: float
    reached: float | None


@dataclass(frozen=True)
class Behind:
    """What to do for an athlete who passes the half-way mark later than most.

    ``place`` is the station whose end is the mark, ``later_than_s`` the clock there; ``hurry`` and
    ``smaller`` price shortest rests and smaller sets from there on, in the late plays alone.
    """

    place: int
    later_than_s: float
    hurry: Price | None
    smaller: Price | None


@dataclass(frozen=True)
class Advice:
    """All that a plan card tells.

    ``by_form`` plays the chosen plan under each form of the model alone.
    """

    course: Course
    fit: AthleteFit
    target: Target | None
    chosen: Plan
    forecast: Forecast
    by_form: dict[Form, Forecast]
    equals: tuple[Candidate, ...]
    prices: tuple[Price, ...]
    behind: Behind | None


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
        Of all chances; equal seeds give equal advice.
    """
    draws, noise = fit.draws(SHORTLIST_DRAWS, seed), fit.noise
    table = _Table(draws, noise, course, target, seed)
    for origin, plan in _candidates(fit, course):
        table.play(plan, origin)
    improved: set[Plan] = set()
    for _ in range(IMPROVEMENTS):
        best = min(table.judged(), key=lambda item: (_ways(course, item.plan), item.cost)).plan
        if best in improved:
            break
        improved.add(best)
        for departure in departures(course, best, fit):
            table.play(departure.plan, departure.words)
    equals = [candidate for candidate in table.judged() if candidate.equal]
    equals.sort(key=lambda candidate: (_ways(course, candidate.plan), candidate.cost))
    chosen = equals[0]
    told: dict[str, Candidate] = {}
    for candidate in equals:
        told.setdefault(plan_words(course, candidate.plan), candidate)
    prices = [
        _price(
            item.words,
            item.movement,
            table.play(item.plan, item.words),
            chosen.played,
            course,
            target,
        )
        for item in departures(course, chosen.plan, fit)
    ]
    many = fit.draws(FORECAST_DRAWS, seed + 1)
    by_form = {
        form.form: forecast(form.draws, course, chosen.plan, seed + 1, noise, levels_kept=False)
        for form in fit.forms
    }
    return Advice(
        course=course,
        fit=fit,
        target=target,
        chosen=chosen.plan,
        forecast=forecast(many, course, chosen.plan, seed + 1, noise),
        by_form=by_form,
        equals=tuple(told.values())[:MOST_EQUALS],
        prices=tuple(sorted(prices, key=lambda price: -price.worse)),
        behind=_behind(table, fit, chosen),
    )


class _Table:
    """Plans with their plays under equal luck; each is played once."""

    def __init__(
        self, draws: Athletes, noise: Noise, course: Course, target: Target | None, seed: int
    ) -> None:
        self.course, self.target = course, target
        self._draws, self._noise, self._seed = draws, noise, seed
        self._played: dict[Plan, tuple[str, Forecast]] = {}

    def play(self, plan: Plan, origin: str) -> Forecast:
        if plan not in self._played:
            run = forecast(
                self._draws, self.course, plan, self._seed, self._noise, levels_kept=False
            )
            self._played[plan] = (origin, run)
        return self._played[plan][1]

    def judged(self) -> list[Candidate]:
        """All plans so far, the best first."""
        scores = [_worth(run, self.course, self.target) for _, run in self._played.values()]
        best = max(scores, key=lambda score: float(np.mean(score)))
        spread = max(float(np.std(best)), 1e-9)
        judged = [
            Candidate(
                plan, origin, run, _share_beaten(best, score), float(np.mean(best - score)) / spread
            )
            for (plan, (origin, run)), score in zip(self._played.items(), scores, strict=True)
        ]
        order = np.argsort([-float(np.mean(score)) for score in scores], kind="stable")
        return [judged[index] for index in order]


def _candidates(fit: AthleteFit, course: Course) -> list[tuple[str, Plan]]:
    found = [(f"{form.form} recovery", best_plan(course, form.typical).plan) for form in fit.forms]
    cautious = max(fit.forms, key=lambda form: form.log_evidence).typical
    cautious = replace(cautious, unbroken=CAUTIOUS_SHARE * cautious.unbroken)
    found.append(("a weaker day", best_plan(course, cautious, COARSE).plan))
    found = [(origin, in_whole_seconds(plan)) for origin, plan in found]
    return found + [
        (f"{origin}, the same every round", evened(course, plan)) for origin, plan in found
    ]


def _ways(course: Course, plan: Plan) -> int:
    """Ways of doing a movement that an athlete has to keep in mind."""
    return len(
        {
            (station.movement, station.reps, stint)
            for station, stint in zip(course.stations, plan, strict=True)
        }
    )


def _worth(run: Forecast, course: Course, target: Target | None) -> FloatArray:
    score = run.score(course)
    return score if target is None else target.reached(run) + 1e-4 * score / max(course.reps, 1)


def _share_beaten(best: FloatArray, other: FloatArray) -> float:
    return float(np.mean(best > other) + 0.5 * np.mean(best == other))


def _price(
    words: str,
    movement: str | None,
    run: Forecast,
    reference: Forecast,
    course: Course,
    target: Target | None,
    rows: Rows = slice(None),
) -> Price:
    marks = [course.reps] if course.finishing else []
    marks += [course.tie_break_rep] if course.tie_break_rep is not None else []
    time_s = None
    for mark in marks:
        ours, theirs = reference.clock_at(mark)[rows], run.clock_at(mark)[rows]
        both = np.isfinite(ours) & np.isfinite(theirs)
        if np.mean(both) > 0.5:
            time_s = float(np.mean(theirs[both] - ours[both]))
            break
    return Price(
        words=words,
        movement=movement,
        reps=float(np.mean(reference.reps[rows] - run.reps[rows])),
        time_s=time_s,
        worse=_share_beaten(reference.score(course)[rows], run.score(course)[rows]),
        failing=run.failing - reference.failing,
        reached=None if target is None else float(np.mean(target.reached(run)[rows])),
    )


def _behind(table: _Table, fit: AthleteFit, chosen: Candidate) -> Behind | None:
    """Price the two answers to being late at the round's end nearest to half of the time.

    Returns
    -------
    None where the workout has no mark on the way that most plays pass.
    """
    course, played = table.course, chosen.played
    ends = np.cumsum([station.reps for station in course.stations])
    last = [
        place
        for place, (station, after) in enumerate(pairwise(course.stations))
        if (station.block, station.round) != (after.block, after.round)
    ] or list(range(len(course.stations) - 1))
    clocks_s = {place: played.clock_at(int(ends[place])) for place in last}
    marks_s = {
        place: float(np.quantile(clock_s, 1.0 - BEHIND_SHARE, method="inverted_cdf"))
        for place, clock_s in clocks_s.items()
    }
    passed = {place: mark_s for place, mark_s in marks_s.items() if np.isfinite(mark_s)}
    if not passed:
        return None
    usual_end_s = min(float(np.median(played.rep_s[:, -1])), played.cap_s)
    place = min(passed, key=lambda item: abs(passed[item] - 0.5 * usual_end_s))
    rows = np.flatnonzero(clocks_s[place] > passed[place])
    answers: list[Price | None] = []
    for words, change in (("shortest rests", hurried_from), ("smaller sets", smaller_from)):
        plan = change(course, chosen.plan, fit, place + 1)
        run = table.play(plan, words)
        different = plan != chosen.plan and rows.size > 0
        answers.append(
            _price(words, None, run, played, course, table.target, rows) if different else None
        )
    return Behind(place, passed[place], *answers)
