"""Judging reps by one movement's standard, from one film or several."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.body.kept import KeptFits
from counting.body.motion import BodyFitError
from counting.body.skeleton import FloatArray
from counting.checks.errors import infer_readings
from counting.checks.films import FilmsReading, OtherFilm, read_films
from counting.checks.inference import CASES, Posterior, unread_share
from counting.checks.phases import Stay
from counting.checks.stature import ASSUMED, Stature
from counting.checks.table import CalibrationTable, packaged_table
from counting.checks.types import CheckReading, CheckVerdict, Judgement, RawReading, RepVerdict
from counting.checks.wording import no_view, not_seen, rep_reason, shortfall, view_advice
from counting.decision.combination import RepState, rep_state
from counting.decision.conformance import UNDECIDED, Risk, call_tails, decide
from counting.decision.counting_reps import shared_error
from counting.movements.types import Check, Movement
from counting.reps.types import Rep
from vision.track import PoseTrack

StatureOf = Callable[[FilmsReading], Stature]


def as_assumed(reading: FilmsReading) -> Stature:  # noqa: ARG001
    """Tell nothing of the athlete's height, whatever was read."""
    return ASSUMED


def judge(
    track: PoseTrack,
    reps: Sequence[Rep],
    movement: Movement,
    risk: Risk,
    table: CalibrationTable | None = None,
    kept: KeptFits | None = None,
    others: Sequence[OtherFilm] = (),
    stature_of: StatureOf = as_assumed,
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
    others
        Further films of the same reps.
    stature_of
        Tells how tall the athlete is from what was read.

    Returns
    -------
    Judgement
        One verdict a rep, in order. A check that could not be read is "too close" with a reason.
    """
    if not reps:
        return _unfitted((), ())
    try:
        reading = read_films(track, others, reps, movement, kept)
    except BodyFitError as error:
        reason = f"cannot be judged: {error}"
        nothing = [[unread(check, reason)] * len(reps) for check in movement.checks]
        judged = combined([None] * len(nothing), len(reps), risk)
        return _unfitted(_verdicts(reps, nothing, judged, movement), (reason,))
    return judge_reading(reading, reps, movement, risk, table, stature_of(reading))


def judge_reading(
    reading: FilmsReading,
    reps: Sequence[Rep],
    movement: Movement,
    risk: Risk,
    table: CalibrationTable | None = None,
    stature: Stature = ASSUMED,
) -> Judgement:
    """Decide on what was read of one film or several, as `judge`."""
    table = packaged_table() if table is None else table
    motion = reading.motion
    readings: list[list[CheckReading]] = []
    known: list[Posterior | None] = []
    for column, check in enumerate(movement.checks):
        entry = table.find(check.quantity, movement.base, check.phase)
        values = reading.values(column, entry)
        if entry is None or values is None:
            known.append(None)
            readings.append([unread(check, no_view(check, motion.view_deg))] * len(reps))
            continue
        posterior = infer_readings(
            values, entry.before, check, column, len(movement.checks), stature
        )
        known.append(posterior)
        stays = reading.stays(column)
        readings.append([_reading(check, stay, i, posterior, risk) for i, stay in enumerate(stays)])
    judged = combined(known, len(reps), risk)
    verdicts = _verdicts(reps, readings, judged, movement)
    return Judgement(
        verdicts=verdicts,
        view_deg=motion.view_deg,
        view_uncertainty_deg=float(np.hypot(motion.yaw_u_deg, _VIEW_ERROR_DEG)),
        stature_m=stature.height_m,
        stature_uncertainty_m=stature.u_m,
        camera_distance_m=motion.camera.distance_m * stature.scale,
        camera_height_m=motion.camera.height_m * stature.scale,
        notes=view_advice(verdicts, movement, motion.view_deg, table),
        shared_error=judged.shared_error,
        views_deg=reading.views_deg,
        stature_source=stature.source,
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
            good *= unread_share(row)[:, None]
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


def _reading(
    check: Check, stay: Stay | None, index: int, known: Posterior, risk: Risk
) -> CheckReading:
    if stay is None or not np.isfinite(known.value[index]):
        return unread(check, not_seen(check))
    probability = float(known.probability_met[index])
    # The median of what remains, not the middle of its ends: between a limb as straight as it
    # usually is and one as bent as it was read lies hardly anything.
    value, uncertainty = known.interval(index, (0.5, 0.5))[0], float(known.uncertainty[index])
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
        reading=RawReading(
            float(known.reading[index]),
            float(known.own_error[index]),
            float(known.film_error[index]),
        ),
        low=low,
        high=high,
    )


def unread(check: Check, reason: str, verdict: CheckVerdict = "too close") -> CheckReading:
    """Nothing is known of a check that was not read or cannot be judged: it is an even bet."""
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
        verdict=verdict,
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
