"""How often what was believed and foretold of simulated athletes held."""

from typing import TypeAlias

import numpy as np

from counting.pacing.measure.simulate import drawn_athlete, shown_attempt
from counting.pacing.model.athlete import FORMS, Athletes
from counting.pacing.model.day import Noise, on_the_day
from counting.pacing.model.fit import AthleteFit, fit_athlete
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.course import Course, Station
from counting.pacing.search.forecast import forecast
from counting.pacing.search.plan import Plan, uniform_plan

Sizes: TypeAlias = dict[str, tuple[int, ...]]

PARTS = (("thruster", 8), ("push-up", 8), ("chest-to-bar pull-up", 6))
FIRST_SETS: Sizes = {"thruster": (4, 4), "push-up": (4, 4), "chest-to-bar pull-up": (3, 3)}
NEXT_SETS: Sizes = {"thruster": (8,), "push-up": (4, 4), "chest-to-bar pull-up": (2, 2, 2)}


def simulated_course(rounds: int, cap_s: float) -> Course:
    """Make rounds of three movements that share muscles, for simulated attempts."""
    stations = tuple(
        Station(movement, reps, 1, number, place)
        for number in range(1, rounds + 1)
        for place, (movement, reps) in enumerate(PARTS, start=1)
    )
    return Course("simulated", stations, cap_s, finishing=True)


def parameters_of(athletes: Athletes) -> FloatArray:
    """All parameters of a batch as columns, shape ``(n, K)``."""
    return np.column_stack(
        [
            athletes.cycle_s,
            athletes.unbroken,
            athletes.shortest_break_s,
            athletes.transition_s,
            athletes.slow_down,
            athletes.slow_power,
            athletes.late_cost,
            athletes.local_refill_s,
            athletes.whole_refill_s,
            athletes.whole_work_s,
            athletes.rhythm_noise,
        ]
    )


def inside_intervals(seed: int, rounds: int = 2) -> FloatArray:
    """Simulate one athlete and attempt, fit, and say which true parameters lie in 95 % intervals.

    Returns
    -------
    Shape ``(K,)`` of 0 and 1.
    """
    random = np.random.default_rng(seed)
    course = simulated_course(rounds, 720.0)
    true_form = FORMS[seed % len(FORMS)]
    athlete = drawn_athlete(course.movements, random, true_form)
    plan = uniform_plan(course, FIRST_SETS, 6.0)
    attempt = shown_attempt(athlete, course, plan, random)
    form = fit_athlete([attempt], course.movements, seed=seed, forms=(true_form,)).forms[0]
    truth = parameters_of(athlete)[0]
    low, high = np.quantile(parameters_of(form.draws), (0.025, 0.975), axis=0)
    inside: FloatArray = ((truth >= low) & (truth <= high)).astype(np.float64)
    return inside


def inside_forecast(seed: int, rounds: int = 2) -> FloatArray:
    """Simulate a first and a second attempt; say whether the second lay in its 80 % interval.

    Both attempts have a form of the day. The outcome is the clock when the work is done; the chance
    of a tie at the interval's ends (neither finishing) is spread evenly.
    """
    random = np.random.default_rng([seed, 1])
    first = simulated_course(rounds, 1500.0)
    athlete = drawn_athlete(first.movements, random, FORMS[seed % len(FORMS)])
    day = Noise().form_of_day
    shown = shown_attempt(
        on_the_day(athlete, random, day), first, uniform_plan(first, FIRST_SETS, 6.0), random
    )
    fit = fit_athlete([shown], first.movements, seed=seed)
    second = simulated_course(rounds + 1, 1500.0)
    plan = uniform_plan(second, NEXT_SETS, 8.0)
    truth = forecast(athlete, second, plan, seed + 7).rep_s[0, -1]
    foretold = _foretold(fit, second, plan, seed)
    below = float(np.mean(foretold < truth))
    same = float(np.mean(foretold == truth))
    rank = below + random.random() * same
    return np.array(float(0.1 <= rank <= 0.9))


def _foretold(fit: AthleteFit, course: Course, plan: Plan, seed: int) -> FloatArray:
    """Finishing times of a plan under what is believed of an athlete after one attempt."""
    played = forecast(fit.draws(400, seed), course, plan, seed, fit.noise)
    return played.clock_at(course.reps)
