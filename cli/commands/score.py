"""``repwitness score``: the judge's sheet of an audited workout."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.errors import BAD_INPUT, UserError

if TYPE_CHECKING:
    from rich.console import Console

    from counting.record.types import AuditRecord
    from counting.workout.record import WorkoutPart

LEVELS = ("workout", "block", "round", "station")


def score(
    audit: Annotated[
        Path, typer.Argument(metavar="AUDIT", help="An audit's folder or its audit.json.")
    ],
    sets: Annotated[bool, typer.Option("--sets", help="Split times down to every set.")] = False,
    csv: Annotated[
        bool, typer.Option("--csv", help="Print the splits as CSV and nothing else.")
    ] = False,
    json: Annotated[
        bool, typer.Option("--json", help="Print score, flags and splits as JSON.")
    ] = False,
) -> None:
    """Score a workout: range, tie-break, flags and splits.

    Needs an audit that was made with --workout.

    Calls changed since the audit are taken into account. The event's judges decide.
    """
    from cli.audit.opening import open_audit
    from counting.record.scored import NoWorkoutError, workout_part
    from counting.workout.splits import splits_csv
    from counting.workout.whole import scored_again

    opened = open_audit(audit)
    record = opened.record
    try:
        record = scored_again(record)
        part = workout_part(record)
    except NoWorkoutError as error:
        raise UserError(f"{audit}: {error}", BAD_INPUT) from error
    if csv:
        typer.echo(splits_csv(record, opened.doubt), nl=False)
    elif json:
        import msgspec

        document = msgspec.to_builtins(part)
        if opened.doubt is not None:
            document = {"doubt": opened.doubt, **document}
        typer.echo(msgspec.json.format(msgspec.json.encode(document), indent=1).decode())
    else:
        from cli.tables.audit import audit_console

        print_score(record, part, audit_console(), sets=sets, doubt=opened.doubt)


def print_score(
    record: "AuditRecord",
    part: "WorkoutPart",
    out: "Console",
    *,
    sets: bool = False,
    doubt: str | None = None,
) -> None:
    """Print the whole sheet: score, flags, lines, open calls, where the time went, splits."""
    from rich.table import Table
    from rich.text import Text

    from cli.answer import answer_of
    from cli.scores import (
        SHEET_HEADINGS,
        SPLIT_HEADINGS,
        TIME_HEADINGS,
        score_sentences,
        sheet_rows,
        split_rows,
        time_row,
        undecided_rows,
    )
    from cli.wording import moment

    answer = answer_of(record)
    out.print(Text.assemble((part.definition.name, "bold"), f"  {record.film.file}"))
    if doubt is not None:
        out.print(Text.assemble(("doubt  ", "bold red"), doubt))
    lines = Table.grid(padding=(0, 2))
    lines.add_column(style="dim", no_wrap=True)
    lines.add_column()
    lines.add_row("score", Text.assemble((answer.value, "bold"), f"; {answer.words}"))
    if answer.tie_break is not None:
        lines.add_row("tie-break", answer.tie_break)
    lines.add_row("to decide", answer.to_decide)
    for sentence in score_sentences(part):
        lines.add_row("", sentence)
    out.print(lines)
    for flag in part.flags:
        out.print(
            Text.assemble(
                ("flag  ", "bold yellow"),
                f"{moment(flag.at_s, part.clock.zero_s)}  {flag.kind}: {flag.words}",
            )
        )
    out.print()
    _print_table(
        out,
        "sheet",
        SHEET_HEADINGS,
        sheet_rows(part),
    )
    rows = undecided_rows(part)
    if rows:
        _print_table(out, "too close", ("rep", "why", "if it counts", "if not"), rows)
    spent = time_row(part)
    if spent:
        _print_table(out, "where the time went", TIME_HEADINGS, [spent])
        levels = (*LEVELS, "set") if sets else LEVELS
        _print_table(out, "splits", SPLIT_HEADINGS, split_rows(part, levels))


def _print_table(
    out: "Console", title: str, headings: tuple[str, ...], rows: list[list[str]]
) -> None:
    from cli.tables.fitting import ALWAYS, Column, fitted_table

    columns = [
        Column(
            heading,
            [row[index] for row in rows],
            # On a narrow terminal columns go from the right.
            ALWAYS if heading in _KEPT else index + 1,
            "left" if heading in _WORDY else "right",
        )
        for index, heading in enumerate(headings)
    ]
    out.print(fitted_table(title, columns, out))
    out.print()


_WORDY = frozenset({"station", "where", "why"})
_KEPT = frozenset({"block", "round", "station", "asked", "count", "at", "where", "clock", "rep"})
