"""How a workout's score, flags and splits are put in words and rows, the same everywhere."""

from cli.wording import UNKNOWN, clock, number, percent
from counting.workout.clock import time_decimals
from counting.workout.record import OutcomePart, ScorePart, SplitPart, TieBreakPart, WorkoutPart

TIME_HEADINGS = ("moving", "paused, bar in hand", "broken", "in transition", "ordered rest")
SPLIT_HEADINGS = (
    *("where", "clock", "took", "reps", "good", "work", "pause", "break", "transition", "rest"),
    *("a rep", "work : rest"),
)


def outcome_words(outcome: OutcomePart, score: ScorePart) -> str:
    """Write one possible score: a time where the work was finished, else counted reps."""
    if outcome.finished and outcome.time_s is not None:
        return clock(outcome.time_s, time_decimals(score.time_uncertainty_s))
    asked = f" of {score.reps_asked}" if score.reps_asked is not None else ""
    return f"{outcome.reps}{asked} reps"


def score_value(part: WorkoutPart) -> str:
    """Write the most likely score with its half-width where it is a time."""
    score = part.score
    value = outcome_words(score.likely, score)
    if score.likely.finished:
        decimals = time_decimals(score.time_uncertainty_s)
        return f"{value} ± {number(2.0 * score.time_uncertainty_s, decimals)} s"
    if part.definition.blocks[-1].fixed_rounds is None:
        rounds = "1 round" if score.rounds_done == 1 else f"{score.rounds_done} rounds"
        return f"{value} ({rounds} + {score.reps_in_round})"
    return value


def score_sentences(part: WorkoutPart) -> list[str]:
    """Say what surrounds the score: interval, rule, tie-break, clock."""
    score = part.score
    worst, best = outcome_words(score.worst, score), outcome_words(score.best, score)
    lines = [
        f"stands at {worst}, whichever way the open calls go"
        if worst == best
        else f"between {worst} and {best}",
    ]
    lines[0] += f" (probability {percent(score.within)})"
    lines.append(f"rule: {score.counting}; {score.good_reps} good reps in the whole film")
    if score.missing_reps:
        lines.append(f"{score.missing_reps} reps were not made up before moving on")
    if score.penalties_s:
        lines.append(f"{number(score.penalties_s, 1)} s of penalties are in the time")
    if score.tie_break is not None:
        lines.append(tie_break_words(score.tie_break))
    zero = clock(part.clock.zero_s, time_decimals(part.clock.uncertainty_s))
    lines.append(
        f"clock zero at {zero} of the film ({part.clock.words}; "
        f"confidence {percent(part.clock.confidence)})"
    )
    return lines


def tie_break_words(tie_break: TieBreakPart) -> str:
    """Say when the tie-break was reached, and how sure that is."""
    if tie_break.time_s is None:
        return f"tie-break at {tie_break.words}: not reached ({percent(1 - tie_break.reached)})"
    decimals = time_decimals(tie_break.uncertainty_s)
    words = f"tie-break at {tie_break.words}: {clock(tie_break.time_s, decimals)}"
    if tie_break.earliest_s is not None and tie_break.latest_s is not None:
        early, late = clock(tie_break.earliest_s, decimals), clock(tie_break.latest_s, decimals)
        words += f", between {early} and {late}"
    return words if tie_break.reached > 0.995 else f"{words}; reached: {percent(tie_break.reached)}"


def undecided_rows(part: WorkoutPart) -> list[list[str]]:
    """Rep, why it is open, the score if good, the score if not."""
    return [
        [
            str(item.rep),
            item.why,
            outcome_words(item.if_good, part.score),
            outcome_words(item.if_no_rep, part.score),
        ]
        for item in part.score.undecided
    ]


def sheet_rows(part: WorkoutPart) -> list[list[str]]:
    """Block, round, station, asked, counted, good, no-rep, too close, only counted, complete at."""
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
        str(row.good),
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
    return ", ".join(parts) or "off the script"
