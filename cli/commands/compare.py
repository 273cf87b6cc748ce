"""``repwitness compare``: two attempts side by side."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.errors import BAD_INPUT, UserError

if TYPE_CHECKING:
    from rich.console import Console

    from counting.compare.types import Comparison, RepPair


def compare(
    first: Annotated[
        Path, typer.Argument(metavar="FIRST", help="An audit's folder or its audit.json.")
    ],
    second: Annotated[Path, typer.Argument(metavar="SECOND", help="The audit to compare it with.")],
    every_rep: Annotated[
        bool, typer.Option("--reps", help="A line for every rep, not only for every station.")
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print the comparison as JSON.")] = False,
) -> None:
    """Compare two attempts: where time was gained or lost.

    Aligns them by rep and says by what the second gained or lost.

    Causes: slower or faster reps, no-reps, pauses, breaks, transitions, rest between blocks.
    """
    from cli.audit.opening import open_audit
    from counting.compare.aligning import compare as align
    from counting.record.parts import TIMES_UNKNOWN

    opened = [open_audit(path) for path in (first, second)]
    for path, audit in zip((first, second), opened, strict=True):
        if not audit.record.film.times_known:
            raise UserError(f"{path}: {TIMES_UNKNOWN}", BAD_INPUT)
    found = align(*(audit.record for audit in opened))
    if not found.pairs:
        raise UserError(f"{first} and {second}: they have no rep in common", BAD_INPUT)
    doubts = [
        f"the {name} record is {audit.doubt}"
        for name, audit in zip(("first", "second"), opened, strict=True)
        if audit.doubt is not None
    ]
    found = replace(found, warnings=(*doubts, *found.warnings))
    if json:
        import msgspec

        typer.echo(msgspec.json.format(msgspec.json.encode(found), indent=1).decode())
        return
    from cli.tables.audit import audit_console

    _print(found, audit_console(), every_rep=every_rep)


def _print(found: "Comparison", out: "Console", *, every_rep: bool) -> None:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    from cli.wording import number
    from counting.compare.types import CAUSES
    from vision.times import clock

    for warning in found.warnings:
        out.print(Text.assemble(("note  ", "bold yellow"), warning))
    last = found.pairs[-1]
    word = "ahead" if last.ahead_s >= 0 else "behind"
    margin_s = 2.0 * found.uncertainty_s
    close = "" if abs(last.ahead_s) > margin_s else " (too close to call)"
    out.print(
        f"after {len(found.pairs)} reps the second is {number(abs(last.ahead_s), 1)} "
        f"± {number(margin_s, 1)} s {word}{close}"
    )
    unpaired = [
        f"{len(numbers)} good reps of the {name} have no counterpart"
        for name, numbers in (("first", found.only_first), ("second", found.only_second))
        if numbers
    ]
    for sentence in unpaired:
        out.print(sentence)
    causes = Table(title="by cause", title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False)
    causes.add_column("cause")
    causes.add_column("second gained, s", justify="right")
    for cause, gained_s in found.gained_by_cause_s().items():
        causes.add_row(cause, _signed(gained_s))
    causes.add_row("all", _signed(last.ahead_s), style="bold")
    out.print(causes)
    table = Table(
        title="gained since the previous line, by cause (s)",
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
    )
    for heading in ("until", "first", "second", *CAUSES, "ahead"):
        table.add_column(heading, justify="left" if heading == "until" else "right")
    for group in [[pair] for pair in found.pairs] if every_rep else _by_place(found.pairs):
        end = group[-1]
        table.add_row(
            _name(end),
            clock(end.first_s),
            clock(end.second_s),
            *(_signed(sum(pair.gained_s[cause] for pair in group)) for cause in CAUSES),
            _signed(end.ahead_s),
        )
    out.print(table)


def _by_place(pairs: "tuple[RepPair, ...]") -> "list[list[RepPair]]":
    groups: list[list[RepPair]] = []
    for pair in pairs:
        before = groups[-1][-1] if groups else None
        place = (pair.movement, pair.block, pair.round, pair.station)
        if before and (before.movement, before.block, before.round, before.station) == place:
            groups[-1].append(pair)
        else:
            groups.append([pair])
    return groups


def _name(pair: "RepPair") -> str:
    where = "" if pair.block is None else f"block {pair.block}, round {pair.round}, "
    return f"{where}{pair.movement} {pair.ordinal}"


def _signed(seconds: float) -> str:
    from cli.wording import number

    text = number(seconds, 1)
    return text if text.startswith("−") or text == "0.0" else f"+{text}"
