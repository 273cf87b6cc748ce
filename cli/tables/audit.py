"""The tables that ``audit`` prints: what was seen, sets, calls, summary."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from rich.console import Console
from rich.table import Table
from rich.text import Text

from cli.answer import answer_of
from cli.report.continuity import not_shown_words
from cli.report.workout import flag_sentences
from cli.scores import clock_start_words
from cli.summary import (
    counted_sentences,
    decision_s,
    movement_words,
    movements,
    set_summaries,
    to_explain,
)
from cli.tables.fitting import Column, fitted_table
from cli.terminal import console
from cli.wording import (
    UNKNOWN,
    height_words,
    moment,
    number,
    on_clock,
    percent,
    seconds,
    some_times,
    tuned_words,
    view_words,
    visible_words,
    why,
)
from counting.decision.normal import NORMAL_95
from counting.record.types import (
    AuditRecord,
    CameraPart,
    CountsPart,
    RepPart,
    SecondViewPart,
    UnexplainedPart,
)
from vision.times import clock

VERDICT_STYLE = {
    "good": "green",
    "no-rep": "bold red",
    "too close": "yellow",
    "only counted": "cyan",
}
PIPE_WIDTH: Final = 200
"""Columns where no terminal says how many there are: nothing is broken into lines."""
ROOMY_WIDTH: Final = 100
"""Columns from which bars are drawn twice as long."""

BLOCKS: Final = "▁▂▃▄▅▆▇█"
DIGITS: Final = "12345678"


def audit_console(*, stderr: bool = False) -> Console:
    """Make a console: colours on a terminal unless NO_COLOR is set, plain wide text in a pipe."""
    made = console(stderr=stderr, highlight=False, emoji=False, markup=False)
    if not made.is_terminal:
        made.width = PIPE_WIDTH
    return made


def print_audit(
    record: AuditRecord,
    out: Console | None = None,
    *,
    review: str | None = None,
    report: str | None = None,
) -> None:
    """Print the answer and what it rests on: the film, its sets, the reps that are not good.

    ``review`` is the folder that the next command names where calls are open, ``report`` the one
    where none is; without it no command is named.
    """
    out = out or audit_console()
    open_calls = record.counts.too_close or record.counts.only_counted
    command, folder = ("review", review) if open_calls else ("report", report)
    _print_answer(record, out, None if folder is None else f"repwitness {command} {folder}")
    _print_seen(record, out)
    if record.sets:
        out.print()
        out.print(_sets_table(record, out))
    calls = to_explain(record)
    if calls:
        out.print()
        out.print(_calls_table(calls, record.start_s, out))
        told = "in brackets: the range that the call comes from; chance: that the whole rep is good"
        out.print(Text(told, "dim"))
    if record.pauses:
        out.print()
        out.print(_pauses_table(record, out))
    notes = [
        *flag_sentences(record),
        *record.warnings,
        *counted_sentences(record),
        *record.film_notes,
        *filter(None, [tuned_words(record.versions)]),
        *(unexplained_words(stretch, record.start_s) for stretch in record.unexplained),
    ]
    if notes:
        out.print()
        for sentence in notes:
            out.print(Text.assemble(("note  ", "bold"), sentence))


def _print_answer(record: AuditRecord, out: Console, following: str | None) -> None:
    answer = answer_of(record)
    out.print(Text.assemble((record.film.file, "bold"), f"  {movement_words(record)}"))
    lines = Table.grid(padding=(0, 2))
    lines.add_column(style="dim", no_wrap=True)
    lines.add_column()
    if answer.workout is not None:
        lines.add_row("workout", answer.workout)
        lines.add_row("score", Text.assemble((answer.value, "bold"), f"; {answer.words}"))
    else:
        lines.add_row("count", Text.assemble((answer.value, "bold"), f" {answer.words}"))
    if answer.tie_break is not None:
        lines.add_row("tie-break", answer.tie_break)
    lines.add_row("calls", tally(record.counts))
    lines.add_row("to decide", answer.to_decide)
    if following is not None:
        lines.add_row("next", following)
    out.print(lines)
    out.print()


def tally(counts: CountsPart) -> Text:
    """Count the calls in one line: ``14 good, 2 no-rep, 3 too close of 19 reps tried``."""
    total = counts.good + counts.no_rep + counts.too_close + counts.only_counted
    line = Text.assemble((f"{counts.good} good", VERDICT_STYLE["good"]))
    if counts.no_rep:
        line.append(", ").append(f"{counts.no_rep} no-rep", VERDICT_STYLE["no-rep"])
    if counts.too_close:
        line.append(", ").append(f"{counts.too_close} too close", VERDICT_STYLE["too close"])
    if counts.only_counted:
        line.append(", ").append(
            f"{counts.only_counted} only counted", VERDICT_STYLE["only counted"]
        )
    return line.append(f" of {_reps(total)} tried")


def _print_seen(record: AuditRecord, out: Console) -> None:
    film = record.film
    length = clock(film.duration_s) if film.times_known else "of unknown length"
    rate = f"{film.frame_rate_mean_hz:.2f}".rstrip("0").rstrip(".")
    pace = " on average, uneven" if film.variable_frame_rate else ""
    facts = Table.grid(padding=(0, 2))
    facts.add_column(style="dim")
    facts.add_column()
    facts.add_row(
        "film",
        f"{length}, {film.frames} frames of {film.width} x {film.height}, {rate} a second{pace}",
    )
    facts.add_row("athlete", _athlete_words(record))
    facts.add_row("camera", _camera_words(record.camera))
    for view in record.further_films:
        facts.add_row("also from", _view_words(view))
    if record.continuity is not None:
        facts.add_row("one take", record.continuity.words)
        not_shown = not_shown_words(record)
        if not_shown is not None:
            facts.add_row("", f"no film shows: {not_shown}")
    if record.workout is not None:
        facts.add_row("clock", clock_start_words(record.workout).removeprefix("clock "))
    elif record.start_s is not None:
        facts.add_row("clock", f"starts at {clock(record.start_s)} of the film")
    out.print(facts)


def _athlete_words(record: AuditRecord) -> str:
    athlete = record.athlete
    words = "; ".join(filter(None, [visible_words(athlete.seen_share), height_words(athlete)]))
    if athlete.identity_breaks_s:
        again = some_times(athlete.identity_breaks_s, record.start_s)
        words += f"; may be another person from {again} on"
    return words


def _view_words(view: SecondViewPart) -> str:
    """Name a further film, from where it was taken, and how well its clock is known."""
    continuity = "" if view.continuity is None else f"; {view.continuity.words}"
    return (
        f"{view.film.file}: {view_words(view.view_deg)}, starts {clock(view.offset_s)} into the "
        f"first by {view.clock_from} (± {1000 * NORMAL_95 * view.offset_uncertainty_s:.0f} ms)"
        f"{continuity}"
    )


def _camera_words(camera: CameraPart) -> str:
    words = view_words(camera.view_deg)
    if camera.view_deg is not None:
        words += f" ({number(camera.view_deg, 0)}"
        if camera.view_uncertainty_deg is not None:
            words += f" ± {number(NORMAL_95 * camera.view_uncertainty_deg, 0)}"
        words += "°; 0° front, 90° side)"
    return words + (", steady" if camera.steady else f", shakes by {camera.shake_px:.1f} pixels")


def _sets_table(record: AuditRecord, out: Console) -> Table:
    sets, zero_s = set_summaries(record), record.start_s
    cycles = [cycle for part in sets for cycle in part.cycle_s]
    lowest, highest = min(cycles, default=0.0), max(cycles, default=0.0)
    bars = 24 if out.width >= ROOMY_WIDTH else 12
    medians = [part.cycle_median_s for part in sets]
    sparklines = [
        sparkline(part.cycle_s, lowest, highest, width=bars, ascii_only=_ascii_only(out))
        for part in sets
    ]
    rests = [
        "" if part.rest_s is None else f"{seconds(part.rest_s)} {part.rest_kind}" for part in sets
    ]
    columns = [
        Column("set", [str(part.number) for part in sets]),
        Column("tried", [str(part.attempts) for part in sets]),
        Column("good", [str(part.good) for part in sets]),
        Column("no-rep", [_count_cell(part.no_rep, "no-rep") for part in sets]),
        Column("too close", [_count_cell(part.too_close, "too close") for part in sets]),
    ]
    if record.counts.only_counted:
        counted = [_count_cell(part.only_counted, "only counted") for part in sets]
        columns.append(Column("only counted", counted))
    if len(movements(record)) > 1:
        columns.append(Column("movement", [part.movement for part in sets], 1, "left"))
    columns += [
        Column("from", [on_clock(part.start_s, zero_s) for part in sets], 2, "left"),
        Column("to", [on_clock(part.end_s, zero_s) for part in sets], 5, "left"),
        Column("cycle", [UNKNOWN if m is None else f"{m:.1f} s" for m in medians], 3),
        Column("cycle times", sparklines, 6, "left"),
        Column("then", rests, 4, "left"),
    ]
    return fitted_table("Sets", columns, out)


def _calls_table(reps: list[RepPart], zero_s: float | None, out: Console) -> Table:
    at_s = [decision_s(rep) for rep in reps]
    film_times = [Column("film", [f"({clock(time_s)})" for time_s in at_s], 2, "left")]
    columns = [
        Column("rep", [str(rep.number) for rep in reps]),
        Column("set", [str(rep.set) for rep in reps], 3),
        Column("at", [on_clock(time_s, zero_s) for time_s in at_s], justify="left"),
        *(film_times if zero_s else []),
        Column("call", [Text(r.verdict, VERDICT_STYLE[r.verdict]) for r in reps], justify="left"),
        Column("chance", [percent(rep.probability_good) for rep in reps], 1),
        Column("why", [why(rep) for rep in reps], justify="left", wraps=True),
    ]
    return fitted_table("Not good, or too close", columns, out)


def unexplained_words(stretch: UnexplainedPart, zero_s: float | None = None) -> str:
    """Say where reps may be hidden, how many and why."""
    why = {"not read": "the body was not read", "moved": "something moved as far as in a rep"}
    reps = "1 rep" if stretch.most == 1 else f"{stretch.most} reps"
    return (
        f"{on_clock(stretch.start_s, zero_s)} to {moment(stretch.end_s, zero_s)}: "
        f"up to {reps} may be hidden "
        f"({why[stretch.why]})"
    )


def _pauses_table(record: AuditRecord, out: Console) -> Table:
    pauses = record.pauses
    lengths = [seconds(pause.end_s - pause.start_s) for pause in pauses]
    columns = [
        Column("after rep", [str(pause.after_rep) for pause in pauses]),
        Column("at", [on_clock(pause.start_s, record.start_s) for pause in pauses], justify="left"),
        Column("length", lengths),
        Column("where", [pause.where for pause in pauses], justify="left"),
    ]
    return fitted_table("Paused mid-set", columns, out)


def _count_cell(count: int, verdict: str) -> Text:
    return Text(str(count), VERDICT_STYLE[verdict] if count else "dim")


def _reps(count: int) -> str:
    return "1 rep" if count == 1 else f"{count} reps"


def _ascii_only(out: Console) -> bool:
    return not out.encoding.lower().startswith("utf")


def sparkline(
    values: Sequence[float],
    lowest: float,
    highest: float,
    *,
    width: int = 24,
    ascii_only: bool = False,
) -> str:
    """Draw one bar a value on the scale ``lowest`` to ``highest``; a space for NaN.

    Parameters
    ----------
    values
        Drawn left to right. More than ``width`` of them are drawn as the means of equal stretches.
    lowest, highest
        Ends of the scale, the same for all lines that are to be compared. Values beyond are
        drawn at the end of the scale.
    ascii_only
        Digits 1 to 8 instead of blocks, for terminals without Unicode.
    """
    bars = DIGITS if ascii_only else BLOCKS
    span = highest - lowest
    return "".join(_bar(value, lowest, span, bars) for value in _thinned(values, width))


def _bar(value: float, lowest: float, span: float, bars: str) -> str:
    if math.isnan(value):
        return " "
    share = (value - lowest) / span if span > 0 else 0.0
    return bars[min(max(int(share * len(bars)), 0), len(bars) - 1)]


def _thinned(values: Sequence[float], width: int) -> list[float]:
    count = len(values)
    if count <= width:
        return list(values)
    edges = [round(index * count / width) for index in range(width + 1)]
    return [sum(values[start:stop]) / (stop - start) for start, stop in pairwise(edges)]
