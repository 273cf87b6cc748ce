"""Measure the pacing model: ``python -m counting.pacing.measure FIGURE``.

- ``intervals``: share of simulated athletes' true parameters within their 95 % intervals;
- ``forecasts``: share of simulated second attempts within the 80 % interval foretold from a first;
- ``rounds AUDIT...``: leave-one-round-out error of round times, from audits or truth files;
- ``speed``: processor time of a plan for twelve minutes of three movements.
"""

import argparse
import json
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeAlias

import numpy as np

from counting.lab.truth import movement_name
from counting.pacing.advice import advise
from counting.pacing.athlete import FORMS, Athletes
from counting.pacing.attempt import Attempt, SeenRep, attempt_of
from counting.pacing.course import Course, Station
from counting.pacing.fit import AthleteFit, fit_athlete
from counting.pacing.forecast import Noise, forecast, on_the_day
from counting.pacing.plan import Plan, uniform_plan
from counting.pacing.reservoir import FloatArray
from counting.pacing.round_times import leave_one_round_out
from counting.pacing.simulate import drawn_athlete, shown_attempt
from counting.record.files import load_record

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
    athlete = drawn_athlete(course.movements, random)
    plan = uniform_plan(course, FIRST_SETS, 6.0)
    attempt = shown_attempt(athlete, course, plan, random)
    true_form = FORMS[int(athlete.exponential[0])]
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
    athlete = drawn_athlete(first.movements, random)
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


def labelled_attempt(path: Path) -> Attempt:
    """Read an attempt from an audit, or from a labelled film's truth file.

    A truth file numbers blocks, rounds and stations from 0.
    """
    if path.is_dir() or "truth" not in path.name:
        return attempt_of(load_record(path))
    truth = json.loads(path.read_text(encoding="utf-8"))
    reps = tuple(
        SeenRep(
            movement=movement_name(rep["movement"]),
            start_s=rep["start"],
            end_s=rep["end"],
            set_number=rep["set"],
            gave_out=None if rep["no_rep"] else False,
            place=(rep["block"] + 1, rep["round"] + 1, rep["station"] + 1),
        )
        for rep in truth["reps"]
    )
    return Attempt(reps, truth["blocks"][0]["start"])


def _measured(simulate: Callable[[int], FloatArray], count: int, first_seed: int) -> FloatArray:
    """Simulate athletes one by one; tell the share so far on the error stream."""
    found: list[FloatArray] = []
    for number in range(count):
        found.append(simulate(first_seed + number))
        if (number + 1) % 25 == 0:
            print(f"  {number + 1}: {100 * np.mean(found):.1f} %", file=sys.stderr, flush=True)
    return np.array(found)


def _intervals(count: int, first_seed: int) -> None:
    inside = _measured(inside_intervals, count, first_seed)
    print(f"true parameters within their 95 % intervals, {count} simulated athletes:")
    print(f"  all {100 * inside.mean():.1f} %, by parameter {np.round(100 * inside.mean(0), 1)}")


def _forecasts(count: int, first_seed: int) -> None:
    held = _measured(inside_forecast, count, first_seed)
    error = np.sqrt(held.mean() * (1 - held.mean()) / count)
    print(f"second attempts within the 80 % interval, {count} simulated athletes:")
    print(f"  {100 * held.mean():.1f} % (standard error {100 * error:.1f})")


def _rounds(files: list[Path]) -> None:
    errors = []
    for file in files:
        for item in leave_one_round_out(labelled_attempt(file)):
            errors.append(item.error)
            print(
                f"  {file}: block {item.block} round {item.round}: filmed {item.seen_s:.1f} s, "
                f"predicted {item.predicted_s:.1f} s ({100 * item.error:.1f} %)"
            )
    print(
        f"leave-one-round-out: mean {100 * np.mean(errors):.1f} %, worst {100 * max(errors):.1f} %"
    )


def _speed() -> None:
    course = replace(simulated_course(5, 720.0), tie_break_rep=88)
    random = np.random.default_rng(0)
    athlete = drawn_athlete(course.movements, random)
    attempt = shown_attempt(athlete, course, uniform_plan(course, FIRST_SETS, 6.0), random)
    begin_s = time.process_time()
    fit = fit_athlete([attempt], course.movements)
    fitted_s = time.process_time()
    advise(fit, course)
    print(
        f"twelve minutes of three movements, {len(attempt.reps)} reps seen: fit "
        f"{fitted_s - begin_s:.2f} s, plan {time.process_time() - fitted_s:.2f} s of processor time"
    )


def main() -> None:
    """Print one figure."""
    parser = argparse.ArgumentParser(prog="python -m counting.pacing.measure", description=__doc__)
    parser.add_argument("figure", choices=("intervals", "forecasts", "rounds", "speed"))
    parser.add_argument("files", nargs="*", type=Path, help="audits or truth files, for rounds")
    parser.add_argument("--count", type=int, default=500, help="simulated athletes")
    parser.add_argument("--first-seed", type=int, default=0)
    given = parser.parse_args()
    if given.figure == "intervals":
        _intervals(given.count, given.first_seed)
    elif given.figure == "forecasts":
        _forecasts(given.count, given.first_seed)
    elif given.figure == "rounds":
        _rounds(given.files)
    else:
        _speed()


if __name__ == "__main__":
    main()
