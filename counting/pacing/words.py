"""The sentences of a plan: cautions, evidence, the decisive part, and what to do when behind."""

from itertools import groupby
from typing import Final

from counting.pacing.redline import Redline

CAUTIONS: Final = (
    "Warm up for every movement before the clock starts.",
    "Stop on pain, dizziness or numbness; no score is worth an injury.",
    "Look after your hands before and during many reps on the bar: file calluses, chalk lightly, "
    "stop when skin tears.",
    "Do not train to failure under a loaded bar without safeties or a bar you can drop.",
    "This plan is advice from a model. Your coach and your physician know more; ask them first.",
)

EVIDENCE: Final = (
    "No trial establishes the best way to break up a workout of fixed work.",
    "Supported by studies: speed falls faster towards failure; recovery within one to five minutes "
    "is incomplete; shorter sets with the same rest keep speed and allow more reps in all; people "
    "differ widely.",
    "The model is played in two forms of recovery, linear and exponential; where they part, trust "
    "neither end of the range.",
    "Values marked assumed come from common practice, not from this film.",
)


def clock(time_s: float | None) -> str:
    """Minutes and seconds, ``7:05``; a dash where there is no time."""
    if time_s is None:
        return "–"
    minutes, seconds = divmod(round(time_s), 60)
    return f"{minutes}:{seconds:02d}"


def effort_words(effort: float) -> str:
    """Effort for an athlete; nothing to say at full pace."""
    return "" if effort >= 1.0 else f"reps {100 / effort - 100:.0f} % slower"


def rest_words(rests_s: list[float]) -> str:
    """Rests for an athlete: one length, one after another, or a range."""
    if not rests_s:
        return "–"
    lengths = [key for key, _ in groupby(round(rest_s) for rest_s in rests_s)]
    if len(lengths) <= 3:
        return ", then ".join(f"{length} s" for length in lengths)
    return f"{min(lengths)} to {max(lengths)} s"


def place_words(block: int, round_number: int, rounds: int) -> str:
    """Where a round stands: its number, or that its block has only one."""
    if rounds > 1:
        return f"{round_number}"
    return "once" if block == 1 else "then"


def price_words(reps: float, time_s: float | None, worse: float) -> str:
    """Price of a departure: what is lost or gained, and how sure that is."""
    if 0.4 <= worse <= 0.6:
        return "no difference beyond chance"
    parts = []
    if abs(reps) >= 0.2:
        parts.append(f"{abs(reps):.1f} reps")
    if time_s is not None and abs(time_s) >= 1.0 and (not parts or (time_s > 0) == (reps > 0)):
        parts.append(f"{abs(time_s):.0f} s")
    amount = " and ".join(parts) or "little"
    verb = "costs" if worse > 0.5 else "gains"
    return f"{verb} {amount} (worse in {100 * worse:.0f} of 100)"


def redline_words(redline: Redline) -> str:
    """Tell a redline in one or two sentences."""
    told = [
        f"The rhythm broke at {clock(redline.at_s)}, {redline.movement}, round {redline.round}: "
        f"each rep took {redline.growth:.1f} times as long from there, rests counted in."
    ]
    if redline.too_long_from_s is not None:
        told.append(
            f"Sets were too long from {clock(redline.too_long_from_s)} on "
            f"(a set of {redline.too_long_set} ended at the limit)."
        )
    if redline.foreseeable_s is not None:
        told.append(f"The reps up to {clock(redline.foreseeable_s)} already foretold it.")
    else:
        told.append("It could not be foreseen from the reps before.")
    return " ".join(told)
