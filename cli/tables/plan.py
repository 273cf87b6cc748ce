"""The tables that ``plan`` prints: the card on a terminal, and an attempt beside its plan."""

from rich.console import Console
from rich.table import Table
from rich.text import Text

from counting.pacing.document import PlanDocument
from counting.pacing.overlay import Laid, verdict_words
from counting.pacing.page import (
    band_words,
    before_words,
    mark_words,
    outlook_words,
    percentile_words,
    score_words,
    source_words,
)
from counting.pacing.plan import set_words
from counting.pacing.words import clock, place_words, price_words, rest_words


def print_plan(document: PlanDocument, out: Console) -> None:
    """Print a plan: expectation, stations, decisive part, prices, what is believed, cautions."""
    out.print(Text(document.workout, "bold"))
    out.print(Text(source_words(document), "dim"))
    for value, words in score_words(document):
        out.print(Text.assemble((f"{value:>9}", "bold"), f"  {words}"))
    out.print()
    out.print(_steps(document))
    if document.rows_beyond:
        out.print(Text(f"and {document.rows_beyond} more stations that are hardly reached", "dim"))
    out.print()
    out.print(Text.assemble(("Decisive  ", "bold red"), document.decisive))
    _listed(out, "If behind", document.if_behind)
    _listed(out, "Equal within the noise", [item.words for item in document.equals])
    _listed(
        out,
        "What departing costs",
        [
            f"{price.words}: {price_words(price.reps, price.time_s, price.worse)}"
            for price in document.prices
        ],
    )
    _listed(out, "Last time", [f"{item.film}: {item.words}" for item in document.redlines])
    out.print()
    out.print(_outlooks(document))
    out.print()
    out.print(_beliefs(document))
    _listed(out, "Before you start", document.cautions)
    _listed(out, "What this rests on", document.evidence)


def _listed(out: Console, head: str, lines: list[str]) -> None:
    if not lines:
        return
    out.print()
    out.print(Text(head, "bold"))
    for line in lines:
        out.print(Text(f"  {line}"))


def _steps(document: PlanDocument) -> Table:
    table = _plain_table("Round", "Work", "Sets", "Rest", "Before, pace", "Clock at end", "8 of 10")
    turn = (0, 0)
    for row in document.rows:
        new = (row.block, row.round) != turn
        if new and turn != (0, 0):
            table.add_section()
        turn = (row.block, row.round)
        table.add_row(
            place_words(row.block, row.round, row.rounds) if new else "",
            f"{row.reps} {row.movement}",
            set_words(tuple(row.sets)),
            rest_words(row.rests_s),
            before_words(row),
            mark_words(row),
            band_words(row),
            style="red" if row.decisive else "",
        )
    return table


def _outlooks(document: PlanDocument) -> Table:
    table = _plain_table("Of attempts no better than", *map(outlook_words, document.outlook))
    for place, row in enumerate(document.outlook[0].percentiles):
        cells = [percentile_words(document, outlook, place) for outlook in document.outlook]
        table.add_row(f"{row.percentile} %", *cells)
    return table


def _beliefs(document: PlanDocument) -> Table:
    table = _plain_table("Believed of this athlete", "Most likely", "8 of 10 within", "From")
    for belief in document.beliefs:
        table.add_row(
            belief.name,
            f"{belief.typical:.3g} {belief.unit}",
            f"{belief.low:.3g} to {belief.high:.3g}",
            belief.origin,
        )
    return table


def print_check(film: str, document: PlanDocument, laid: tuple[Laid, ...], out: Console) -> None:
    """Print an attempt beside its plan, station by station."""
    out.print(Text.assemble((film, "bold"), f"  against the plan of {document.workout}"))
    table = _plain_table("Round", "Work", "Planned", "Done", "Mark", "Clock", "Behind", "Lost here")
    for item in laid:
        row = item.row
        table.add_row(
            str(row.round),
            f"{row.reps} {row.movement}",
            set_words(tuple(row.sets)),
            set_words(item.sets) if item.sets else "–",
            clock(row.mark.middle_s),
            clock(item.done_s),
            _seconds(item.behind_s),
            _seconds(item.lost_s),
            style="" if item.inside in (True, None) else "yellow",
        )
    out.print(table)
    for sentence in verdict_words(laid):
        out.print(Text(sentence))
    out.print(Text("Yellow: the clock was outside the interval that 8 of 10 attempts keep.", "dim"))


def _seconds(value_s: float | None) -> str:
    return "–" if value_s is None else f"{value_s:+.0f} s"


def _plain_table(*heads: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for head in heads:
        table.add_column(head, overflow="fold")
    return table
