"""Readings of objects as checks of a rep, and what they do to its verdict.

An object can refuse a rep, or leave it open; it never makes one good that was only counted: what
else the standard asks is not told by a ball or a rope.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from counting.checks.types import CheckReading, Judgement, RepVerdict
from counting.decision.conformance import (
    UNDECIDED,
    Risk,
    call_interval,
    conformance_probability,
    decide,
)
from counting.decision.counting_reps import UNKNOWN_SHARE
from counting.movements.types import ObjectCheck, ObjectName

NOT_JUDGED: Final = "not judged"

_MISSED: Final[dict[ObjectName, str]] = {
    "ball": "the ball's middle came {value} the target, {limit} asked",
    "box": "the lower foot was {value} the box's top, {limit} asked",
    "rope": "the rope was heard {value} in the jump, {limit} asked",
}


@dataclass(frozen=True, slots=True)
class Measured:
    """A quantity of an object in one rep.

    Attributes
    ----------
    at_s
        When it was measured.
    value, uncertainty
        The value and its standard uncertainty, in the check's unit.
    """

    at_s: float
    value: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class Counted:
    """How often something was heard in one rep, and the probability that it is often enough."""

    at_s: float
    value: int
    probability_met: float


@dataclass(frozen=True, slots=True)
class Unseen:
    """Why an object was not read in one rep: ``the ball was not seen``."""

    why: str


Found = Measured | Counted | Unseen


def reading(check: ObjectCheck, found: Found, risk: Risk) -> CheckReading:
    """Compare what was found in a rep with what is asked of it."""
    if isinstance(found, Unseen):
        return _as_check(check, None, None, UNDECIDED, reason=f"{NOT_JUDGED}: {found.why}")
    if isinstance(found, Counted):
        return _as_check(check, found.at_s, found.value, found.probability_met, risk)
    interval = call_interval(found.value, found.uncertainty, check.relation, risk)
    probability = conformance_probability(
        found.value, found.uncertainty, check.limit, check.relation
    )
    seen = _as_check(check, found.at_s, found.value, probability, risk, interval)
    return replace(seen, uncertainty=found.uncertainty)


def _as_check(
    check: ObjectCheck,
    at_s: float | None,
    value: float | None,
    probability: float,
    risk: Risk | None = None,
    interval: tuple[float, float] | None = None,
    reason: str | None = None,
) -> CheckReading:
    verdict = NOT_JUDGED if risk is None else decide(probability, risk)
    low, high = interval or (None, None)
    if value is not None and verdict != "met":
        reason = _MISSED[check.object].format(
            value=_amount(value, check), limit=_amount(check.limit, check)
        )
        reason = reason.replace(", 0 cm over asked", "")
        if verdict == "too close" and low is not None and high is not None:
            reason += f", give or take {round((high - low) / 2)} {check.unit}"
    return CheckReading(
        name=check.name,
        words=check.words,
        quantity=check.quantity,
        at_s=at_s,
        value=value,
        relation=check.relation,
        limit=check.limit,
        unit=check.unit,
        uncertainty=None,
        probability_met=probability,
        verdict=verdict,
        reason=reason,
        low=low,
        high=high,
    )


def _amount(value: float, check: ObjectCheck) -> str:
    if check.unit == "passes":
        return {0: "never", 1: "once", 2: "twice"}.get(round(value), f"{value:.0f} times")
    return f"{abs(round(value))} cm {'over' if round(value) >= 0 else 'under'}"


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
