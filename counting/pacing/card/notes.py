"""What a reader has to know beside the plan: what was not filmed, what would sharpen it most."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.stats import spearmanr

from counting.pacing.card.words import clock, figures, mark_place_words
from counting.pacing.model.beliefs import Belief, unbroken_name
from counting.pacing.search.advice import FORECAST_DRAWS, Advice, Target
from counting.pacing.search.plan import plural

OUT_OF_REACH: Final = 0.01
"""A target that a smaller share of plays reaches is called out of reach."""

BOLDER_SHARE: Final = 0.85
"""A plan that asks for less than this share of the time filmed says so."""

CLEAR_HOLD: Final = 0.3
"""Rank correlation with the score from which not knowing a capacity is worth telling."""


def notes_of(
    advice: Advice,
    beliefs: Sequence[Belief],
    longest_sets: Sequence[tuple[str, int]],
    seed: int,
) -> list[str]:
    """Tell what limits a plan.

    Parameters
    ----------
    advice
        The plan and its forecasts.
    beliefs
        What is believed of the athlete.
    longest_sets
        Movement and longest planned set of every station on the card.
    seed
        The seed the advice was made with.
    """
    notes = []
    target = advice.target
    if target is not None and np.mean(target.reached(advice.forecast)) < OUT_OF_REACH:
        notes.append(
            f"The target, {target_words(target)}, is out of reach here: fewer than 1 in 100 "
            "attempts get there. The plan goes for the best score instead."
        )
    notes += _bolder_than_filmed(advice)
    notes += _never_filmed(advice)
    notes += _longer_than_filmed(advice, longest_sets)
    notes += _would_sharpen(advice, beliefs, seed)
    return notes


def target_words(target: Target) -> str:
    """Tell what a target asks for."""
    work = "all reps" if target.reps is None else f"{target.reps} reps"
    return work if target.time_s is None else f"{work} within {clock(target.time_s)}"


def _bolder_than_filmed(advice: Advice) -> list[str]:
    """Hold the plan against the last attempt at the same work, where there is one."""
    course = advice.course
    if not advice.fit.attempts:
        return []
    last = advice.fit.attempts[-1]
    clocks_s = last.clocks_s(
        [((s.block, s.round, s.number), s.movement, s.reps) for s in course.stations]
    )
    if not clocks_s:
        return []
    seen_s, place = clocks_s[-1], len(clocks_s) - 1
    number = sum(station.reps for station in course.stations[: place + 1])
    planned_s = float(np.median(advice.forecast.clock_at(number)))
    if not planned_s < BOLDER_SHARE * seen_s:
        return []
    return [
        f"On film {mark_place_words(course, place)} ended at {clock(seen_s)}; this plan means "
        f"{clock(planned_s)}, by other sets and shorter rests. If that looks bold, begin at the "
        "late end of the marks."
    ]


def _never_filmed(advice: Advice) -> list[str]:
    fit = advice.fit
    seen = {movement for attempt in fit.attempts for movement in attempt.movements}
    missing = [plural(name) for name in advice.course.movements if name not in seen]
    if not missing or not fit.attempts:
        return []
    return [
        f"Not on film: {', '.join(missing)}. What is said of them is assumed, or carried over from "
        "movements that load the same muscles."
    ]


def _longer_than_filmed(advice: Advice, longest_sets: Sequence[tuple[str, int]]) -> list[str]:
    told = []
    for name in advice.course.movements:
        filmed = max((attempt.longest_set(name) for attempt in advice.fit.attempts), default=0)
        planned = max((size for movement, size in longest_sets if movement == name), default=0)
        if 0 < filmed < planned and name not in advice.fit.typed:
            told.append(f"{planned} {plural(name, planned)} (filmed: {filmed})")
    if not told:
        return []
    return [
        f"Longer than any set filmed: {', '.join(told)}. Try it in training, short of failure, "
        "before you rely on it."
    ]


def _would_sharpen(advice: Advice, beliefs: Sequence[Belief], seed: int) -> list[str]:
    """Name the unbroken set on which the forecast hangs most, if it hangs on one."""
    course = advice.course
    draws = advice.fit.draws(FORECAST_DRAWS, seed + 1)
    score = advice.forecast.score(course)
    best: tuple[float, str] = (CLEAR_HOLD, "")
    for name in course.movements:
        unbroken = draws.unbroken[:, draws.column(name)]
        if name not in advice.fit.typed and np.ptp(score) > 0:
            best = max(best, (float(spearmanr(unbroken, score).statistic), name))
    if not best[1]:
        return []
    name = best[1]
    belief = next(item for item in beliefs if item.name == unbroken_name(name))
    low, _, high = figures(belief.low, belief.typical, belief.high)
    return [
        f"What would sharpen this plan most: how many {plural(name)} you do unbroken when fresh "
        f"(believed: {low} to {high}). Find it on another day, and plan again with "
        f'--unbroken "{name}=REPS".'
    ]
