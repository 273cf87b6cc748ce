"""What a rep's phases and side say, read in shares of stature from the picture alone."""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from counting.checks.types import CheckReading
from counting.decision.conformance import (
    UNDECIDED,
    Relation,
    Risk,
    call_interval,
    conformance_probability,
    decide,
)
from counting.movements.types import Movement
from counting.reps.types import Extent, PhaseSeen, Rep

EXTENT_ERROR: Final = 0.06
"""Standard uncertainty of how far a phase went, in statures: a height over another in the picture,
without a fitted body, from a camera that may look up or down at it. Twice what films of the
calibrated movements show, because no film tells of the others."""


def phase_reading(phase: PhaseSeen, extent: Extent, words: str, risk: Risk) -> CheckReading:
    """How far a phase went, as a check in shares of stature: only what is far off is sure."""
    relation: Relation = "at least" if extent.at_least else "at most"
    probability = conformance_probability(extent.value, EXTENT_ERROR, extent.asked, relation)
    verdict = decide(probability, risk)
    low, high = call_interval(extent.value, EXTENT_ERROR, relation, risk)
    asked = "above" if extent.at_least else "below"
    said = "was left out" if phase.first_s is None else "was not reached"
    return CheckReading(
        name=phase.name,
        words=words,
        quantity=extent.measure,
        at_s=phase.first_s,
        value=extent.value,
        relation=relation,
        limit=extent.asked,
        unit="share",
        uncertainty=EXTENT_ERROR,
        probability_met=probability,
        verdict=verdict,
        reason=None
        if verdict == "met"
        else f"{said}: {extent.measure} by {100 * extent.value:.0f} % of stature, "
        f"{asked} {100 * extent.asked:.0f} % asked",
        low=low,
        high=high,
    )


def side_readings(reps: Sequence[Rep], movement: Movement, risk: Risk) -> list[CheckReading | None]:
    """Whether each rep was done with the other side than the one before it.

    None where a standard does not ask for it, for a rep that nobody did just before, and where a
    side was not seen. A side that repeats is for an eye, never a no-rep: networks take left for
    right now and then, and no labelled film tells how often.
    """
    readings: list[CheckReading | None] = [None] * len(reps)
    if movement.sides is None or movement.sides.done != "alternating":
        return readings
    for place, (before, rep) in enumerate(pairwise(reps), start=1):
        at_once = rep.start_s - before.end_s <= before.end_s - before.start_s
        if not at_once or before.side is None or rep.side is None:
            continue
        other = before.side.name != rep.side.name
        lead = min(before.side.lead, rep.side.lead) * (1.0 if other else -1.0)
        probability = max(conformance_probability(lead, EXTENT_ERROR, 0.0, "at least"), UNDECIDED)
        met = decide(probability, risk) == "met"
        low, high = call_interval(lead, EXTENT_ERROR, "at least", risk)
        readings[place] = CheckReading(
            name="side",
            words="the other side than the time before",
            quantity=movement.sides.told_by,
            at_s=rep.turn_s,
            value=lead,
            relation="at least",
            limit=0.0,
            unit="share",
            uncertainty=EXTENT_ERROR,
            probability_met=probability,
            verdict="met" if met else "too close",
            reason=None if met else f"the {rep.side.name} side again, as it seems",
            low=low if met else min(low, 0.0),
            high=high if met else max(high, 0.0),
        )
    return readings


def side_notes(
    reps: Sequence[Rep], movement: Movement, readings: Sequence[CheckReading | None]
) -> Iterator[str]:
    """How many reps each side did, where one does at a time, and which repeat a side."""
    if movement.sides is None or not reps:
        return
    seen = Counter("not seen" if rep.side is None else rep.side.name for rep in reps)
    yield "sides, as seen: " + ", ".join(f"{name} {count}" for name, count in sorted(seen.items()))
    again = [
        str(rep.number)
        for rep, reading in zip(reps, readings, strict=True)
        if reading is not None and reading.verdict != "met"
    ]
    if again:
        yield f"the same side twice running, as it seems, for a person to call: {', '.join(again)}"
