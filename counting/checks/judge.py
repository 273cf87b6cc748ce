"""Judging the reps of one film by one movement's standard."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from counting.body.kept import KeptFits
from counting.body.motion import STATURE_SPREAD, BodyFitError, BodyMotion, find_body
from counting.body.sides import settled_sides
from counting.body.skeleton import FloatArray
from counting.checks.inference import Posterior, posterior_of_reps
from counting.checks.phases import Stay, deciding_rows, find_stays, rep_rows
from counting.checks.table import (
    Calibration,
    CalibrationTable,
    Values,
    covered,
    error_factor,
    packaged_table,
    view_name,
)
from counting.checks.types import CheckReading, Judgement, RepVerdict
from counting.checks.wording import no_view, not_seen, rep_reason, shortfall, view_advice
from counting.decision.combination import probability_all, rep_state
from counting.decision.conformance import UNDECIDED, Risk, decide
from counting.decision.reliability import AS_STATED
from counting.movements.types import Check, Movement
from counting.quantities.clues import CLUES, Clues
from counting.quantities.scene import Scene, view_scene
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

BENT_UNSEEN: Final = 3.0
"""Error factor from which a joint's bend is not read. On labelled films clues of bends followed
misses by 0.8 below it and by 0.1 to 0.3 above; heights and distances followed at any factor."""

UNREAD_AT_MOST: Final = 0.94
"""Cap on the probability of a check that was not read: habit alone proves nothing."""


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
    table = packaged_table() if table is None else table
    if not reps:
        return _unfitted((), ())
    track = settled_sides(track)
    try:
        body = find_body(track, rep_rows(track.time_s, reps), movement.base, kept)
    except BodyFitError as error:
        reason = f"cannot be judged: {error}"
        verdicts = tuple(
            _verdict(
                rep,
                [_unread(check, reason, UNDECIDED) for check in movement.checks],
                risk,
                movement.checks,
            )
            for rep in reps
        )
        return _unfitted(verdicts, (reason,))
    scene = view_scene(track, body.unfitted, movement.base)
    motion = body.fitted(deciding_rows(scene, reps, movement.checks))
    scene = replace(scene, motion=motion)
    clues = {name: CLUES[name](scene) for name in {check.quantity for check in movement.checks}}
    columns = [
        _read_check(scene, clues[check.quantity], reps, check, movement, risk, table)
        for check in movement.checks
    ]
    verdicts = tuple(
        _verdict(
            rep, [column[index] for column in columns], risk, movement.checks, table.shared_error
        )
        for index, rep in enumerate(reps)
    )
    return Judgement(
        verdicts=verdicts,
        view_deg=motion.view_deg,
        view_uncertainty_deg=float(np.hypot(motion.yaw_u_deg, _VIEW_ERROR_DEG)),
        stature_m=motion.stature_m,
        stature_uncertainty_m=motion.stature_u_m,
        camera_distance_m=motion.camera.distance_m,
        camera_height_m=motion.camera.height_m,
        notes=view_advice(verdicts, movement, motion.view_deg, table),
    )


_VIEW_ERROR_DEG: Final = 4.0
"""Root mean square error of the fitted view on labelled films beyond what the fit itself states."""


def _read_check(
    scene: Scene,
    clues: Clues,
    reps: Sequence[Rep],
    check: Check,
    movement: Movement,
    risk: Risk,
    table: CalibrationTable,
) -> list[CheckReading]:
    """One check on all reps: they share the film's error and are inferred together."""
    calibration = table.find(check.quantity, movement.base, check.phase)
    view = view_name(scene.motion.view_deg)
    if calibration is None or view is None or not covered(calibration, view):
        reason = no_view(check, scene.motion.view_deg)
        return [_unread(check, reason, UNDECIDED) for _ in reps]
    entry, calibration = calibration, calibration.for_check(check)
    # What came true of built-in standards says nothing of one that asks for something else.
    reliability = table.reliability if calibration is entry else AS_STATED
    stays = find_stays(scene, reps, check, clues)
    at_stay, factors = stay_clues(scene.motion, stays, clues)
    values = calibration.combine(at_stay, factors, scene.motion.view_deg)
    known = infer_reps(values, calibration, view, check)
    known = replace(
        known,
        probability_met=reliability.corrected(known.probability_met),
        uncertainty=reliability.corrected_uncertainty(known.uncertainty),
    )
    return [
        _reading(check, stay, index, values.value, known, risk, calibration.met_share)
        for index, stay in enumerate(stays)
    ]


def stay_clues(
    motion: BodyMotion, stays: Sequence[Stay | None], clues: Clues
) -> tuple[FloatArray, FloatArray]:
    """Clues at each stay and their error factors, (stays, clues), NaN where nothing was seen.

    The network draws a joint that it cannot see as straight as it usually is. Such a clue does not
    scatter, it stands still, and would outvote what does move: it is no reading.
    """
    at_stay = np.full((len(stays), clues.values.shape[1]), np.nan)
    factors = np.full_like(at_stay, np.nan)
    known = [index for index, stay in enumerate(stays) if stay is not None]
    rows = [stay.rows for stay in stays if stay is not None]
    if not rows:
        return at_stay, factors
    edges = np.cumsum([len(some) for some in rows])[:-1]
    joined = np.concatenate(rows)
    misfit = np.stack([motion.misfit_of(joints, joined) for joints in clues.joints], axis=1)
    of_stays = zip(
        known, np.split(clues.values[joined], edges), np.split(misfit, edges), strict=True
    )
    for index, values, misfits in of_stays:
        at_stay[index] = _medians(values)
        factors[index] = _medians(misfits)
    factors = error_factor(factors)
    at_stay[(factors > BENT_UNSEEN) & np.array(clues.bends)] = np.nan
    return at_stay, factors


def _medians(values: FloatArray) -> FloatArray:
    """Median of each column, NaN where any is: as the library's, which takes ten times longer."""
    ordered = np.sort(values, axis=0)
    middle = len(values) // 2
    lower = ordered[middle] if len(values) % 2 else ordered[middle - 1]
    return np.where(np.isnan(ordered[-1]), np.nan, (lower + ordered[middle]) / 2)


def infer_reps(values: Values, calibration: Calibration, view: str, check: Check) -> Posterior:
    """Infer each rep from the readings of one film, NaN where the body was lost."""
    readings = values.value
    read = np.isfinite(readings)
    factor = np.where(read, values.own_factor, 1.0)
    common = calibration.between[view] * values.common_factor
    if check.unit == "cm" and read.any():
        # lengths of the fit scale with a stature that is only assumed
        common = math.hypot(common, STATURE_SPREAD * float(np.median(np.abs(readings[read]))))
    own = _own_errors(readings, factor, calibration.within[view])
    return posterior_of_reps(readings, own, common, calibration, check.limit, check.relation)


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
    check: Check,
    stay: Stay | None,
    index: int,
    readings: FloatArray,
    known: Posterior,
    risk: Risk,
    met_share: float,
) -> CheckReading:
    if stay is None or not np.isfinite(readings[index]):
        return _unread(check, not_seen(check), min(met_share, UNREAD_AT_MOST))
    probability = float(known.probability_met[index])
    value, uncertainty = float(known.value[index]), float(known.uncertainty[index])
    verdict = decide(probability, risk)
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
        reason=None if verdict == "met" else shortfall(check, value, uncertainty, verdict),
    )


def _unread(check: Check, reason: str, probability: float) -> CheckReading:
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
        probability_met=probability,
        verdict="too close",
        reason=reason,
    )


def _verdict(
    rep: Rep,
    checks: Sequence[CheckReading],
    risk: Risk,
    standard: Sequence[Check],
    shared_error: float = 0.0,
) -> RepVerdict:
    probabilities = [check.probability_met for check in checks]
    state = rep_state(probabilities, risk)
    if state == "good" and any(check.value is None for check in checks):
        state = "too close"
    return RepVerdict(
        number=rep.number,
        verdict=state,
        probability_good=probability_all(probabilities, shared_error),
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
