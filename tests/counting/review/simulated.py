"""Simulated films of one user, read by the tool and decided by people who slip now and then.

The model that makes them is written here anew and is simpler than the one that learns from them:
errors are normal, reviewers know the truth but for a share of slips.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from counting.checks.inference import AS_LABELLED, FilmError, Posterior, posterior_of_reps
from counting.checks.table import packaged_digest, packaged_table
from counting.movements.loader import find_movement
from counting.record.types import AuditRecord, CheckPart, ReadingPart
from counting.review.decisions import Decision
from counting.review.sheet import ReviewedSheet, reviewed_sheet
from tests.conftest import make_attempt

MOVEMENT = find_movement("air squat")
ENTRIES = [packaged_table().entries[f"{c.quantity} / standing"] for c in MOVEMENT.checks]
VIEW = "side"
DEPTH = 0
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SquatFilm:
    """Squats of one film: (checks, reps) true values and readings; (reps,) truth of a rep."""

    true: Floats
    reading: Floats
    good: npt.NDArray[np.bool_]

    def posteriors(self, depth_error: FilmError = AS_LABELLED) -> list[Posterior]:
        """Infer all checks, depth with what was learnt of it."""
        return [
            posterior_of_reps(
                self.reading[k],
                np.full(self.reading.shape[1], entry.within[VIEW]),
                np.full(self.reading.shape[1], entry.between[VIEW]),
                entry.before,
                check.limit,
                check.relation,
                k,
                len(ENTRIES),
                depth_error if k == DEPTH else AS_LABELLED,
            )
            for k, (check, entry) in enumerate(zip(MOVEMENT.checks, ENTRIES, strict=True))
        ]


def squat_film(
    rng: np.random.Generator, reps: int, offset_cm: float, spread_cm: float
) -> SquatFilm:
    """Film squats whose depth is read too high by an offset that all films share, and one more."""
    true, reading = [], []
    for k, entry in enumerate(ENTRIES):
        usual = rng.normal(entry.before.usual, entry.before.usual_spread, reps)
        values, off = usual, 0.0
        if k == DEPTH:
            values = np.where(rng.random(reps) < 0.5, usual, rng.uniform(-8, 8, reps))
            off = rng.normal(offset_cm, spread_cm)
        true.append(values)
        reading.append(values + off + rng.normal(0, entry.within[VIEW], reps))
    known = np.array(true)
    met = [
        values <= check.limit if check.relation == "at most" else values >= check.limit
        for values, check in zip(known, MOVEMENT.checks, strict=True)
    ]
    return SquatFilm(known, np.array(reading), np.all(met, axis=0))


def record_of(film: SquatFilm, number: int) -> AuditRecord:
    """Make the record that an audit of the film would write, in what is learnt from."""
    reps = film.reading.shape[1]
    made = make_attempt(sets=(reps,), no_reps=(), too_close=(), sha256=f"{number:064x}")
    posteriors = film.posteriors()
    parts = [
        replace(
            part,
            movement=MOVEMENT.name,
            checks=[_check(k, i, posterior) for k, posterior in enumerate(posteriors)],
        )
        for i, part in enumerate(made.reps)
    ]
    return replace(
        made,
        movement=MOVEMENT.name,
        reps=parts,
        camera=replace(made.camera, view_deg=90.0),
        versions=replace(made.versions, calibration=packaged_digest()),
    )


def _check(k: int, i: int, posterior: Posterior) -> CheckPart:
    check = MOVEMENT.checks[k]
    return CheckPart(
        name=check.name,
        words=check.words,
        quantity=check.quantity,
        at_s=1.0,
        value=float(posterior.value[i]),
        relation=check.relation,
        limit=check.limit,
        unit=check.unit,
        uncertainty=float(posterior.uncertainty[i]),
        probability_met=float(posterior.probability_met[i]),
        verdict="too close",
        reading=ReadingPart(
            value=float(posterior.reading[i]),
            own_error=float(posterior.own_error[i]),
            film_error=float(posterior.film_error[i]),
        ),
    )


def sheet_of(film: SquatFilm, number: int, rng: np.random.Generator, slips: float) -> ReviewedSheet:
    """Let one reviewer decide all reps; a share of the calls is the toss of a coin."""
    record = record_of(film, number)
    tossed = rng.random(len(film.good)) < slips
    called = np.where(tossed, rng.random(len(film.good)) < 0.5, film.good)
    calls = [
        Decision(
            index + 1,
            record.film.sha256,
            part.number,
            part.movement,
            part.turn_s,
            "Ama",
            "good" if called[index] else "no-rep",
            "",
            "2026-11-25T09:00:00.000+00:00",
        )
        for index, part in enumerate(record.reps)
    ]
    return reviewed_sheet(record, calls)


def sheets(
    seed: int, films: int, reps: int, *, offset_cm: float, spread_cm: float, slips: float = 0.03
) -> list[ReviewedSheet]:
    """Film and decide some films of one user."""
    rng = np.random.default_rng(seed)
    return [
        sheet_of(squat_film(rng, reps, offset_cm, spread_cm), number, rng, slips)
        for number in range(films)
    ]
