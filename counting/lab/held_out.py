"""Verdicts on bodies that the calibration has never seen.

    python -m counting.lab.held_out CLIPS_DIR... --tracks DIR [--packaged]

For each body the table is made from the films of all others, and that body's films are counted and
judged by it. The packaged table is made from all of them: this tells what it is worth on the next.
"""

import argparse
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from counting.body.motion import fit_body
from counting.body.sides import settled_sides
from counting.checks.judge import judge
from counting.checks.phases import rep_rows
from counting.checks.table import CalibrationTable, packaged_table
from counting.checks.types import RepVerdict
from counting.decision.conformance import Risk
from counting.lab.body_truth import BodyTruth, films_with_landmarks
from counting.lab.calibrate import build_table
from counting.lab.judged import view_suits
from counting.lab.matching import match
from counting.lab.samples import Sample, film_samples
from counting.lab.verdict_tables import JudgedCheck, JudgedRep, verdict_report
from counting.timeline import find_reps
from vision.track import PoseTrack


@dataclass(frozen=True, slots=True, eq=False)
class Labelled:
    """A labelled film, its landmarks, and what calibration learns from it."""

    film: BodyTruth
    track: PoseTrack
    samples: tuple[Sample, ...]


def read_films(folders: Sequence[Path], tracks: Path) -> list[Labelled]:
    """Read every labelled film whose landmark file lies in ``tracks``.

    Raises
    ------
    counting.body.motion.BodyFitError
        The athlete is hardly seen.
    """
    films = []
    for film, track in films_with_landmarks(folders, tracks):
        rows = rep_rows(track.time_s, film.reps)
        motion = fit_body(settled_sides(track), rows, film.movement.base)
        films.append(Labelled(film, track, tuple(film_samples(film, track, motion))))
    return films


def judge_held_out(films: Sequence[Labelled], risk: Risk) -> Iterator[JudgedRep]:
    """Judge each body's films by the table of all other bodies."""
    for body in sorted({one.film.body for one in films}):
        others = [sample for one in films if one.film.body != body for sample in one.samples]
        table = build_table(others, f"without {body}")
        for one in films:
            if one.film.body == body:
                yield from judged_reps(one.film, one.track, risk, table)


def judged_reps(
    film: BodyTruth, track: PoseTrack, risk: Risk, table: CalibrationTable
) -> Iterator[JudgedRep]:
    """Find and judge the reps of one film by a table, and put each beside its truth."""
    found = find_reps(track, film.movement).reps
    verdicts = judge(track, found, film.movement, risk, table).verdicts
    pairs = match(
        [(rep.start_s, rep.end_s) for rep in film.reps],
        [(rep.start_s, rep.end_s) for rep in found],
    ).pairs
    for true, seen in pairs:
        yield _beside_truth(film, true, verdicts[seen])


def _beside_truth(film: BodyTruth, index: int, verdict: RepVerdict) -> JudgedRep:
    checks = []
    for check, reading in zip(film.movement.checks, verdict.checks, strict=True):
        truth = film.true_value(film.reps[index], check)
        if truth is not None:
            checks.append(
                JudgedCheck(
                    quantity=check.quantity,
                    unit=check.unit,
                    value=math.nan if reading.value is None else reading.value,
                    uncertainty=math.nan if reading.uncertainty is None else reading.uncertainty,
                    true_value=truth,
                    true_margin=(truth - check.limit) * (1 if check.relation == "at least" else -1),
                    probability_met=reading.probability_met,
                )
            )
    return JudgedRep(
        film=film.name,
        movement=film.movement.name,
        view_deg=film.view_deg,
        verdict=verdict.verdict,
        probability_good=verdict.probability_good,
        truly_good=all(check.true_margin >= 0 for check in checks),
        checks=tuple(checks),
        view_suits=view_suits(film.movement, film.view_deg),
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables of verdicts on bodies left out."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.held_out", description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path, help="folders of labelled films")
    parser.add_argument("--tracks", type=Path, required=True, help="folder of landmark files")
    parser.add_argument(
        "--packaged",
        action="store_true",
        help="judge by the packaged table: for films of bodies that it was not made from",
    )
    options = parser.parse_args(arguments)
    films = read_films(options.folders, options.tracks)
    if options.packaged:
        reps = [
            rep
            for one in films
            for rep in judged_reps(one.film, one.track, Risk(), packaged_table())
        ]
    else:
        reps = list(judge_held_out(films, Risk()))
    print(verdict_report(reps))


if __name__ == "__main__":
    main()
