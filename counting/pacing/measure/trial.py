"""Plans tried on athletes whose truth is known: whether they gain, and their intervals hold."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np

from counting.pacing.measure.simulate import drawn_athlete, shown_attempt
from counting.pacing.model.athlete import FORMS, Athletes
from counting.pacing.model.attempt import Attempt, with_limits
from counting.pacing.model.day import Noise, on_the_day
from counting.pacing.model.fit import AthleteFit, fit_athlete
from counting.pacing.model.known import Known, unbroken_sets
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.advice import advise
from counting.pacing.search.course import Course, Station
from counting.pacing.search.forecast import forecast
from counting.pacing.search.plan import Plan, even_sets, uniform_plan

CAPACITIES: Final[tuple[dict[str, float], ...]] = (
    {"thruster": 25, "chest-to-bar pull-up": 12, "bar muscle-up": 0.5, "burpee": 30, "push-up": 28},
    {"thruster": 18, "chest-to-bar pull-up": 8, "bar muscle-up": 1, "burpee": 22, "push-up": 20},
    {"thruster": 30, "chest-to-bar pull-up": 18, "bar muscle-up": 6, "burpee": 40, "push-up": 40},
    {"thruster": 45, "chest-to-bar pull-up": 32, "bar muscle-up": 16, "burpee": 50, "push-up": 55},
    {"thruster": 35, "chest-to-bar pull-up": 15, "bar muscle-up": 3, "burpee": 45, "push-up": 30},
    {"thruster": 14, "chest-to-bar pull-up": 20, "bar muscle-up": 8, "burpee": 25, "push-up": 45},
    {"thruster": 22, "chest-to-bar pull-up": 5, "bar muscle-up": 0.3, "burpee": 35, "push-up": 15},
    {"thruster": 40, "chest-to-bar pull-up": 25, "bar muscle-up": 10, "burpee": 30, "push-up": 50},
)
"""Unbroken sets of eight invented athletes."""

PLAYS: Final = 24
UNIFORM_SIZES: Final = (1000, 15, 10, 7, 5, 3, 1)
UNIFORM_RESTS_S: Final = (5.0, 12.0, 25.0)
"""How often a plan is played, and the 21 uniform schemes that it is held against."""


@dataclass(frozen=True)
class Outcome:
    """One attempt at a plan: reps in time, the clock at the tie-break and the end, failed reps."""

    reps: int
    end_s: float
    tie_break_s: float
    failed: int


class Person(Protocol):
    """An athlete whose truth is known to the trial, not to the tool."""

    @property
    def known(self) -> Known:
        """What this person would type in."""

    def play(self, course: Course, plan: Plan, days: range) -> list[Outcome]:
        """Attempt a plan on several days; equal days are equal luck."""

    def film(self, course: Course, plan: Plan, seed: int) -> Attempt:
        """Attempt a plan with rests of own choosing, and film it."""


@dataclass(frozen=True)
class Modelled:
    """A person of one of the tool's own forms."""

    athlete: Athletes
    capacities: Mapping[str, float]

    @property
    def known(self) -> Known:
        """Typed unbroken sets."""
        return unbroken_sets(self.capacities)

    def play(self, course: Course, plan: Plan, days: range) -> list[Outcome]:
        """Attempt a plan on several days."""
        same = self.athlete.take(np.zeros(len(days), dtype=np.int64))
        played = forecast(same, course, plan, days.start, levels_kept=False)
        ties_s = np.full(len(days), np.inf)
        if course.tie_break_rep is not None:
            ties_s = played.clock_at(course.tie_break_rep)
        ends_s, reps, failed = played.rep_s[:, -1], played.reps, played.failing
        return [
            Outcome(int(reps[day]), float(ends_s[day]), float(ties_s[day]), int(failed[day]))
            for day in range(len(days))
        ]

    def film(self, course: Course, plan: Plan, seed: int) -> Attempt:
        """Attempt a plan and film it."""
        random = np.random.default_rng(seed)
        athlete = on_the_day(self.athlete, random, Noise().form_of_day)
        return shown_attempt(athlete, course, plan, random)


def modelled_people(seed: int = 0) -> list[Person]:
    """Make the eight athletes, each of one of the tool's forms, other parameters drawn."""
    people: list[Person] = []
    for number, capacities in enumerate(CAPACITIES):
        random = np.random.default_rng([seed, number])
        athlete = drawn_athlete(tuple(capacities), random, FORMS[number % len(FORMS)])
        true = np.array([[capacities[load.movement] for load in athlete.loads]], dtype=np.float64)
        true *= np.exp(0.08 * random.standard_normal(true.shape))
        people.append(Modelled(replace(athlete, unbroken=true), capacities))
    return people


def formats() -> dict[str, Course]:
    """Six formats of work, with rounds, windows, a tie-break, and one long station."""
    pulls, ups = "chest-to-bar pull-up", "bar muscle-up"
    ladder = _rounds([("thruster", 9), (pulls, 9)], 4)
    final = Station(ups, 30, 2, 1, 1)
    minutes = [
        replace(station, not_before_s=60.0 * (station.round - 1), deadline_s=60.0 * station.round)
        for station in _rounds([("burpee", 7), (pulls, 5)], 10)
    ]
    descending = [
        Station(movement, reps, 1, number, place)
        for number, reps in enumerate((21, 15, 9), start=1)
        for place, movement in enumerate(("thruster", pulls), start=1)
    ]
    return {
        "tie-break, then to the cap": Course("a", (*ladder, final), 720.0, True, 72),
        "rounds for time": Course(
            "b", tuple(_rounds([("thruster", 10), ("burpee", 8), ("push-up", 12)], 5)), 1500.0, True
        ),
        "as many as possible": Course(
            "c",
            tuple(_rounds([(pulls, 5), ("push-up", 10), ("burpee", 5)], 40)),
            720.0,
            False,
            endless=True,
        ),
        "descending for time": Course("d", tuple(descending), 900.0, True),
        "on the minute": Course("e", tuple(minutes), 600.0, False),
        "one long station": Course("f", (Station("burpee", 100, 1, 1, 1),), 900.0, True),
    }


def _rounds(parts: Sequence[tuple[str, int]], rounds: int) -> list[Station]:
    return [
        Station(movement, reps, 1, number, place)
        for number in range(1, rounds + 1)
        for place, (movement, reps) in enumerate(parts, start=1)
    ]


def score_of(course: Course, outcome: Outcome) -> float:
    """Score as a share of what there is to do: larger is better; time saved counts as work."""
    share = outcome.reps / course.reps
    if course.finishing and np.isfinite(outcome.end_s):
        share = 1.0 + (course.cap_s - outcome.end_s) / course.cap_s
    return share


@dataclass(frozen=True)
class Promise:
    """A plan, and the scores and tie-breaks foretold for it, shape ``(n,)``; the latter may lack.

    ``largest_share``: the largest planned set against what was typed in.
    """

    plan: Plan
    scores: FloatArray
    ties_s: FloatArray | None
    largest_share: float


@dataclass(frozen=True)
class Tried:
    """One plan tried.

    ``held``: how far the 80 % interval held each true outcome, see `held`; mean scores of the
    plan, of each uniform one and of going unbroken; failed reps.
    """

    format: str
    held: tuple[float, ...]
    tie_held: tuple[float, ...]
    score: float
    uniform: tuple[float, ...]
    unbroken: float
    scores: tuple[float, ...]
    naive_scores: tuple[float, ...]
    failed: float
    unbroken_failed: float
    reps: float
    unbroken_reps: float
    largest_share: float


def filmed_by(person: Person, course: Course, seed: int) -> list[Attempt]:
    """Film a first attempt in sets of half the capacity."""
    plan = uniform_plan(course, _half_sets(course, person.known), 6.0)
    shown = person.film(course, plan, seed + 500)
    return [replace(shown, reps=with_limits(shown.reps))]


def promised(course: Course, known: Known, attempts: Sequence[Attempt], seed: int) -> Promise:
    """Plan from what was typed in or filmed."""
    fit = fit_athlete(attempts, course.movements, known, seed, at_kg=course.at_kg)
    advice = advise(fit, course, seed=seed)
    played = advice.forecast
    foretold = [
        score_of(course, Outcome(int(reps), float(end_s), 0.0, 0))
        for reps, end_s in zip(played.reps, played.rep_s[:, -1], strict=True)
    ]
    tie = course.tie_break_rep
    return Promise(
        plan=advice.chosen,
        scores=np.array(foretold),
        ties_s=None if tie is None else played.clock_at(tie),
        largest_share=_largest_share(course, advice.chosen, fit),
    )


def tried(name: str, course: Course, person: Person, promise: Promise, seed: int) -> Tried:
    """Let a person do a plan and all uniform ones on equal days."""
    days = range(seed, seed + PLAYS)
    own = person.play(course, promise.plan, days)
    naive = person.play(course, uniform_plan(course, {}, 5.0), days)
    uniform = [
        person.play(course, _uniform(course, size, rest_s), days)
        for size in UNIFORM_SIZES
        for rest_s in UNIFORM_RESTS_S
    ]
    scores = [score_of(course, outcome) for outcome in own]
    naive_scores = [score_of(course, outcome) for outcome in naive]
    uniform_scores = [float(np.mean([score_of(course, o) for o in one])) for one in uniform]
    score_held, tie_held = _held_of(course, promise, own)
    return Tried(
        format=name,
        held=score_held,
        tie_held=tie_held,
        score=float(np.mean(scores)),
        uniform=tuple(uniform_scores),
        unbroken=float(np.mean(naive_scores)),
        scores=tuple(scores),
        naive_scores=tuple(naive_scores),
        failed=float(np.mean([outcome.failed for outcome in own])),
        unbroken_failed=float(np.mean([outcome.failed for outcome in naive])),
        reps=float(np.mean([outcome.reps for outcome in own])),
        unbroken_reps=float(np.mean([outcome.reps for outcome in naive])),
        largest_share=promise.largest_share,
    )


def covered(
    course: Course, person: Person, promise: Promise, seed: int
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """How far each score and each tie-break of a person's days at a plan was held, see `held`."""
    own = person.play(course, promise.plan, range(seed, seed + PLAYS))
    return _held_of(course, promise, own)


def _held_of(
    course: Course, promise: Promise, own: Sequence[Outcome]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    scores = tuple(held(promise.scores, score_of(course, outcome)) for outcome in own)
    foretold_s = promise.ties_s
    if foretold_s is None:
        return scores, ()
    return scores, tuple(held(foretold_s, outcome.tie_break_s) for outcome in own)


def held(foretold: FloatArray, true: float) -> float:
    """How far the 80 % interval of a forecast held an outcome, from 0 to 1.

    Notes
    -----
    The probability integral transform of an outcome that may tie with foretold ones, as whole reps
    do, is spread evenly from the share below it to the share not above it (Czado, Gneiting and Held
    2009); told is how much of that lies between 0.1 and 0.9. Right forecasts hold 80 % on average,
    of whole numbers, too: to count every tie as held would make them look too wide.
    """
    below = float(np.mean(foretold < true))
    same = float(np.mean(foretold == true))
    if same == 0.0:
        return float(0.1 <= below <= 0.9)
    return max(0.0, min(below + same, 0.9) - max(below, 0.1)) / same


def _half_sets(course: Course, known: Known) -> dict[str, tuple[int, ...]]:
    return {
        movement: (max(1, round(0.5 * known.unbroken[movement])),) for movement in course.movements
    }


def _uniform(course: Course, size: int, rest_s: float) -> Plan:
    sizes = {
        station.movement: even_sets(station.reps, -(-station.reps // size))
        for station in course.stations
    }
    return uniform_plan(
        course, {movement: (max(sets),) for movement, sets in sizes.items()}, rest_s
    )


def _largest_share(course: Course, plan: Plan, fit: AthleteFit) -> float:
    """Largest planned set as a share of what was typed in; 0 where nothing was."""
    typed = fit.known.unbroken
    return max(
        (
            max(stint.sets) / max(typed[station.movement], 1.0)
            for station, stint in zip(course.stations, plan, strict=True)
            if station.movement in typed
        ),
        default=0.0,
    )
