"""What a followed workout and a continuity test add to the report."""

import itertools
from dataclasses import dataclass

from cli.scores import split_end
from cli.summary import TimeShare, where_time_went
from cli.wording import COVERAGE_95, UNKNOWN, clock, percent, seconds
from counting.record.types import AuditRecord
from counting.workout.record import OutcomePart, ScorePart, SplitPart, WorkoutPart


@dataclass(frozen=True, slots=True)
class Headline:
    """The score as a judge's sheet would head it, and the sentences under it."""

    value: str
    words: str
    details: list[str]


@dataclass(frozen=True, slots=True)
class SplitRow:
    """One line of the splits: ``level`` "block", "round" or "station", cells ready to print."""

    level: str
    name: str
    cells: list[str]


OTHER_VERSION = "The workout in this record is of another version and is left out: audit again."
SPLIT_HEADINGS = (
    "From",
    "To",
    "Reps",
    "Good",
    "Work",
    "Paused",
    "Broken",
    "Change",
    "Rest",
    "Cycle",
)


def headline(part: WorkoutPart) -> Headline:
    """Head the sheet with the score, its interval, the tie-break and where the clock began."""
    score = part.score
    worst, best = outcome_words(score.worst), outcome_words(score.best)
    words = "the score stands"
    if worst != best:
        if score.best.finished and not score.worst.finished:
            best = f"a finish in {best}"
        words = f"most likely; between {worst} and {best} ({percent(score.within)} sure)"
    details = [score.counting]
    if not score.likely.finished and score.reps_asked is not None:
        details.append(f"{score.likely.reps} of {score.reps_asked} reps done")
    if score.penalties_s:
        details.append(f"{seconds(score.penalties_s)} of penalties are in the score")
    if score.missing_reps:
        missing = score.missing_reps
        details.append(f"{missing} rep{'s' if missing > 1 else ''} missing")
    if score.tie_break is not None:
        details.append(_tie_break_words(score))
    zero = part.clock
    details.append(
        f"clock from {clock(zero.zero_s)} of the film: {zero.words} "
        f"({_give_or_take(COVERAGE_95 * zero.uncertainty_s)})"
    )
    return Headline(outcome_words(score.likely), words, details)


def outcome_words(outcome: OutcomePart) -> str:
    """Write a score: the clock where the work was finished, else the reps."""
    if outcome.finished and outcome.time_s is not None:
        return clock(outcome.time_s)
    return "1 rep" if outcome.reps == 1 else f"{outcome.reps} reps"


def split_rows(part: WorkoutPart) -> list[SplitRow]:
    """List blocks, their rounds and the rounds' stations, each under what it is part of.

    A level that holds one line only is left out: it would repeat the one below or above.
    """
    blocks = [split for split in part.splits if split.level == "block"]
    rows = []
    for block in blocks:
        if len(blocks) > 1:
            rows.append(_row("block", f"block {block.block}", block))
        rounds = [s for s in part.splits if s.level == "round" and s.block == block.block]
        for one in rounds:
            if len(rounds) > 1:
                rows.append(_row("round", f"round {one.round}", one))
            rows += [
                _row("station", split.movement or f"station {split.station}", split)
                for split in part.splits
                if split.level == "station" and (split.block, split.round) == (one.block, one.round)
            ]
    return rows


def time_shares(record: AuditRecord, part: WorkoutPart | None) -> list[TimeShare]:
    """Say where the time went: by the workout's clock where there is one."""
    whole = [split for split in part.splits if split.level == "workout"] if part else []
    if not whole:
        return where_time_went(record)
    split = whole[0]
    span_s = split.end_s - split.start_s
    named = (
        ("moving", split.work_s),
        ("paused inside a set", split.pause_s),
        ("breaks between sets", split.break_s),
        ("changing over", split.transition_s),
        ("ordered rest", split.rest_s),
    )
    return [TimeShare(what, time_s, time_s / span_s) for what, time_s in named if time_s > 1e-6]


def flag_sentences(record: AuditRecord) -> list[str]:
    """Say what a judge would stop at, with its time."""
    part = record.workout
    if part is None:
        return []
    sentences = []
    for kind, run in itertools.groupby(part.flags, key=lambda flag: flag.kind):
        flags = list(run)
        if kind == "extra rep" and len(flags) > 1:
            first, last = clock(flags[0].at_s), clock(flags[-1].at_s)
            sentences.append(f"{first} to {last}: {len(flags)} good reps do not count here")
        else:
            sentences += [f"{clock(flag.at_s)}: {flag.words}" for flag in flags]
    return sentences


def _row(level: str, name: str, split: SplitPart) -> SplitRow:
    cells = [
        clock(split.start_s),
        split_end(split, 1),
        str(split.reps),
        str(split.good),
        seconds(split.work_s),
        seconds(split.pause_s),
        seconds(split.break_s),
        seconds(split.transition_s),
        seconds(split.rest_s),
        UNKNOWN if split.cycle_s is None else f"{split.cycle_s:.1f} s",
    ]
    return SplitRow(level, name, cells)


def _give_or_take(expanded_s: float) -> str:
    return f"± {expanded_s:.1f} s" if expanded_s >= 0.05 else "to a tenth of a second"


def _tie_break_words(score: ScorePart) -> str:
    tie = score.tie_break
    if tie is None or tie.time_s is None:
        return "tie-break not reached"
    words = f"tie-break {clock(tie.time_s)} ({tie.words})"
    if tie.earliest_s is not None and tie.latest_s is not None:
        earliest, latest = clock(tie.earliest_s), clock(tie.latest_s)
        if earliest != latest:
            words += f", between {earliest} and {latest}"
    return words
