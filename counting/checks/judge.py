"""Judging the reps of one film by one movement's standard."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.body.kept import KeptFits
from counting.body.motion import STATURE_SPREAD, BodyFitError
from counting.body.skeleton import FloatArray
from counting.checks.inference import CASES, Posterior, posterior_of_reps
from counting.checks.phases import Stay
from counting.checks.reading import CheckClues, FilmReading, read_film
from counting.checks.table import (
    Calibration,
    CalibrationTable,
    Values,
    covered,
    packaged_table,
    view_name,
)
from counting.checks.types import CheckReading, Judgement, RepVerdict
from counting.checks.wording import no_view, not_seen, rep_reason, shortfall, view_advice
from counting.decision.combination import RepState, rep_state
from counting.decision.conformance import UNDECIDED, Risk, call_tails, decide
from counting.decision.counting_reps import shared_error
from counting.movements.types import Check, Movement
from counting.reps.types import Rep
from vision.track import PoseTrack

_MAD_TO_SD: Final = 1.4826
_MAD_EFFICIENCY: Final = 0.37
"""Of the median distance from the median as a measure of spread (Rousseeuw and Croux 1993)."""
_LEAST_SCATTER: Final = 0.05
_LARGEST_SCATTER: Final = 1.2
_TABLE_SPREAD: Final = 0.4
_SPREAD_A_FACTOR: Final = 0.35
"""How far the table's errors from rep to rep are from a film's true ones (log scale): where all is
seen, and more for each power of e of the error factor. From labelled films."""


def judge(
    track: PoseTrack,
    reps: Sequence[Rep],
    movement: Movement,
    risk: Risk,
    table: CalibrationTable | None = None,
    kept: KeptFits | None = None,
) -> Judgement:
    """Read every check of every rep and decide.

    Parameters
    ----------
    track
        Landmarks of the athlete.
    reps
        The reps of this movement, in film order.
    movement
        Its standard.
    risk
        How sure a definite verdict must be.
    table
        Calibration; the packaged one if None.
    kept
        Fits of earlier audits; None to make and keep none.

    Returns
    -------
    Judgement
        One verdict a rep, in order. A check that could not be read is "too close" with a reason.
    """
    if not reps:
        return _unfitted((), ())
    try:
        reading = read_film(track, reps, movement, movement.checks, kept)
    except BodyFitError as error:
        reason = f"cannot be judged: {error}"
        unread = [[_unread(check, reason)] * len(reps) for check in movement.checks]
        judged = combined([None] * len(unread), len(reps), risk)
        return _unfitted(_verdicts(reps, unread, judged, movement), (reason,))
    return judge_reading(reading, reps, movement, risk, table)


def judge_reading(
    reading: FilmReading,
    reps: Sequence[Rep],
    movement: Movement,
    risk: Risk,
    table: CalibrationTable | None = None,
) -> Judgement:
    """Decide on what was read of a film, as `judge`."""
    table = packaged_table() if table is None else table
    motion = reading.motion
    readings, known = [], []
    for column, features in enumerate(reading.checks):
        check = features.check
        entry = table.find(check.quantity, movement.base, check.phase)
        posterior = infer_check(features, entry, motion.view_deg, column, len(reading.checks))
        known.append(posterior)
        if posterior is None:
            readings.append([_unread(check, no_view(check, motion.view_deg))] * len(reps))
        else:
            readings.append(
                [_reading(check, stay, i, posterior, risk) for i, stay in enumerate(features.stays)]
            )
    judged = combined(known, len(reps), risk)
    verdicts = _verdicts(reps, readings, judged, movement)
    return Judgement(
        verdicts=verdicts,
        view_deg=motion.view_deg,
        view_uncertainty_deg=float(np.hypot(motion.yaw_u_deg, _VIEW_ERROR_DEG)),
        stature_m=motion.stature_m,
        stature_uncertainty_m=motion.stature_u_m,
        camera_distance_m=motion.camera.distance_m,
        camera_height_m=motion.camera.height_m,
        notes=view_advice(verdicts, movement, motion.view_deg, table),
        shared_error=judged.shared_error,
    )


_VIEW_ERROR_DEG: Final = 4.0
"""Root mean square error of the fitted view on labelled films beyond what the fit itself states."""


@dataclass(frozen=True, slots=True, eq=False)
class JudgedReps:
    """What all checks together say of each rep, (n,), and what their errors have in common."""

    states: tuple[RepState, ...]
    probability_good: FloatArray
    shared_error: float


def combined(known: Sequence[Posterior | None], reps: int, risk: Risk) -> JudgedReps:
    """Put the checks of each rep together; None stands for a check that cannot be judged."""
    good = np.ones((CASES, reps))
    met = np.full((len(known), reps), UNDECIDED)
    read = np.zeros((len(known), reps), np.bool_)
    for row, posterior in enumerate(known):
        if posterior is None:
            good *= UNDECIDED
            continue
        good *= posterior.given_film
        met[row], read[row] = posterior.probability_met, np.isfinite(posterior.value)
    joint = met.prod(axis=0)
    states: list[RepState] = []
    for i in range(reps):
        state = rep_state(list(met[:, i]), float(joint[i]), risk)
        states.append("too close" if state == "good" and not read[:, i].all() else state)
    return JudgedReps(tuple(states), joint, shared_error(good))


def _verdicts(
    reps: Sequence[Rep],
    readings: Sequence[Sequence[CheckReading]],
    judged: JudgedReps,
    movement: Movement,
) -> tuple[RepVerdict, ...]:
    return tuple(
        _verdict(
            rep,
            [column[i] for column in readings],
            judged.states[i],
            float(judged.probability_good[i]),
            movement.checks,
        )
        for i, rep in enumerate(reps)
    )


def infer_check(
    read: CheckClues, entry: Calibration | None, view_deg: float, column: int = 0, checks: int = 1
) -> Posterior | None:
    """Infer one check on all reps; None where it cannot be judged from this view."""
    view = view_name(view_deg)
    if entry is None or view is None or not covered(entry, view):
        return None
    values = entry.combine(read.features, read.factors, view_deg)
    return infer_reps(values, entry, view, read.check, column, checks)


def infer_reps(
    values: Values,
    calibration: Calibration,
    view: str,
    check: Check,
    column: int = 0,
    checks: int = 1,
) -> Posterior:
    """Infer each rep from the readings of one film, NaN where the body was lost."""
    readings = values.value
    expected = calibration.within[view]
    factor = np.hypot(expected * values.growth, values.own_unsure) / expected
    common = math.hypot(calibration.between[view] * values.shared_growth, values.shared_unsure)
    scaled = STATURE_SPREAD * np.abs(readings) if check.unit == "cm" else np.zeros(len(readings))
    return posterior_of_reps(
        readings,
        _own_errors(readings, np.where(np.isfinite(readings), factor, 1.0), expected),
        np.hypot(common, scaled),  # lengths of the fit scale with a stature that is only assumed
        calibration.before,
        check.limit,
        check.relation,
        column,
        checks,
    )


def _own_errors(readings: FloatArray, factor: FloatArray, expected: float) -> FloatArray:
    """Errors from rep to rep, (n,), from the table and from how much this film's own reps scatter.

    The scatter is the median distance from the median: a few misses do not widen it.

    Notes
    -----
    The table's error is a film's true one but for two unknowns, both normal on a log scale: one for
    the film, one for each power of e of the error factor, by which badly seen joints may err more
    or less than usual. What the scatter tells of reps with the usual factor carries over to others
    by the covariance (normal regression). Without a film's own word the table's stands: it is the
    root mean square over films.
    """
    known = np.isfinite(readings)
    n = int(known.sum())
    if n < 3:
        return expected * factor
    middle = np.median(readings[known])
    scatter = _MAD_TO_SD * float(np.median(np.abs(readings[known] - middle) / factor[known]))
    log_ratio = math.log(min(max(scatter / expected, _LEAST_SCATTER), _LARGEST_SCATTER))
    usual = math.log(float(np.median(factor[known])))
    unknown = _TABLE_SPREAD**2 + (_SPREAD_A_FACTOR * usual) ** 2
    carried = _TABLE_SPREAD**2 + _SPREAD_A_FACTOR**2 * usual * np.log(factor)
    gain = carried / (unknown + 0.5 / (_MAD_EFFICIENCY * (n - 1)))
    errors: FloatArray = expected * factor * np.exp(gain * (log_ratio + unknown - carried))
    return errors


def _reading(
    check: Check, stay: Stay | None, index: int, known: Posterior, risk: Risk
) -> CheckReading:
    if stay is None or not np.isfinite(known.value[index]):
        return _unread(check, not_seen(check))
    probability = float(known.probability_met[index])
    value, uncertainty = float(known.value[index]), float(known.uncertainty[index])
    verdict = decide(probability, risk)
    low, high = known.interval(index, call_tails(check.relation, risk))
    beyond = value - check.limit if check.relation == "at least" else check.limit - value
    return CheckReading(
        name=check.name,
        words=check.words,
        quantity=check.quantity,
        at_s=stay.passed_s(max(0.0, beyond)),
        value=value,
        relation=check.relation,
        limit=check.limit,
        unit=check.unit,
        uncertainty=uncertainty,
        probability_met=probability,
        verdict=verdict,
        reason=None if verdict == "met" else shortfall(check, (low, value, high), verdict),
        low=low,
        high=high,
    )


def _unread(check: Check, reason: str) -> CheckReading:
    """Nothing is known of a check that was not read: it is an even bet."""
    return CheckReading(
        name=check.name,
        words=check.words,
        quantity=check.quantity,
        at_s=None,
        value=None,
        relation=check.relation,
        limit=check.limit,
        unit=check.unit,
        uncertainty=None,
        probability_met=UNDECIDED,
        verdict="too close",
        reason=reason,
    )


def _verdict(
    rep: Rep,
    checks: Sequence[CheckReading],
    state: RepState,
    probability: float,
    standard: Sequence[Check],
) -> RepVerdict:
    return RepVerdict(
        number=rep.number,
        verdict=state,
        probability_good=probability,
        counted_s=None if state == "no-rep" else _counted_s(rep, checks, standard),
        checks=tuple(checks),
        reason=rep_reason(state, checks),
    )


def _counted_s(rep: Rep, checks: Sequence[CheckReading], standard: Sequence[Check]) -> float:
    """When the last part of the standard was reached; the turn where none of it was read.

    How the rep began completes nothing. A top that is held turns later than it is reached. Where a
    finish is asked for and nothing of it was read, the rep was complete at its end at the latest.
    """
    finish = [c.at_s for c, asked in zip(checks, standard, strict=True) if asked.phase == "finish"]
    if finish and all(at_s is None for at_s in finish):
        return rep.end_s
    begun_s = (rep.start_s + rep.turn_s) / 2.0
    reached = [c.at_s for c in checks if c.at_s is not None and c.at_s > begun_s]
    return min(max(reached, default=rep.turn_s), rep.end_s)


def _unfitted(verdicts: tuple[RepVerdict, ...], notes: tuple[str, ...]) -> Judgement:
    return Judgement(verdicts, None, None, None, None, None, None, notes)
