"""From a fitted athlete to advice: plans equal within the noise, and the price of departing."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.pacing.athlete import Athletes, Form
from counting.pacing.course import Course
from counting.pacing.fit import AthleteFit
from counting.pacing.forecast import Forecast, Noise, forecast
from counting.pacing.plan import (
    FULL_EFFORT,
    Plan,
    Stint,
    even_sets,
    fitted_sets,
    set_words,
    with_sets,
)
from counting.pacing.reservoir import FloatArray
from counting.pacing.search import best_plan

SHORTLIST_DRAWS: Final = 300
FORECAST_DRAWS: Final = 1000
CLEARLY_BETTER: Final = 0.75
SMALL_LOSS: Final = 0.25
"""Two plans are equal while the better one wins in less than a share of equal-luck plays, and is
ahead on average by less than this share of the spread that the forecast has anyway."""

CAUTIOUS_SHARE: Final = 0.85
"""A plan is also sought for the athlete with this share of the unbroken sets believed in."""

MOST_EQUALS: Final = 5


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


@dataclass(frozen=True)
class Price:
    """What a departure from the plan costs; positive is a loss.

    ``reps`` and ``time_s`` are means over equal-luck plays; ``time_s`` is of the finish, or of the
    tie-break where the work is rarely finished, None where neither exists. ``worse`` is the share
    of plays in which the departure scores less.
    """

    words: str
    movement: str | None
    reps: float
    time_s: float | None
    worse: float


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
    chase: Price


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
    candidates = _judged(_candidates(fit, course), draws, noise, course, target, seed)
    near = [(words, plan) for words, _, plan in departures(course, candidates[0].plan, fit)]
    plans = [(candidate.origin, candidate.plan) for candidate in candidates]
    candidates = _judged(_distinct([*plans, *near]), draws, noise, course, target, seed)
    equals = [candidate for candidate in candidates if candidate.equal]
    chosen = min(equals, key=lambda candidate: _complexity(course, candidate.plan))
    told = {plan_words(course, chosen.plan): chosen}
    for candidate in equals:
        told.setdefault(plan_words(course, candidate.plan), candidate)
    reference = chosen.played
    prices = [
        _price(words, movement, forecast(draws, course, plan, seed, noise), reference, course)
        for words, movement, plan in departures(course, chosen.plan, fit)
    ]
    chase = _price(
        "if behind at half-way: rests cut to the shortest from there on",
        None,
        forecast(draws, course, hurried(course, chosen.plan, fit), seed, noise),
        reference,
        course,
    )
    many = fit.draws(FORECAST_DRAWS, seed + 1)
    by_form = {
        form.form: forecast(form.draws, course, chosen.plan, seed + 1, noise) for form in fit.forms
    }
    return Advice(
        course=course,
        fit=fit,
        target=target,
        chosen=chosen.plan,
        forecast=forecast(many, course, chosen.plan, seed + 1, noise),
        by_form=by_form,
        equals=tuple(told.values())[:MOST_EQUALS],
        prices=tuple(prices),
        chase=chase,
    )


def _candidates(fit: AthleteFit, course: Course) -> list[tuple[str, Plan]]:
    found = [(f"{form.form} recovery", best_plan(course, form.typical).plan) for form in fit.forms]
    cautious = max(fit.forms, key=lambda form: form.log_evidence).typical
    cautious = replace(cautious, unbroken=CAUTIOUS_SHARE * cautious.unbroken)
    found.append(("a weaker day", best_plan(course, cautious).plan))
    found = [(origin, in_whole_seconds(plan)) for origin, plan in found]
    found += [(f"{origin}, the same every round", evened(course, plan)) for origin, plan in found]
    return _distinct(found)


def _distinct(plans: Sequence[tuple[str, Plan]]) -> list[tuple[str, Plan]]:
    first: dict[Plan, str] = {}
    for origin, plan in plans:
        first.setdefault(plan, origin)
    return [(origin, plan) for plan, origin in first.items()]


def in_whole_seconds(plan: Plan) -> Plan:
    """Round rests to whole seconds, as an athlete can keep them."""
    return tuple(
        replace(stint, rests_s=tuple(float(round(rest_s)) for rest_s in stint.rests_s))
        for stint in plan
    )


def evened(course: Course, plan: Plan) -> Plan:
    """Make a plan the same in every round: for each movement its commonest way, no waits."""
    ways: dict[tuple[str, int], Counter[tuple[tuple[int, ...], float, float]]] = {}
    for station, stint in zip(course.stations, plan, strict=True):
        rest_s = float(np.median(stint.rests_s)) if stint.rests_s else 0.0
        way = (_one_size(stint.sets), float(round(rest_s)), stint.effort)
        ways.setdefault((station.movement, station.reps), Counter())[way] += 1
    stints = []
    for station in course.stations:
        sets, rest_s, effort = ways[station.movement, station.reps].most_common(1)[0][0]
        stints.append(Stint(sets, (rest_s,) * (len(sets) - 1), 0.0, effort))
    return tuple(stints)


def _one_size(sets: tuple[int, ...]) -> tuple[int, ...]:
    if len(sets) <= 4:
        return sets
    commonest = Counter(sets).most_common(1)[0][0]
    return fitted_sets((commonest,), sum(sets))


def _complexity(course: Course, plan: Plan) -> tuple[int, int]:
    ways = {(station.movement, stint) for station, stint in zip(course.stations, plan, strict=True)}
    return len(ways), sum(len(set(stint.sets)) for stint in plan)


def _judged(
    plans: Sequence[tuple[str, Plan]],
    draws: Athletes,
    noise: Noise,
    course: Course,
    target: Target | None,
    seed: int,
) -> list[Candidate]:
    played = [(origin, plan, forecast(draws, course, plan, seed, noise)) for origin, plan in plans]
    scores = [_worth(run, course, target) for _, _, run in played]
    best = max(scores, key=lambda score: float(np.mean(score)))
    spread = max(float(np.std(best)), 1e-9)
    judged = [
        Candidate(
            plan, origin, run, _share_beaten(best, score), float(np.mean(best - score)) / spread
        )
        for (origin, plan, run), score in zip(played, scores, strict=True)
    ]
    order = np.argsort([-float(np.mean(score)) for score in scores])
    return [judged[index] for index in order]


def _worth(run: Forecast, course: Course, target: Target | None) -> FloatArray:
    score = run.score(course)
    return score if target is None else target.reached(run) + 1e-4 * score / max(course.reps, 1)


def _share_beaten(best: FloatArray, other: FloatArray) -> float:
    return float(np.mean(best > other) + 0.5 * np.mean(best == other))


def _price(
    words: str, movement: str | None, run: Forecast, reference: Forecast, course: Course
) -> Price:
    marks = [course.reps] if course.finishing else []
    marks += [course.tie_break_rep] if course.tie_break_rep is not None else []
    time_s = None
    for mark in marks:
        ours, theirs = reference.clock_at(mark), run.clock_at(mark)
        both = np.isfinite(ours) & np.isfinite(theirs)
        if np.mean(both) > 0.5:
            time_s = float(np.mean(theirs[both] - ours[both]))
            break
    return Price(
        words=words,
        movement=movement,
        reps=float(np.mean(reference.reps - run.reps)),
        time_s=time_s,
        worse=_share_beaten(reference.score(course), run.score(course)),
    )


def departures(course: Course, plan: Plan, fit: AthleteFit) -> list[tuple[str, str | None, Plan]]:
    """Ways an athlete departs from a plan: larger and smaller sets, longer and no rests, a rush."""
    found: list[tuple[str, str | None, Plan]] = []
    for movement in course.movements:
        own = [station.movement == movement for station in course.stations]
        longest = max(len(stint.sets) for stint, mine in zip(plan, own, strict=True) if mine)
        changes = {"one more set each time": 1, "one set fewer each time": -1}
        if longest == 1:
            changes = {"cut in two each time": 1}
        for words, more in changes.items():
            altered = _altered(plan, own, more, fit, movement)
            if altered != plan:
                found.append((f"{movement}: {words}", movement, altered))
        if longest > 2:
            found.append(
                (f"{movement}: unbroken", movement, _altered(plan, own, -999, fit, movement))
            )
    longer = tuple(
        replace(stint, rests_s=tuple(rest_s + 5.0 for rest_s in stint.rests_s)) for stint in plan
    )
    if longer != plan:
        found.append(("every rest 5 s longer", None, longer))
    third = max(1, len(plan) // 3)
    rush = tuple(
        Stint((stint.reps,), (), 0.0, FULL_EFFORT) if place < third else stint
        for place, stint in enumerate(plan)
    )
    if rush != plan:
        found.append(("first third unbroken and at full pace", None, rush))
    return found


def _altered(plan: Plan, own: Sequence[bool], more: int, fit: AthleteFit, movement: str) -> Plan:
    typical = fit.forms[0].typical
    shortest_s = float(round(typical.shortest_break_s[0, typical.column(movement)]))
    stints = []
    for stint, mine in zip(plan, own, strict=True):
        if not mine:
            stints.append(stint)
            continue
        sets = min(max(len(stint.sets) + more, 1), stint.reps)
        rest_s = float(np.median(stint.rests_s)) if stint.rests_s else shortest_s
        stints.append(with_sets(stint, even_sets(stint.reps, sets), rest_s))
    return tuple(stints)


def hurried(course: Course, plan: Plan, fit: AthleteFit) -> Plan:
    """Cut all rests to the shortest and drop waits in the second half, sets as planned."""
    typical = fit.forms[0].typical
    half = len(plan) // 2
    stints = []
    for place, (station, stint) in enumerate(zip(course.stations, plan, strict=True)):
        shortest_s = float(typical.shortest_break_s[0, typical.column(station.movement)])
        rests = tuple(min(rest_s, shortest_s) for rest_s in stint.rests_s)
        later = replace(stint, rests_s=rests, rest_before_s=0.0, effort=FULL_EFFORT)
        stints.append(later if place >= half else stint)
    return tuple(stints)


def plan_words(course: Course, plan: Plan) -> str:
    """Tell a plan shortly: for each movement its ways of breaking up, with the usual rest."""
    ways: dict[str, list[str]] = {}
    for station, stint in zip(course.stations, plan, strict=True):
        words = ways.setdefault(station.movement, [])
        if set_words(stint.sets) not in words:
            words.append(set_words(stint.sets))
    rests: dict[str, list[float]] = {}
    for station, stint in zip(course.stations, plan, strict=True):
        rests.setdefault(station.movement, []).extend(stint.rests_s)
    return "; ".join(
        f"{movement} {', then '.join(words)}"
        + (f" (rests about {np.median(rests[movement]):.0f} s)" if rests[movement] else "")
        for movement, words in ways.items()
    )
