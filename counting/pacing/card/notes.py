"""What a reader has to know beside the plan: what was not filmed, what would sharpen it most."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.stats import spearmanr

from counting.pacing.card.words import figures, mark_place_words
from counting.pacing.model.beliefs import Belief, unbroken_name
from counting.pacing.model.known import Known
from counting.pacing.search.advice import FORECAST_DRAWS, Advice, Correction, Price
from counting.pacing.search.course import Course
from counting.pacing.search.departures import plan_words
from counting.pacing.search.plan import plural
from counting.pacing.search.utility import Target, scale_of, utility
from vision.times import clock

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
    notes += shape_words(advice.course)
    notes += _bolder_than_filmed(advice)
    notes += _tie_break_for_reps(advice)
    notes += _never_filmed(advice)
    notes += _longer_than_filmed(advice, longest_sets)
    notes += _would_sharpen(advice, beliefs, seed)
    return notes


def shape_words(course: Course) -> list[str]:
    """Tell what the plan takes for granted of a workout that is more than reps of one athlete."""
    told = []
    if course.athletes > 1:
        turn = "a set" if course.turns == "sets" else "a round"
        told.append(
            f"This is the plan of one of {course.athletes} athletes who take turns, {turn} each, "
            "and of the one who goes last. The reps are this athlete's share; rests and times hold "
            "if the others go alike. Make a plan for each, and agree on the sets of the weakest."
        )
    if any(station.timed_s is not None for station in course.stations):
        told.append(
            "Distances, calories and holds are planned at an even pace that leaves breath for the "
            "reps after them; how long each takes is typed in or usual, and counts no reps."
        )
    if course.penalty_after is not None:
        told.append(
            f"Every {course.penalty_after} costs about {course.penalty_s:.0f} s of penalty reps; "
            "the plan allows for their time, and not for the strength they take."
        )
    if not all(station.scored for station in course.stations):
        told.append("Work that is not scored is planned, and is no part of the reps told.")
    return told


def target_words(target: Target) -> str:
    """Tell what a target asks for."""
    work = "all reps" if target.reps is None else f"{target.reps} reps"
    return work if target.time_s is None else f"{work} within {clock(target.time_s, 0)}"


def typed_words(known: Known, movements: Sequence[str]) -> list[str]:
    """Tell what was typed in, as far as it is of some movements or of all."""
    told = []
    for name, item in known.movements.items():
        if name not in movements:
            continue
        parts = []
        if item.unbroken is not None:
            at = f" with {item.at_kg:g} kg" if item.at_kg else ""
            parts.append(f"{item.unbroken:g} unbroken{at}")
        if item.maximum_kg is not None:
            parts.append(f"one-rep maximum {item.maximum_kg:g} kg")
        if item.rep_s is not None:
            parts.append(f"{item.rep_s:g} s a rep")
        if item.break_s is not None:
            parts.append(f"shortest break {item.break_s:g} s")
        told.append(f"{name}: {', '.join(parts)}")
    if known.rest_s is not None:
        told.append(f"rests usually {known.rest_s:g} s")
    if known.changeover_s is not None:
        told.append(f"transition {known.changeover_s:g} s")
    if known.engine is not None:
        told.append(f"engine {100 * known.engine:.0f} % of usual")
    if known.age_years is not None:
        told.append(f"age {known.age_years:g}")
    return told


def no_rep_words(corrections: Sequence[Correction]) -> list[str]:
    """Tell what refused reps cost, movement by movement, and what to do about them."""
    told = []
    for item in corrections:
        seen = item.seen
        fault = f" ({seen.fault})" if seen.fault else ""
        late = ", most of them in the second half" if seen.late else ""
        gain = _gain_words(item.price)
        told.append(
            f"{plural(seen.movement)}: {seen.refused:.0f} of {seen.tried:.0f} filmed reps would "
            f"not count{fault}{late}. The plan's times allow for that; if every "
            f"rep counts, you gain {gain}."
        )
    return told


def _gain_words(price: Price) -> str:
    if price.time_s is not None and abs(price.time_s) >= 1.0:
        return f"{-price.time_s:.0f} s"
    return f"{max(-price.reps, 0.0):.1f} reps"


def bad_day_words(advice: Advice) -> str:
    """Tell the plan for a weaker day."""
    day = advice.bad_day
    course = advice.course
    words = plan_words(course, day.plan)
    if course.finishing and np.mean(np.isfinite(day.played.rep_s[:, -1])) > 0.5:
        earns = f"finish about {clock(float(np.median(day.played.rep_s[:, -1])), 0)}"
    else:
        earns = f"about {np.median(day.played.reps):.0f} reps"
    if words == plan_words(course, advice.chosen):
        return (
            f"If the warm-up feels heavy: the same sets, {earns}; give up the marks, not the sets."
        )
    return f"If the warm-up feels heavy: {words}; {earns}."


def _tie_break_for_reps(advice: Advice) -> list[str]:
    """State the risk where the plan gives up reps for an earlier tie-break."""
    price = advice.most_reps
    if price is None or price.reps > -0.1 or price.equal or price.time_s is None:
        return []
    later = "later" if price.time_s >= 0.0 else "earlier"
    finishes = np.mean(np.isfinite(advice.forecast.rep_s[:, -1])) > 0.5
    mark = "finish" if advice.course.finishing and finishes else "tie-break"
    return [
        f"The plan ranks outcomes as the event does: score, then {mark}. With {price.words} you "
        f"would do {-price.reps:.1f} reps more on average, and the {mark} would come "
        f"{abs(price.time_s):.0f} s {later}; that ranks lower in {10 * price.worse:.0f} of 10 "
        "attempts."
    ]


def _bolder_than_filmed(advice: Advice) -> list[str]:
    """Hold the plan against the last attempt at the same work, where there is one."""
    course = advice.course
    if not advice.fit.attempts:
        return []
    last = advice.fit.attempts[-1]
    clocks_s = last.clocks_s(course.places)
    if not clocks_s:
        return []
    seen_s, place = clocks_s[-1], len(clocks_s) - 1
    number = sum(station.reps for station in course.stations[: place + 1])
    planned_s = float(np.median(advice.forecast.clock_at(number)))
    if not planned_s < BOLDER_SHARE * seen_s:
        return []
    return [
        f"On film {mark_place_words(course, place)} ended at {clock(seen_s, 0)}; this plan means "
        f"{clock(planned_s, 0)}, by other sets and shorter rests. If that looks bold, begin at the "
        "late end of the times."
    ]


def _never_filmed(advice: Advice) -> list[str]:
    fit = advice.fit
    seen = {movement for attempt in fit.attempts for movement in attempt.movements}
    missing = [plural(name) for name in advice.course.movements if name not in seen]
    if not missing or not fit.attempts:
        return []
    return [
        f"Not on film: {', '.join(missing)}. What the plan says of them is assumed, or "
        "taken from movements that use the same muscles."
    ]


def _longer_than_filmed(advice: Advice, longest_sets: Sequence[tuple[str, int]]) -> list[str]:
    told = []
    for name in advice.course.movements:
        filmed = max((attempt.longest_set(name) for attempt in advice.fit.attempts), default=0)
        planned = max((size for movement, size in longest_sets if movement == name), default=0)
        if 0 < filmed < planned and name not in advice.fit.known.capacities:
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
    score = utility(course, advice.forecast, scale_of(course, advice.forecast))
    best: tuple[float, str] = (CLEAR_HOLD, "")
    for name in course.movements:
        unbroken = draws.unbroken[:, draws.column(name)]
        if name not in advice.fit.known.capacities and np.ptp(score) > 0:
            best = max(best, (float(spearmanr(unbroken, score).statistic), name))
    if not best[1]:
        return []
    name = best[1]
    belief = next(item for item in beliefs if item.name.startswith(unbroken_name(name)))
    low, _, high = figures(belief.low, belief.typical, belief.high)
    return [
        f"To sharpen this plan most, find out how many {plural(name)} you can do unbroken when "
        f"fresh (estimate: {low} to {high}). Test it on another day and plan again with "
        f'--unbroken "{name}=REPS".'
    ]
