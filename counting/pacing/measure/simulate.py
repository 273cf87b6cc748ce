"""Simulated athletes and attempts, whose truth is known: what the model is measured against."""

from dataclasses import replace
from typing import Final

import numpy as np

from counting.pacing.model.athlete import (
    BREAK_SPREAD,
    TRANSITION_S,
    TRANSITION_SPREAD,
    Athletes,
    Form,
    athletes_at,
    space_for,
)
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.exertion import (
    after_rep,
    after_rest,
    cycle_time_s,
    fresh,
    levels_of,
    rep_cost,
    success_probability,
    work_of,
)
from counting.pacing.model.gaps import GAP_SPREAD
from counting.pacing.search.course import Course
from counting.pacing.search.plan import Plan

USUAL_EXTRA_REST_S: Final = 10.0
"""Mean seconds that simulated athletes rest beyond the shortest gap."""


def drawn_athlete(movements: tuple[str, ...], random: np.random.Generator, form: Form) -> Athletes:
    """Draw one athlete of a form from what is assumed before anything was measured."""
    space = space_for(movements)
    scores = random.standard_normal((1, space.size))
    athlete = athletes_at(space, scores, form)
    breaks = athlete.shortest_break_s * np.exp(
        BREAK_SPREAD * random.standard_normal(athlete.shortest_break_s.shape)
    )
    transition = TRANSITION_S * np.exp(TRANSITION_SPREAD * random.standard_normal(1))
    return replace(athlete, shortest_break_s=breaks, transition_s=transition)


def shown_attempt(
    athlete: Athletes, course: Course, plan: Plan, random: np.random.Generator
) -> Attempt:
    """Let an athlete do the sets of a plan with rests of own choosing, and film it.

    A rep that gives out ends the set: what is left of it follows after another break. The attempt
    stops at the course's clock.
    """
    missing, spent = fresh(athlete)
    clock_s, set_number = 0.0, 0
    reps: list[SeenRep] = []
    for place, (station, stint) in enumerate(zip(course.stations, plan, strict=True)):
        work = work_of(athlete, station.movement, station.load_kg)
        refused = float(athlete.refused[0, athlete.column(station.movement)])
        shortest_s = float(athlete.shortest_break_s[0, athlete.column(station.movement)])
        gap_s = _gap_s(float(athlete.transition_s[0]), random) if place else 0.0
        left, spent = list(stint.sets), np.zeros(1)
        while left:
            gap_s = max(gap_s, station.fixed_rest_s if left == list(stint.sets) else 0.0)
            missing, spent = after_rest(athlete, missing, spent, np.array([gap_s]))
            clock_s += gap_s
            set_number += 1
            size, left = left[0], left[1:]
            done = 0
            while done < size:
                if clock_s > course.cap_s:
                    return Attempt(tuple(reps), 0.0)
                cost, levels = rep_cost(work, spent), levels_of(missing)
                went = random.random() < float(success_probability(work, levels, cost)[0])
                noise = np.exp(float(athlete.rhythm_noise[0]) * random.standard_normal())
                time_s = cycle_time_s(work, levels, 1.0) * noise
                missing = after_rep(athlete, work, missing, cost, time_s)
                spent = spent + 1.0
                counts = went and random.random() >= refused
                end_s = clock_s + float(time_s[0])
                reps.append(
                    SeenRep(
                        station.movement,
                        clock_s,
                        end_s,
                        set_number,
                        None if went and not counts else not went,
                        (station.block, station.round, station.number),
                        station.load_kg,
                        refused=float(not counts),
                    )
                )
                clock_s = end_s
                if not went:
                    left = [size - done, *left]
                    break
                done += counts
            gap_s = _gap_s(shortest_s, random)
    return Attempt(tuple(reps), 0.0)


def _gap_s(shortest_s: float, random: np.random.Generator) -> float:
    noise = max(1.0 + GAP_SPREAD * random.standard_normal(), 0.2)
    return shortest_s * noise + float(random.exponential(USUAL_EXTRA_REST_S))
