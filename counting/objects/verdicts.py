"""What objects do to verdicts.

An object can refuse a rep, or leave it open; it never makes one good that was only counted: what
else the standard asks is not told by a ball or a rope.
"""

from collections.abc import Sequence
from dataclasses import replace

from counting.checks.types import CheckReading, Judgement, RepVerdict
from counting.decision.counting_reps import UNKNOWN_SHARE
from counting.objects.readings import NOT_JUDGED


def with_objects(
    judgement: Judgement, readings: Sequence[Sequence[CheckReading]], notes: Sequence[str] = ()
) -> Judgement:
    """Put what objects say beside the checks of the body.

    Parameters
    ----------
    judgement
        The body's verdicts.
    readings
        For each of them in order, the readings of its objects.
    notes
        What could not be looked for, in words.
    """
    verdicts = tuple(
        _with(verdict, own) for verdict, own in zip(judgement.verdicts, readings, strict=True)
    )
    unread = any(one.verdict == NOT_JUDGED for own in readings for one in own)
    shared = max(judgement.shared_error, UNKNOWN_SHARE) if unread else judgement.shared_error
    return replace(
        judgement, verdicts=verdicts, notes=(*judgement.notes, *notes), shared_error=shared
    )


def _with(verdict: RepVerdict, readings: Sequence[CheckReading]) -> RepVerdict:
    if not readings:
        return verdict
    state, reason = verdict.verdict, verdict.reason
    worst = min(readings, key=lambda one: one.probability_met)
    unread = next((one for one in readings if one.verdict == NOT_JUDGED), None)
    if state != "no-rep" and worst.verdict == "not met":
        state, reason = "no-rep", f"{worst.name}: {worst.reason}"
    elif state == "good" and unread is not None:
        state, reason = "only counted", f"only counted: {unread.name} {unread.reason}"
    elif state == "good" and worst.verdict == "too close":
        state, reason = "too close", f"too close to call, {worst.name}: {worst.reason}"
    probability = verdict.probability_good
    for one in readings:
        probability *= one.probability_met
    return replace(
        verdict,
        verdict=state,
        reason=reason,
        probability_good=probability,
        checks=(*verdict.checks, *readings),
        counted_s=None if state == "no-rep" else verdict.counted_s,
    )
