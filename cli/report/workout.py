"""What a followed workout and a continuity test add to the report."""

import itertools
from dataclasses import dataclass

from cli.scores import score_sentences, split_end, tie_break_words
from cli.summary import TimeShare, where_time_went
from cli.wording import UNKNOWN, moment, on_clock, seconds
from counting.record.types import AuditRecord
from counting.workout.record import SplitPart, WorkoutPart
from vision.times import clock


@dataclass(frozen=True, slots=True)
class SplitRow:
    """One line of the splits: ``level`` "block", "round" or "station", cells ready to print."""

    level: str
    name: str
    cells: list[str]


SPLIT_HEADINGS = (
    *("From", "To", "Tried", "Count", "Work", "Paused", "Breaks", "Transition", "Rest", "Cycle"),
)


def score_details(part: WorkoutPart) -> list[str]:
    """Say what belongs under the score: the tie-break, the rule, what is missing, the clock."""
    tie_break = part.score.tie_break
    details = [] if tie_break is None else [f"tie-break: {tie_break_words(tie_break)}"]
    return details + score_sentences(part)


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
        ("paused mid-set", split.pause_s),
        ("breaks", split.break_s),
        ("transition", split.transition_s),
        ("scheduled rest", split.rest_s),
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
            first = on_clock(flags[0].at_s, part.clock.zero_s)
            last = moment(flags[-1].at_s, part.clock.zero_s)
            sentences.append(f"{first} to {last}: {len(flags)} good reps do not count here")
        else:
            sentences += [f"{moment(flag.at_s, part.clock.zero_s)}: {flag.words}" for flag in flags]
    return sentences


def _row(level: str, name: str, split: SplitPart) -> SplitRow:
    cells = [
        clock(split.start_s),
        split_end(split, 1),
        str(split.reps),
        str(split.counted),
        seconds(split.work_s),
        seconds(split.pause_s),
        seconds(split.break_s),
        seconds(split.transition_s),
        seconds(split.rest_s) if split.rest_s else UNKNOWN,
        UNKNOWN if split.cycle_s is None else f"{split.cycle_s:.1f} s",
    ]
    return SplitRow(level, name, cells)
