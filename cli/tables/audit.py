"""The tables that ``audit`` prints: what was seen, sets, calls, summary."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from rich.console import Console
from rich.table import Table
from rich.text import Text

from cli.report.continuity import not_shown_words
from cli.summary import (
    counted_sentences,
    decision_s,
    movement_words,
    movements,
    set_summaries,
    to_explain,
)
from cli.terminal import console
from cli.wording import (
    COVERAGE_95,
    UNKNOWN,
    clock,
    number,
    percent,
    seconds,
    some_times,
    view_words,
    why,
)
from counting.record.types import AuditRecord, CameraPart, CountsPart, RepPart

VERDICT_STYLE = {
    "good": "green",
    "no-rep": "bold red",
    "too close": "yellow",
    "only counted": "cyan",
}
PIPE_WIDTH = 200
ROOMY_WIDTH = 100

BLOCKS: Final = "▁▂▃▄▅▆▇█"
DIGITS: Final = "12345678"


def audit_console(*, stderr: bool = False) -> Console:
    """Make a console: colours on a terminal unless NO_COLOR is set, plain wide text in a pipe."""
    made = console(stderr=stderr, highlight=False, emoji=False, markup=False)
    if not made.is_terminal:
        made.width = PIPE_WIDTH
    return made


def print_audit(record: AuditRecord, out: Console | None = None) -> None:
    """Print a record's tables: what was seen, its sets, the reps that are not good, the sum."""
    out = out or audit_console()
    _print_seen(record, out)
    if record.sets:
        out.print()
        out.print(_sets_table(record, out))
    calls = to_explain(record)
    if calls:
        out.print()
        out.print(_calls_table(calls))
        out.print(Text("± spans 95 %; % good is the probability that every check is met", "dim"))
    if record.pauses:
        out.print()
        out.print(_pauses_table(record))
    notes = [*record.warnings, *counted_sentences(record), *record.film_notes]
    if notes:
        out.print()
        for sentence in notes:
            out.print(Text.assemble(("note  ", "bold"), sentence))
    out.print()
    out.print(count_line(record.counts))


def count_line(counts: CountsPart) -> Text:
    """Sum up in one line: how many are good, and between what the count may stand."""
    total = counts.good + counts.no_rep + counts.too_close + counts.only_counted
    line = Text.assemble((f"{counts.good} good", VERDICT_STYLE["good"]), f" of {_reps(total)}")
    if counts.no_rep:
        line.append(", ").append(f"{counts.no_rep} no-rep", VERDICT_STYLE["no-rep"])
    if counts.too_close:
        line.append(", ").append(
            f"{counts.too_close} too close to call", VERDICT_STYLE["too close"]
        )
    if counts.only_counted:
        line.append(", ").append(
            f"{counts.only_counted} only counted", VERDICT_STYLE["only counted"]
        )
    if counts.lowest == counts.highest:
        line.append(f"; the count stands at {counts.lowest}", "bold")
    else:
        line.append(f"; between {counts.lowest} and {counts.highest} may stand", "bold")
    likely = max(counts.distribution, key=lambda part: part.probability, default=None)
    if likely is not None and likely.probability < 0.995 and not counts.only_counted:
        line.append(f", most likely {likely.good} ({percent(likely.probability)})")
    return line


def _print_seen(record: AuditRecord, out: Console) -> None:
    film = record.film
    length = clock(film.duration_s) if film.times_known else "of unknown length"
    rate = f"{film.frame_rate_mean_hz:.2f}".rstrip("0").rstrip(".")
    pace = " on average, uneven" if film.variable_frame_rate else ""
    out.print(Text.assemble((film.file, "bold"), f"  {movement_words(record)}"))
    facts = Table.grid(padding=(0, 2))
    facts.add_column(style="dim")
    facts.add_column()
    facts.add_row(
        "film",
        f"{length}, {film.frames} frames of {film.width} x {film.height}, {rate} a second{pace}",
    )
    facts.add_row("athlete", _athlete_words(record))
    facts.add_row("camera", _camera_words(record.camera))
    if record.continuity is not None:
        facts.add_row("one take", record.continuity.words)
        not_shown = not_shown_words(record)
        if not_shown is not None:
            facts.add_row("", f"no film shows: {not_shown}")
    if record.start_s is not None:
        facts.add_row("start", clock(record.start_s))
    out.print(facts)


def _athlete_words(record: AuditRecord) -> str:
    athlete = record.athlete
    words = f"in {100 * athlete.seen_share:.1f} % of frames"
    if athlete.identity_breaks_s:
        words += f"; may be another person from {some_times(athlete.identity_breaks_s)}"
    return words


def _camera_words(camera: CameraPart) -> str:
    words = view_words(camera.view_deg)
    if camera.view_deg is not None:
        words += f" ({number(camera.view_deg, 0)}"
        if camera.view_uncertainty_deg is not None:
            words += f" ± {number(COVERAGE_95 * camera.view_uncertainty_deg, 0)}"
        words += "°; 0° front, 90° side)"
    return words + (", steady" if camera.steady else f", shakes by {camera.shake_px:.1f} pixels")


def _sets_table(record: AuditRecord, out: Console) -> Table:
    roomy = out.width >= ROOMY_WIDTH
    mixed = len(movements(record)) > 1
    table = _table("Sets")
    counted = bool(record.counts.only_counted)
    for heading in ("set", "reps", "good", "no-rep", "too close"):
        table.add_column(heading, justify="right", no_wrap=True)
    if counted:
        table.add_column("only counted", justify="right", no_wrap=True)
    if mixed:
        table.add_column("movement")
    table.add_column("from", no_wrap=True)
    if roomy:
        table.add_column("to", no_wrap=True)
    table.add_column("cycle", justify="right", no_wrap=True)
    table.add_column("cycle times", no_wrap=True)
    table.add_column("then")
    sets = set_summaries(record)
    cycles = [cycle for part in sets for cycle in part.cycle_s]
    lowest, highest = min(cycles, default=0.0), max(cycles, default=0.0)
    for part in sets:
        middle = part.cycle_median_s
        cells: list[str | Text] = [str(part.number), str(part.attempts), str(part.good)]
        cells += [_count_cell(part.no_rep, "no-rep"), _count_cell(part.too_close, "too close")]
        cells += [_count_cell(part.only_counted, "only counted")] if counted else []
        cells += [part.movement] if mixed else []
        cells += [clock(part.start_s)] + ([clock(part.end_s)] if roomy else [])
        cells += [UNKNOWN if middle is None else f"{middle:.1f} s"]
        cells += [
            sparkline(
                part.cycle_s,
                lowest,
                highest,
                width=24 if roomy else 12,
                ascii_only=_ascii_only(out),
            )
        ]
        cells += ["" if part.rest_s is None else f"{seconds(part.rest_s)} {part.rest_kind}"]
        table.add_row(*cells)
    return table


def _calls_table(reps: list[RepPart]) -> Table:
    table = _table("Not good, or not sure")
    table.add_column("rep", justify="right")
    table.add_column("set", justify="right")
    table.add_column("at")
    table.add_column("call")
    table.add_column("% good", justify="right")
    table.add_column("why", ratio=1)
    for rep in reps:
        table.add_row(
            str(rep.number),
            str(rep.set),
            clock(decision_s(rep)),
            Text(rep.verdict, VERDICT_STYLE[rep.verdict]),
            percent(rep.probability_good),
            why(rep),
        )
    return table


def _pauses_table(record: AuditRecord) -> Table:
    table = _table("Pauses inside a set")
    table.add_column("after rep", justify="right")
    table.add_column("at")
    table.add_column("length", justify="right")
    table.add_column("where")
    for pause in record.pauses:
        table.add_row(
            str(pause.after_rep),
            clock(pause.start_s),
            seconds(pause.end_s - pause.start_s),
            pause.where,
        )
    return table


def _table(title: str) -> Table:
    return Table(
        title=title,
        title_justify="left",
        title_style="bold",
        header_style="dim",
        box=None,
        padding=(0, 2, 0, 0),
        pad_edge=False,
    )


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
