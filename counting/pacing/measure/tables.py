"""The figures of the trial as tables."""

import importlib
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise
from typing import Final, TypeVar

import numpy as np

from counting.pacing.measure.trial import (
    CAPACITIES,
    Person,
    Promise,
    Tried,
    covered,
    filmed_by,
    formats,
    modelled_people,
    promised,
    tried,
)
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import Known, unbroken_sets
from counting.pacing.search.advice import advise
from counting.pacing.search.course import Course

NOISE: Final = 0.02
"""Standard deviation by which typed capacities are off from one draw to the next."""
MUCH_WORSE: Final = 0.98
"""Share of the naive plan's score below which a plan is clearly worse."""


@dataclass(frozen=True)
class Stable:
    """How often the commonest scheme came, over seeds and over noise on what was typed in."""

    format: str
    athlete: int
    seeds: float
    noise: float
    growing: int


def person_of(module: str | None, number: int) -> Person:
    """Make one person of a module with a function ``people``, or of the tool's own forms.

    From the ninth on they type in what the first eight do, and are other people.
    """
    make: Callable[[int], list[Person]] = modelled_people
    if module is not None:
        make = importlib.import_module(module).people
    seed, place = divmod(number, len(CAPACITIES))
    return make(seed)[place]


Row = TypeVar("Row")


def print_plans(
    modules: Sequence[str | None],
    count: int,
    workers: int,
    names: Sequence[str],
    *,
    filmed: bool,
) -> None:
    """Try plans on the people of each module, and print a row for each format and module.

    What people type in is the same in every module, so a typed plan is made once for all of them.
    """
    found = _in_turn(partial(_tried, modules, filmed), count, workers, names)
    source = "a simulated film" if filmed else "typed unbroken sets"
    for module, rows in zip(modules, zip(*found, strict=True), strict=True):
        truth = "the tool's own forms" if module is None else module
        print(f"plans from {source}, athletes of {truth}; scores in % of the work:")
        print(
            f"{'':28} in 80 %  tie-break  over uniform  over best each  over unbroken  reps  failed"
            "  clearly worse  largest set"
        )
        each: tuple[str | None, ...] = (*names, None)
        for wanted in each:
            own = [row for row in rows if wanted in (None, row.format)]
            print(_plan_row(wanted or "all", own))


def _tried(
    modules: Sequence[str | None], filmed: bool, number: int, name: str
) -> tuple[Tried, ...]:
    """Try the plans of one athlete and format on a person of each module."""
    course = formats()[name]
    people = [person_of(module, number) for module in modules]
    if filmed:
        promises = [
            promised(course, Known(), filmed_by(person, course, number), number)
            for person in people
        ]
    else:
        promises = [_typed_promise(number % len(CAPACITIES), name)] * len(people)
    return tuple(
        tried(name, course, person, promise, number)
        for person, promise in zip(people, promises, strict=True)
    )


def print_coverage(
    modules: Sequence[str | None],
    count: int,
    workers: int,
    names: Sequence[str],
    *,
    filmed: bool,
) -> None:
    """Print how often the 80 % intervals of plans held, by format and module, on many people.

    Standard errors are those over people: the days of one err together.
    """
    found = _in_turn(partial(_covered, modules, filmed), count, workers, names)
    source = "a simulated film" if filmed else "typed unbroken sets"
    print(f"outcomes in the 80 % intervals of plans from {source}, {count} athletes of each make:")
    name_of = [name for _ in range(count) for name in names]
    for module, shares in zip(modules, zip(*found, strict=True), strict=True):
        print("the tool's own forms" if module is None else module)
        for wanted in (*names, None):
            own = [x for x, name in zip(shares, name_of, strict=True) if wanted in (None, name)]
            ties = [tie for _, tie in own if tie is not None]
            tie_words = f"  tie-break {_share_words(ties)}" if ties else ""
            inside = _share_words([share for share, _ in own])
            print(f"  {wanted or 'all':28} {inside}{tie_words}")


def _share_words(shares: Sequence[float]) -> str:
    error = np.std(shares) / np.sqrt(len(shares))
    return f"{100 * np.mean(shares):.0f} % (standard error {100 * error:.0f})"


def _covered(
    modules: Sequence[str | None], filmed: bool, number: int, name: str
) -> tuple[tuple[float, float | None], ...]:
    """Mean shares held of score and tie-break, for one athlete and format of each module."""
    course = formats()[name]
    found = []
    for module in modules:
        person = person_of(module, number)
        promise = (
            promised(course, Known(), filmed_by(person, course, number), number)
            if filmed
            else _typed_promise(number % len(CAPACITIES), name)
        )
        scores, ties = covered(course, person, promise, number)
        found.append((float(np.mean(scores)), float(np.mean(ties)) if ties else None))
    return tuple(found)


@cache
def _typed_promise(place: int, name: str) -> Promise:
    """Plan from what one of the eight types in."""
    return promised(formats()[name], unbroken_sets(CAPACITIES[place]), [], place)


def _in_turn(
    figure: Callable[[int, str], Row], count: int, workers: int, names: Sequence[str]
) -> list[Row]:
    """Work a figure out for every athlete and format, side by side where workers are given.

    Cases done are told on the error stream.
    """
    numbers, each = zip(*((n, name) for n in range(count) for name in names), strict=True)
    found: list[Row] = []
    with ExitStack() as stack:
        ways: Iterator[Row] = map(figure, numbers, each)
        if workers > 1:
            pool = stack.enter_context(ProcessPoolExecutor(workers))
            ways = pool.map(figure, numbers, each)
        begin_s = time.monotonic()
        for done, row in enumerate(ways, start=1):
            found.append(row)
            left_s = (time.monotonic() - begin_s) / done * (len(numbers) - done)
            print(f"  {done} of {len(numbers)}, {left_s / 60:.0f} min left", file=sys.stderr)
    return found


def _plan_row(name: str, rows: Sequence[Tried]) -> str:
    inside = np.mean([share for row in rows for share in row.held])
    ties = [share for row in rows for share in row.tie_held]
    uniform = np.array([row.uniform for row in rows])
    score = np.array([row.score for row in rows])
    worse = [
        ours < MUCH_WORSE * naive
        for row in rows
        for ours, naive in zip(row.scores, row.naive_scores, strict=True)
    ]
    common = 100 * (np.mean(score) - np.max(np.mean(uniform, axis=0)))
    each = 100 * np.mean(score - np.max(uniform, axis=1))
    unbroken = 100 * np.mean([row.score - row.unbroken for row in rows])
    reps = np.mean([row.reps - row.unbroken_reps for row in rows])
    failed = np.mean([row.failed for row in rows])
    naive_failed = np.mean([row.unbroken_failed for row in rows])
    tie_words = f"{100 * np.mean(ties):.0f} %" if ties else ""
    return (
        f"{name:28} {100 * inside:5.1f} %  {tie_words:>9}  {common:+12.2f}  {each:+14.2f}  "
        f"{unbroken:+13.2f}  {reps:+4.1f}  {failed:.1f} of {naive_failed:.1f}  "
        f"{100 * np.mean(worse):11.1f} %  {max(row.largest_share for row in rows):11.2f}"
    )


def print_stability(count: int, draws: int, workers: int, names: Sequence[str]) -> None:
    """Plan again with other seeds and noise, and print how often the scheme stays."""
    rows = _in_turn(partial(_stable, draws), count, workers, names)
    print(f"the commonest sets, of {draws} seeds and of {draws} draws of 2 % noise:")
    for name in names:
        own = [row for row in rows if row.format == name]
        seeds, noise = (np.mean([getattr(row, key) for row in own]) for key in ("seeds", "noise"))
        print(f"{name:28} seeds {100 * seeds:.0f} %, noise {100 * noise:.0f} %")
    seeds, noise = (np.mean([getattr(row, key) for row in rows]) for key in ("seeds", "noise"))
    steady = np.mean([min(row.seeds, row.noise) >= 0.9 for row in rows])
    print(
        f"all: seeds {100 * seeds:.0f} %, noise {100 * noise:.0f} %; 9 of 10 in both "
        f"{100 * steady:.0f} % of cases; growing sets {sum(row.growing for row in rows)}"
    )


def _stable(draws: int, number: int, name: str) -> Stable:
    return stable(name, formats()[name], number, CAPACITIES[number], draws)


def stable(
    name: str, course: Course, number: int, capacities: dict[str, float], draws: int
) -> Stable:
    """Plan one format for one athlete again and again."""
    typed = {movement: capacities[movement] for movement in course.movements}
    random = np.random.default_rng(number)
    seen: dict[str, list[tuple[tuple[int, ...], ...]]] = {"seeds": [], "noise": []}
    for draw in range(draws):
        seen["seeds"].append(_sets(course, typed, draw))
        noisy = {m: reps * np.exp(NOISE * random.standard_normal()) for m, reps in typed.items()}
        seen["noise"].append(_sets(course, noisy, 0))
    growing = sum(
        any(after > before for before, after in pairwise(sets))
        for plans in seen.values()
        for plan in plans
        for sets in plan
    )
    share = {key: Counter(plans).most_common(1)[0][1] / draws for key, plans in seen.items()}
    return Stable(name, number, share["seeds"], share["noise"], growing)


def _sets(course: Course, typed: dict[str, float], seed: int) -> tuple[tuple[int, ...], ...]:
    fit = fit_athlete([], course.movements, unbroken_sets(typed), seed, at_kg=course.at_kg)
    return tuple(stint.sets for stint in advise(fit, course, seed=seed).chosen)
