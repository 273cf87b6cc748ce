"""Verdicts of audit records beside the truth."""

import math

from counting.checks.coverage import judged_views
from counting.checks.table import view_name
from counting.lab.accuracy import Found
from counting.lab.labels import LabelledFilm, TrueRep
from counting.lab.matching import match
from counting.lab.verdict_tables import JudgedCheck, JudgedFilm, JudgedRep
from counting.movements.types import Movement
from counting.record.types import AuditRecord, CheckPart, RepPart


def found_in_record(record: AuditRecord) -> Found:
    """Repetitions and breaks of an audit record."""
    return Found(
        reps=tuple((rep.start_s, rep.end_s) for rep in record.reps),
        breaks=tuple((gap.start_s, gap.end_s) for gap in record.breaks),
    )


def judged_film(film: LabelledFilm, record: AuditRecord, movement: Movement) -> JudgedFilm:
    """Pair the record's verdicts with the truth, judged by the same standard.

    Repetitions without partner are no matter of verdicts: the count tells of them.
    """
    pairs = match(
        [(rep.start_s, rep.end_s) for rep in film.reps], found_in_record(record).reps
    ).pairs
    distribution = [0.0] * (1 + max((c.good for c in record.counts.distribution), default=0))
    for count in record.counts.distribution:
        distribution[count.good] = count.probability
    return JudgedFilm(
        name=film.name,
        movement=film.movement,
        true_reps=len(film.reps),
        true_good=sum(_truly_good(rep, movement) for rep in film.reps),
        found=len(record.reps),
        distribution=tuple(distribution),
        reps=tuple(_judged(film, film.reps[i], record.reps[j], movement) for i, j in pairs),
    )


def _truly_good(rep: TrueRep, movement: Movement) -> bool:
    margins = [rep.margin(check) for check in movement.checks]
    return all(margin is None or margin >= 0 for margin in margins)


def _judged(film: LabelledFilm, true: TrueRep, rep: RepPart, movement: Movement) -> JudgedRep:
    margins = [true.margin(check) for check in movement.checks]
    readings = {check.name: check for check in rep.checks}
    checks = tuple(
        _judged_check(readings[check.name], margin)
        for check, margin in zip(movement.checks, margins, strict=True)
        if margin is not None and check.name in readings
    )
    return JudgedRep(
        film=film.name,
        movement=film.movement,
        view_deg=film.view_deg,
        verdict=rep.verdict,
        probability_good=rep.probability_good,
        truly_good=_truly_good(true, movement),
        checks=checks,
        view_suits=view_suits(movement, film.view_deg),
    )


def view_suits(movement: Movement, view_deg: float) -> bool:
    """Whether every check of a movement can be judged from a view, by the packaged table."""
    view = view_name(view_deg)
    if view is None:
        return False
    return all(view in judged_views(check, movement) for check in movement.checks)


def _judged_check(reading: CheckPart, margin: float) -> JudgedCheck:
    sign = 1.0 if reading.relation == "at least" else -1.0
    return JudgedCheck(
        quantity=reading.quantity,
        unit=reading.unit,
        value=math.nan if reading.value is None else reading.value,
        uncertainty=math.nan if reading.uncertainty is None else reading.uncertainty,
        true_value=reading.limit + sign * margin,
        true_margin=margin,
        probability_met=reading.probability_met,
    )
