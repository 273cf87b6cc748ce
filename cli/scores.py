"""How a workout's score, flags and splits are put in words and rows, the same everywhere."""

from collections.abc import Sequence
from typing import Final

from cli.wording import UNKNOWN, number, percent
from counting.record.types import AuditRecord
from counting.workout.clock import time_decimals
from counting.workout.record import OutcomePart, ScorePart, SplitPart, TieBreakPart, WorkoutPart
from vision.times import clock

TIME_HEADINGS = ("moving", "paused mid-set", "breaks", "transition", "scheduled rest")
SPLIT_HEADINGS = (
    *("where", "clock", "took", "tried", "count", "work", "paused", "breaks", "transition"),
    *("scheduled rest", "a rep", "work : rest"),
)
SHEET_HEADINGS = (
    *("block", "round", "station", "asked", "count", "good", "no-rep", "too close"),
    *("only counted", "at"),
)
_MOST_NAMED: Final = 5
"""As many as a sentence can hold and still be read (chosen, not measured)."""


def outcome_words(outcome: OutcomePart, decimals: int = 1) -> str:
    """Write one possible score: a load, a time where the work was finished, or reps that count."""
    if outcome.load is not None:
        return f"{outcome.load:g} {outcome.load_unit}" if outcome.load else "no lift that counts"
    if outcome.finished and outcome.time_s is not None:
        return clock(outcome.time_s, decimals)
    return "1 rep" if outcome.reps == 1 else f"{outcome.reps} reps"


def score_value(part: WorkoutPart) -> str:
    """Write the most likely score: a time with its 95 % half-width, or reps with what they make."""
    score = part.score
    decimals = time_decimals(score.time_uncertainty_s)
    value = outcome_words(score.likely, decimals)
    if score.likely.finished:
        return f"{value} ± {number(2.0 * score.time_uncertainty_s, max(decimals, 1))} s"
    if score.likely.load is not None:
        return value
    if part.definition.blocks[-1].fixed_rounds is None:
        rounds = "1 round" if score.rounds_done == 1 else f"{score.rounds_done} rounds"
        return f"{value} ({rounds} + {score.reps_in_round})"
    return value if score.reps_asked is None else f"{score.likely.reps} of {score.reps_asked} reps"


def score_span(part: WorkoutPart) -> str:
    """Write the score where open calls cannot change it, else from where to where they can."""
    score = part.score
    best, worst = _middle(score.best, score, +1), _middle(score.worst, score, -1)
    if not score.undecided or best == worst:
        return score_value(part)
    if not score.best.finished:
        return f"{score.worst.reps if score.worst.load is None else worst} to {best}"
    best, worst = best.removeprefix("finish "), worst.removeprefix("finish ")
    return f"{best} to {worst}" if score.worst.finished else f"{worst} to a finish in {best}"


def most_probable(part: WorkoutPart) -> str | None:
    """Name the most probable score and its probability; None where it is all but sure."""
    finished = sum(item.probability for item in part.score.distribution if item.finished)
    bars = [
        (
            outcome_words(
                OutcomePart(
                    finished=False, reps=item.reps, load=item.load, load_unit=item.load_unit
                )
            ),
            item.probability,
        )
        for item in part.score.distribution
        if not item.finished
    ]
    name, probability = max([("a finish", finished), *bars], key=lambda bar: bar[1])
    only_counted = any("only counted" in item.why for item in part.score.undecided)
    if only_counted or not 0.0 < probability < 0.995:
        return None
    return f"most probable: {name} ({percent(probability)})"


def range_words(part: WorkoutPart) -> str:
    """Say what the score would be if all open reps counted, and if none did."""
    score = part.score
    open_reps = [item.rep for item in score.undecided]
    if not open_reps:
        return "every rep is called"
    best, worst = _middle(score.best, score, +1), _middle(score.worst, score, -1)
    if best == worst:
        return "the uncalled reps cannot change it"
    if len(open_reps) == 1:
        return f"{best} if rep {open_reps[0]} counts; otherwise {worst}"
    if len(open_reps) == 2:
        return f"{best} if {reps_named(open_reps)} both count; {worst} if neither does"
    return f"{best} if {reps_named(open_reps)} all count; {worst} if none does"


def change_words(part: WorkoutPart, number: int) -> str | None:
    """Say what one open rep would change, all else as it stands; None for a rep that is called."""
    item = next((item for item in part.score.undecided if item.rep == number), None)
    if item is None:
        return None
    decimals = time_decimals(part.score.time_uncertainty_s)
    if item.if_good.same_score(item.if_no_rep):
        return "alone it cannot change the score"
    good, otherwise = (outcome_words(one, decimals) for one in (item.if_good, item.if_no_rep))
    return f"{good} if it counts; otherwise {otherwise}"


def _middle(outcome: OutcomePart, score: ScorePart, side: int) -> str:
    """Write an end of the score's range without the clock's own uncertainty, which it includes."""
    decimals = time_decimals(score.time_uncertainty_s)
    if not outcome.finished or outcome.time_s is None:
        return outcome_words(outcome)
    return f"finish {clock(outcome.time_s + side * 2.0 * score.time_uncertainty_s, decimals)}"


def reps_named(numbers: Sequence[int]) -> str:
    """Name a few reps by number, ``reps 3, 7 and 9``, and many by how many they are."""
    if len(numbers) == 1:
        return f"rep {numbers[0]}"
    if len(numbers) > _MOST_NAMED:
        return f"the {len(numbers)} uncalled reps"
    first = ", ".join(str(rep) for rep in numbers[:-1])
    return f"reps {first} and {numbers[-1]}"


def score_sentences(part: WorkoutPart) -> list[str]:
    """Say what surrounds the score: how sure its range is, the rule, penalties and the clock."""
    score = part.score
    lines = []
    if score.undecided and score.within < 0.995:
        lines.append(f"{percent(score.within)} sure that the score lies in this range")
    lines.append(score.counting)
    if score.missing_reps:
        reps = "1 rep" if score.missing_reps == 1 else f"{score.missing_reps} reps"
        lines.append(f"{reps} missing when the athlete moved on")
    if score.penalties_s:
        lines.append(f"the time includes {number(score.penalties_s, 1)} s of penalties")
    lines.append(clock_start_words(part))
    return lines


def clock_start_words(part: WorkoutPart) -> str:
    """Say where in the film the workout's clock starts, and how sure that is."""
    zero = part.clock
    at = clock(zero.zero_s, time_decimals(zero.uncertainty_s))
    if zero.source == "given by hand":
        return f"clock starts at {at} of the film, as given"
    if zero.source == "start signal":
        sure = "" if zero.confidence >= 0.995 else f" ({percent(zero.confidence)} sure)"
        return f"clock starts at the beep, {at} of the film{sure}"
    return (
        f"no start signal was heard: clock starts at the first movement, {at} of the film; "
        "if the start was earlier, give it with --start"
    )


def clock_stop_s(record: AuditRecord) -> float | None:
    """Film time at which the workout's clock stops: the finish or the cap; None if it runs on."""
    part = record.workout
    if part is None:
        return None
    likely, cap_s = part.score.likely, part.definition.time_cap_s
    if likely.finished and likely.time_s is not None:
        return part.clock.zero_s + likely.time_s - part.score.penalties_s
    if cap_s is not None and part.clock.zero_s + cap_s <= record.film.duration_s:
        return part.clock.zero_s + cap_s
    return None


def does_not_count(record: AuditRecord) -> dict[int, str]:
    """Say by rep number why a rep does not count although it is no no-rep."""
    part = record.workout
    if part is None:
        return {}
    stop_s = clock_stop_s(record)
    extra = {flag.at_s for flag in part.flags if flag.kind == "extra rep"}
    reasons: dict[int, str] = {}
    for rep in record.reps:
        if rep.verdict == "no-rep":
            continue
        if rep.block is None:
            reasons[rep.number] = "not part of the workout"
        elif stop_s is not None and (rep.counted_s or rep.end_s) > stop_s + 1e-6:
            reasons[rep.number] = "complete after the clock stopped"
        elif rep.start_s in extra:
            reasons[rep.number] = "more than asked, or out of turn"
    return reasons


def tie_break_words(tie_break: TieBreakPart) -> str:
    """Say when the tie-break was reached, and how sure that is."""
    if tie_break.words.startswith("end of "):
        chance = f"chance that {tie_break.words.removeprefix('end of ')} was completed"
    else:
        chance = f"chance that {tie_break.words} was reached"
    open_to_doubt = 0.005 <= tie_break.reached <= 0.995
    doubt = f"; {percent(tie_break.reached)} {chance}" if open_to_doubt else ""
    if tie_break.time_s is None:
        return f"not reached ({tie_break.words}){doubt}"
    decimals = time_decimals(tie_break.uncertainty_s)
    words = f"{clock(tie_break.time_s, decimals)} ({tie_break.words})"
    if tie_break.earliest_s is not None and tie_break.latest_s is not None:
        early, late = clock(tie_break.earliest_s, decimals), clock(tie_break.latest_s, decimals)
        if early != late:
            words += f", between {early} and {late}"
    return words + doubt


def undecided_rows(part: WorkoutPart) -> list[list[str]]:
    """Rep, why it is open, the score if it counts, the score if not."""
    return [
        [
            str(item.rep),
            item.why,
            outcome_words(item.if_good, time_decimals(part.score.time_uncertainty_s)),
            outcome_words(item.if_no_rep, time_decimals(part.score.time_uncertainty_s)),
        ]
        for item in part.score.undecided
    ]


def sheet_rows(part: WorkoutPart) -> list[list[str]]:
    """Rows of the judge's sheet, in the order of ``SHEET_HEADINGS``."""
    decimals = time_decimals(part.clock.event_uncertainty_s)
    return [
        [
            str(line.block),
            str(line.round),
            line.movement,
            UNKNOWN if line.asked is None else str(line.asked),
            str(line.counted),
            str(line.good),
            str(line.no_rep),
            str(line.too_close),
            str(line.only_counted),
            clock(line.end_s - part.clock.zero_s, decimals),
        ]
        for line in part.stations
    ]


def time_row(part: WorkoutPart) -> list[str]:
    """Where the time of the whole workout went, in the order of ``TIME_HEADINGS``."""
    whole = next((row for row in part.splits if row.level == "workout"), None)
    if whole is None:
        return []
    length_s = whole.end_s - whole.start_s
    spent = (whole.work_s, whole.pause_s, whole.break_s, whole.transition_s, whole.rest_s)
    return [
        f"{number(seconds, 1)} s ({percent(seconds / length_s if length_s else 0.0)})"
        for seconds in spent
    ]


def split_rows(part: WorkoutPart, levels: tuple[str, ...]) -> list[list[str]]:
    """Rows of splits at some levels, in the order of ``SPLIT_HEADINGS``."""
    return [_split_row(row, part) for row in part.splits if row.level in levels]


def _split_row(row: SplitPart, part: WorkoutPart) -> list[str]:
    decimals = time_decimals(part.clock.event_uncertainty_s)
    spent = (row.work_s, row.pause_s, row.break_s, row.transition_s, row.rest_s)
    return [
        split_name(row),
        split_end(row, decimals),
        number(row.end_s - row.start_s, 1),
        str(row.reps),
        str(row.counted),
        *(number(seconds, 1) for seconds in spent),
        UNKNOWN if row.cycle_s is None else f"{number(row.cycle_s, 1)} s",
        UNKNOWN if row.work_to_rest is None else f"{number(row.work_to_rest, 1)} : 1",
    ]


def split_end(row: SplitPart, decimals: int) -> str:
    """Write when a split ends: ``1:12``, with its range where that hangs on open calls."""
    words = clock(row.end_s, decimals)
    if row.earliest_end_s is None or row.latest_end_s is None:
        return words
    return f"{words} ({clock(row.earliest_end_s, decimals)} to {clock(row.latest_end_s, decimals)})"


def split_name(row: SplitPart) -> str:
    """Name a split: ``block 1, round 2, pull-up``."""
    if row.level == "workout":
        return "whole workout"
    parts = [
        f"{name} {value}"
        for name, value in (("block", row.block), ("round", row.round))
        if value is not None
    ]
    if row.movement is not None:
        parts.append(row.movement)
    if row.set is not None:
        parts.append(f"set {row.set}")
    return ", ".join(parts) or "not part of the workout"
