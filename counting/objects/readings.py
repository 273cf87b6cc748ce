"""Readings of objects as checks of a rep."""

from dataclasses import dataclass, replace
from typing import Final

from counting.checks.types import CheckReading
from counting.decision.conformance import (
    UNDECIDED,
    Risk,
    call_interval,
    conformance_probability,
    decide,
)
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
