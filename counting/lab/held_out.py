"""Verdicts on bodies that the calibration has never seen.

    python -m counting.lab.held_out [READINGS] [--packaged]

For each body the table is made from the films of all others, and that body's films are judged by
it. The packaged table is made from all of them: this tells what it is worth on the next.
"""

import argparse
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from counting.checks.coverage import why_not_judged
from counting.checks.errors import infer_readings, readings_of
from counting.checks.inference import Posterior
from counting.checks.judge import combined
from counting.checks.reading import CheckClues
from counting.checks.table import CalibrationTable, Provenance, packaged_table
from counting.decision.conformance import UNDECIDED, Risk
from counting.decision.counting_reps import count_distribution
from counting.lab.calibrate import READINGS, build_table, shown_in
from counting.lab.judged import view_suits
from counting.lab.readings import FilmSamples, Sample, load_readings, margin_of
from counting.lab.verdict_tables import JudgedCheck, JudgedFilm, JudgedRep, verdict_report
from counting.movements.loader import find_movement
from counting.movements.types import Movement


def judge_held_out(films: Sequence[FilmSamples], risk: Risk) -> Iterator[JudgedFilm]:
    """Judge each body's films, those of which every check is, by the table of all other bodies."""
    shown = shown_in(films)
    known = CalibrationTable({}, Provenance("all films"), shown)
    for body in sorted({film.body for film in films if is_judged(film, known)}):
        others = [film for film in films if film.body != body]
        table = replace(build_table(others, Provenance(f"without {body}")), shown=shown)
        for film in films:
            if film.body == body and is_judged(film, known):
                yield judged_film(film, risk, table)


def is_judged(film: FilmSamples, table: CalibrationTable) -> bool:
    """Whether every check of the film's standard is judged by a table and was read.

    Others only count.
    """
    movement = find_movement(film.movement)
    read = {sample.check.name for sample in film.samples}
    return bool(movement.checks) and all(
        check.name in read and why_not_judged(check, movement, table) is None
        for check in movement.checks
    )


def infer_sample(
    sample: Sample, movement: Movement, table: CalibrationTable, column: int, checks: int
) -> Posterior | None:
    """Infer one check on all reps of a film; None where it cannot be judged from its view."""
    check, reps = sample.check, len(sample.rep_truth)
    read = CheckClues(check, (None,) * reps, sample.rep_features, sample.rep_factors)
    entry = table.find(check.quantity, movement.base, check.phase)
    readings = readings_of(read, entry, sample.view_deg)
    if entry is None or readings is None:
        return None
    return infer_readings(readings, entry.before, check, column, checks)


def judged_film(film: FilmSamples, risk: Risk, table: CalibrationTable) -> JudgedFilm:
    """Judge the reps found in one film by a table, and put each beside its truth."""
    movement = find_movement(film.movement)
    of_standard = {sample.check.name: sample for sample in film.samples}
    samples = [of_standard[c.name] for c in movement.checks if c.name in of_standard]
    found = len(samples[0].rep_truth)
    known = [
        infer_sample(sample, movement, table, column, len(samples))
        for column, sample in enumerate(samples)
    ]
    judged = combined(known, found, risk)
    reps = []
    for index in range(found):
        checks = [
            _judged_check(sample, posterior, index)
            for sample, posterior in zip(samples, known, strict=True)
        ]
        if any(math.isnan(check.true_value) for check in checks):
            continue
        reps.append(
            JudgedRep(
                film=film.name,
                movement=film.movement,
                view_deg=film.azimuth_deg,
                verdict=judged.states[index],
                probability_good=float(judged.probability_good[index]),
                truly_good=all(check.true_margin >= 0 for check in checks),
                checks=tuple(checks),
                view_suits=view_suits(movement, film.azimuth_deg),
            )
        )
    counted = count_distribution(list(judged.probability_good), judged.shared_error)
    return JudgedFilm(
        name=film.name,
        movement=film.movement,
        true_reps=len(film.true_good),
        true_good=sum(film.true_good),
        found=found,
        distribution=tuple(float(p) for p in counted),
        reps=tuple(reps),
    )


def _judged_check(sample: Sample, posterior: Posterior | None, index: int) -> JudgedCheck:
    truth = float(sample.rep_truth[index])
    read = (math.nan, math.nan, UNDECIDED)
    if posterior is not None:
        read = (
            float(posterior.value[index]),
            float(posterior.uncertainty[index]),
            float(posterior.probability_met[index]),
        )
    return JudgedCheck(
        quantity=sample.check.quantity,
        unit=sample.check.unit,
        value=read[0],
        uncertainty=read[1],
        true_value=truth,
        true_margin=margin_of(truth, sample.check),
        probability_met=read[2],
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables of verdicts on bodies left out."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.held_out", description=__doc__)
    parser.add_argument("readings", nargs="?", type=Path, default=READINGS)
    parser.add_argument(
        "--packaged",
        action="store_true",
        help="judge by the packaged table: for films of bodies that it was not made from",
    )
    options = parser.parse_args(arguments)
    films = load_readings(options.readings)
    if options.packaged:
        table = packaged_table()
        judged = [judged_film(f, Risk(), table) for f in films if is_judged(f, table)]
    else:
        judged = list(judge_held_out(films, Risk()))
    print(verdict_report(judged))


if __name__ == "__main__":
    main()
