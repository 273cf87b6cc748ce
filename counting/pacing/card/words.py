"""The sentences of a plan: cautions, evidence, the decisive part, and what to do when behind."""

from collections.abc import Sequence
from itertools import groupby
from typing import Final

import numpy as np

from counting.pacing.model.redline import Redline
from counting.pacing.search.advice import Behind
from counting.pacing.search.course import Course
from counting.pacing.search.plan import plural
from vision.times import clock

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
    "The model is run with three forms of recovery: linear, exponential, and in a fast and a slow "
    "phase; where they differ, trust neither end of the range.",
    "Plans within 1 % of the score, 2 % of the tie-break and one failed rep of the best are equal. "
    "Of these the simplest is advised: every round the same, then few numbers to remember; "
    "unbroken sets need none.",
    "Values marked assumed come from common practice, not from a film.",
)


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


def place_words(block: int, round_number: int, rounds: int, due_s: float | None = None) -> str:
    """Where a round stands: its number, or its time, or that its block has only one."""
    if rounds > 1:
        return f"{round_number}"
    if due_s is not None:
        return f"to {clock(due_s, 0)}"
    return "once" if block == 1 else "then"


def price_words(
    reps: float,
    time_s: float | None,
    worse: float,
    failing: float = 0.0,
    reached: float | None = None,
    *,
    equal: bool = False,
) -> str:
    """Price of a departure as a verb: what is lost or gained, how often, and whether reps fail.

    Amounts are rounded to what so many plays can tell.
    """
    if equal or 0.4 <= worse <= 0.6:
        told = "makes no difference beyond the noise"
    else:
        amount, loses = _amount_words(reps, time_s)
        if amount is None:
            told = "costs little" if worse > 0.5 else "gains little"
            told += f" ({_often_words(worse)})"
        elif loses == (worse > 0.5):
            told = f"{'costs' if loses else 'gains'} {amount} ({_often_words(worse)})"
        else:
            verb = "costs" if loses else "gains"
            told = f"is {_often_words(worse)} but {verb} {amount} on average"
    if failing >= 0.75:
        told += "; one more rep fails" if failing < 1.5 else f"; {failing:.0f} more reps fail"
    if reached is not None:
        told += f"; target in {100 * reached:.0f} of 100"
    return told


def _amount_words(reps: float, time_s: float | None) -> tuple[str | None, bool]:
    """Tell what is at stake, None where it is nothing to speak of, and whether it is a loss."""
    parts = []
    loses = reps > 0
    if abs(reps) >= 0.25:
        parts.append(_count_words(abs(reps)))
    if time_s is not None and abs(time_s) >= 1.0 and (not parts or (time_s > 0) == loses):
        loses = time_s > 0
        parts.append(_seconds_words(abs(time_s)))
    return (" and ".join(parts) or None), loses


def _count_words(reps: float) -> str:
    if reps < 0.75:
        return "half a rep"
    return "one rep" if reps < 1.5 else f"{reps:.0f} reps"


def _seconds_words(time_s: float) -> str:
    """Length of time with as many digits as a forecast can carry."""
    return f"{time_s:.0f} s" if time_s < 20 else f"{5 * round(time_s / 5)} s"


def _often_words(worse: float) -> str:
    word, share = ("worse", worse) if worse > 0.5 else ("better", 1.0 - worse)
    return f"nearly always {word}" if share > 0.95 else f"{word} in {10 * share:.0f} of 10"


def figures(low: float, typical: float, high: float) -> tuple[str, str, str]:
    """Write a value and its interval with the digits that the interval's width allows."""
    step = 10.0 ** np.floor(np.log10(max((high - low) / 5.0, 1e-9)))
    decimals = max(0, -int(np.log10(step) - 0.5)) if step < 1 else 0

    def written(value: float) -> str:
        return f"{step * round(value / step):.{decimals}f}"

    return written(low), written(typical), written(high)


def behind_words(behind: Sequence[Behind], course: Course) -> list[str]:
    """Tell what to do when late: at two checkpoints by the forecast, and when a rep fails."""
    if course.one_try:
        return [
            "If a lift fails: repeat the load or go down; do not add weight to a load you missed."
        ]
    words = [_checkpoint_words(item, course) for item in behind]
    words.append("If a rep fails: rest until sure of the next, then go on in half the set size.")
    return words


def _checkpoint_words(behind: Behind, course: Course) -> str:
    where = mark_place_words(course, behind.place)
    late = f"Later than {clock(behind.later_than_s, 0)} at the end of {where}:"
    answers = [
        (words, price)
        for words, price in (
            ("cut every rest to the shortest", behind.hurry),
            ("break every station once more", behind.smaller),
        )
        if price is not None and not price.equal and price.worse < 0.4 and price.reps <= 0.0
    ]
    if not answers:
        return f"{late} keep the sets; neither shorter rests nor smaller sets make up the time."
    words, price = min(answers, key=lambda answer: answer[1].worse)
    gain = price_words(price.reps, price.time_s, price.worse, price.failing)
    return f"{late} {words}; that {gain}."


def mark_place_words(course: Course, place: int) -> str:
    """Where a station ends: a round, a block, the movement inside a round, or all the work."""
    if place == len(course.stations) - 1:
        return "the work"
    station, after = course.stations[place], course.stations[place + 1]
    if (station.block, station.round) == (after.block, after.round):
        return f"the {plural(station.movement)} of round {station.round}"
    rounds = max(other.round for other in course.stations if other.block == station.block)
    return f"round {station.round}" if rounds > 1 else f"block {station.block}"


def redline_words(redline: Redline) -> str:
    """Tell a redline in a few sentences."""
    name = plural(redline.movement)
    told = [
        f"The rhythm broke at {clock(redline.at_s, 0)}, at the {name} of round {redline.round}: "
        f"from there each rep took {redline.growth:.1f} times as long, rests included."
    ]
    if redline.too_long_from_s is not None:
        told.append(
            f"Sets were too long from {clock(redline.too_long_from_s, 0)} on "
            f"(a set of {redline.too_long_set} ended at the limit)."
        )
    elif redline.size_before is not None and redline.size_after <= 0.7 * redline.size_before:
        told.append(
            f"Sets were too long until then: {name} in sets of {redline.size_before} before, of "
            f"{redline.size_after} after it."
        )
    if redline.foreseeable_s is not None:
        told.append(f"The reps up to {clock(redline.foreseeable_s, 0)} already showed it coming.")
    else:
        told.append("The model could not have foreseen it from the reps before.")
    return " ".join(told)
