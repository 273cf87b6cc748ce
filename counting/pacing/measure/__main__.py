"""Measure the pacing model: ``python -m counting.pacing.measure FIGURE``.

- ``plans``: gain over uniform plans and over going unbroken, and whether 80 % intervals hold, on
  eight athletes and six formats, typed in or ``--filmed``, of the tool's own forms and of another
  make (``--truth own --truth tests.counting.pacing.independent``);
- ``coverage``: those intervals alone, which takes less and so can have more athletes;
- ``stability``: how often the scheme stays under 2 % noise and other seeds;
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

import numpy as np

from counting.lab.truth import movement_name
from counting.pacing.measure.coverage import (
    FIRST_SETS,
    inside_forecast,
    inside_intervals,
    simulated_course,
)
from counting.pacing.measure.round_times import leave_one_round_out
from counting.pacing.measure.simulate import drawn_athlete, shown_attempt
from counting.pacing.measure.tables import print_coverage, print_plans, print_stability
from counting.pacing.measure.trial import CAPACITIES, formats
from counting.pacing.model.attempt import Attempt, SeenRep, attempt_of
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.advice import advise
from counting.pacing.search.plan import uniform_plan
from counting.record.files import load_record


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
    athlete = drawn_athlete(course.movements, random, "linear")
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
    parser = argparse.ArgumentParser(
        prog="python -m counting.pacing.measure",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    figures = ("plans", "coverage", "stability", "intervals", "forecasts", "rounds", "speed")
    parser.add_argument("figure", choices=figures)
    parser.add_argument("files", nargs="*", type=Path, help="audits or truth files, for rounds")
    parser.add_argument("--count", type=int, help="simulated athletes")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument(
        "--truth",
        metavar="MODULE",
        action="append",
        help='module whose people() are tried, or "own" for the tool\'s own forms (default); '
        "may be given several times",
    )
    parser.add_argument(
        "--format",
        action="append",
        choices=[*formats()],
        help="only this one, for plans, coverage and stability; may be given several times",
    )
    parser.add_argument("--filmed", action="store_true", help="plan from a film, nothing typed in")
    parser.add_argument(
        "--workers", type=int, default=1, help="processes, for plans, coverage and stability"
    )
    parser.add_argument("--draws", type=int, default=10, help="seeds and draws, for stability")
    given = parser.parse_args()
    names = given.format or [*formats()]
    if given.figure in {"plans", "coverage"}:
        modules = [None if name == "own" else name for name in given.truth or ["own"]]
        told = print_plans if given.figure == "plans" else print_coverage
        told(modules, given.count or len(CAPACITIES), given.workers, names, filmed=given.filmed)
    elif given.figure == "stability":
        print_stability(given.count or len(CAPACITIES), given.draws, given.workers, names)
    elif given.figure == "intervals":
        _intervals(given.count or 500, given.first_seed)
    elif given.figure == "forecasts":
        _forecasts(given.count or 500, given.first_seed)
    elif given.figure == "rounds":
        _rounds(given.files)
    else:
        _speed()


if __name__ == "__main__":
    main()
