"""What may be judged: checks like those of labelled films. The rest is only counted.

How far a reading may be off is known where labelled films told: for a quantity, what holds the
athlete, the part of the repetition, the view and the range about the limit. Elsewhere the same
arithmetic would give a number, and a wrong one that looks sure. There a check says "not judged
here", and a repetition that misses no other check is counted without being called good.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import msgspec

from counting.body.kept import KeptFits
from counting.checks.extents import phase_reading, side_notes, side_readings
from counting.checks.films import OtherFilm
from counting.checks.judge import StatureOf, as_assumed, judge, unread
from counting.checks.table import (
    VIEWS,
    CalibrationTable,
    context_name,
    covered,
    packaged_table,
    view_name,
)
from counting.checks.types import CheckReading, Judgement, RepVerdict
from counting.decision.conformance import UNDECIDED, Risk
from counting.decision.counting_reps import UNKNOWN_SHARE
from counting.movements.types import PART_WORDS, Base, Check, Movement, Quantity, Unit
from counting.reps.types import Rep
from vision.track import PoseTrack

_LEARNT_ABOUT: Final[dict[Unit, tuple[float, float]]] = {"deg": (35.0, 16.0), "cm": (12.0, 12.0)}
"""How far below and above the limit frames of labelled films tell of a quantity."""

MISREAD: Final[frozenset[Quantity]] = frozenset({"feet clear of floor"})
"""Quantities that films tell of and that are still not judged. A jump: of 105 films two show a
burpee without one, and whichever way its height was learnt, bodies left out were called wrong."""

NOT_JUDGED: Final = "not judged here"


def why_not_judged(
    check: Check, movement: Movement, table: CalibrationTable | None = None
) -> str | None:
    """Why a check of a movement cannot be judged from any view; None where it can.

    ``table`` is what tells, the packaged one if None.
    """
    part = movement.part_of(check)
    if part is None:
        return f'{NOT_JUDGED}: no labelled film shows the phase "{check.phase}"'
    table = packaged_table() if table is None else table
    shown = table.shown.get(context_name(check.quantity, movement.base, part))
    where = f"{check.quantity} may be read {_BASES[movement.base]} {PART_WORDS[part]}"
    if shown is None:
        return f"{NOT_JUDGED}: no labelled film tells how far off {where} of a repetition"
    if check.quantity in MISREAD:
        return f"{NOT_JUDGED}: labelled films tell too little how far off {where} of a repetition"
    if not any(shown.enough(view) for view in VIEWS):
        return f"{NOT_JUDGED}: too few labelled films tell how far off {where} of a repetition"
    below, above = _LEARNT_ABOUT[check.unit]
    if not shown.lowest - below <= check.limit <= shown.highest + above:
        return (
            f"{NOT_JUDGED}: labelled films tell of {check.quantity} from "
            f"{shown.lowest - below:g} to {shown.highest + above:g} {check.unit}, "
            f"{check.limit:g} is asked"
        )
    return None


_BASES: Final[dict[Base, str]] = {
    "standing": "on the feet",
    "hanging": "on a bar",
    "floor": "in a plank",
    "supported": "in support",
    "lying": "lying down",
    "inverted": "upside down",
}


def judged_views(
    check: Check, movement: Movement, table: CalibrationTable | None = None
) -> list[str]:
    """Names of the views from which a check is judged, none where it is only counted."""
    table = packaged_table() if table is None else table
    part = movement.part_of(check)
    if part is None or why_not_judged(check, movement, table) is not None:
        return []
    entry = table.find(check.quantity, movement.base, part)
    return [] if entry is None else [view for view in VIEWS if covered(entry, view)]


def judge_or_count(
    track: PoseTrack,
    reps: Sequence[Rep],
    movement: Movement,
    risk: Risk,
    table: CalibrationTable | None = None,
    kept: KeptFits | None = None,
    others: Sequence[OtherFilm] = (),
    stature_of: StatureOf = as_assumed,
) -> Judgement:
    """Judge what can be judged of each rep and count the rest; parameters as `judge`.

    Returns
    -------
    Judgement
        One verdict a rep, in order: as `judge` where every check is judged. A rep with a check that
        is not judged here is "only counted" unless it misses another, and so is every rep of a
        movement without checks. Phases that ask for a reach come after the checks.
    """
    table = packaged_table() if table is None else table
    reasons = [why_not_judged(check, movement, table) for check in movement.checks]
    read = [
        movement.as_read(check)
        for check, reason in zip(movement.checks, reasons, strict=True)
        if reason is None
    ]
    asked = tuple(check for check in read if check is not None)
    if asked:
        judgeable = msgspec.structs.replace(movement, checks=asked)
        found = judge(track, reps, judgeable, risk, table, kept, others, stature_of)
    else:
        counted = tuple(RepVerdict(rep.number, "only counted", 1.0, rep.end_s, ()) for rep in reps)
        found = Judgement(counted, None, None, None, None, None, None)
    if found.view_deg is not None:
        reasons = [
            reason or _hidden_from(found.views_deg, check, movement, table)
            for check, reason in zip(movement.checks, reasons, strict=True)
        ]
    sides = side_readings(reps, movement, risk)
    verdicts = tuple(
        _completed(verdict, rep, side, movement, reasons, risk)
        for verdict, rep, side in zip(found.verdicts, reps, sides, strict=True)
    )
    shared = found.shared_error
    if not movement.checks or any(reason is not None for reason in reasons):
        shared = max(shared, UNKNOWN_SHARE)
    by_eye = [f"not judged, for an eye beside the athlete: {words}" for words in movement.by_eye]
    notes = (*found.notes, *side_notes(reps, movement, sides), *(by_eye if reps else ()))
    return replace(found, verdicts=verdicts, notes=notes, shared_error=shared)


def _hidden_from(
    views_deg: Sequence[float], check: Check, movement: Movement, table: CalibrationTable
) -> str | None:
    judged = judged_views(check, movement, table)
    if any(view_name(view_deg) in judged for view_deg in views_deg):
        return None
    views = " and ".join(f"{view_deg:.0f}" for view_deg in views_deg)
    return f"{NOT_JUDGED}: {check.quantity} cannot be judged from {views} degrees off the front"


def _completed(
    verdict: RepVerdict,
    rep: Rep,
    side: CheckReading | None,
    movement: Movement,
    reasons: Sequence[str | None],
    risk: Risk,
) -> RepVerdict:
    """Put the checks that are not judged back in their places, and the phases after them."""
    judged = {check.name: check for check in verdict.checks}
    checks = [
        judged[check.name] if reason is None else unread(check, reason, "not judged")
        for check, reason in zip(movement.checks, reasons, strict=True)
    ]
    words = {phase.name: phase.words for phase in movement.phases}
    phases = [
        phase_reading(phase, extent, words[phase.name], risk)
        for phase in rep.phases
        for extent in phase.extents
    ]
    if side is not None:
        phases.append(side)
    open_checks = [check for check in checks if check.verdict == "not judged"]
    if not phases and not open_checks and movement.checks:
        return verdict
    probability = verdict.probability_good * min(
        [phase.probability_met for phase in phases], default=1.0
    )
    if not movement.checks or any(check.name not in judged for check in open_checks):
        probability *= UNDECIDED
    state, reason = verdict.verdict, verdict.reason
    missed = next((phase for phase in phases if phase.verdict == "not met"), None)
    if state != "no-rep" and missed is not None:
        state, reason = "no-rep", f"{missed.name}: {missed.reason}"
    elif state != "no-rep" and (open_checks or not movement.checks):
        state, reason = "only counted", _why_counted(open_checks)
    elif state == "good" and any(phase.verdict == "too close" for phase in phases):
        near = min(phases, key=lambda phase: phase.probability_met)
        state, reason = "too close", f"too close to call, {near.name}: {near.reason}"
    return replace(
        verdict,
        verdict=state,
        reason=reason,
        probability_good=probability,
        checks=(*checks, *phases),
        counted_s=None if state == "no-rep" else verdict.counted_s or rep.end_s,
    )


def _why_counted(open_checks: Sequence[CheckReading]) -> str:
    if not open_checks:
        return "only counted: the standard holds no check"
    return (
        "only counted: "
        + "; ".join(f"{one.name} {one.reason}" for one in open_checks[:1])
        + (f" (and {len(open_checks) - 1} more checks)" if len(open_checks) > 1 else "")
    )
