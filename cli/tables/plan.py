"""The tables that ``plan`` prints: the card on a terminal, and an attempt beside its plan."""

from rich.console import Console
from rich.table import Table
from rich.text import Text

from counting.pacing.card.document import PlanDocument
from counting.pacing.card.layout import beyond_words, layout_of
from counting.pacing.card.lines import (
    belief_cells,
    decisive_head,
    earns_words,
    outlook_words,
    percentile_words,
    price_line,
    score_words,
    source_words,
)
from counting.pacing.card.overlay import Laid, verdict_words
from counting.pacing.card.words import place_words
from counting.pacing.search.plan import plural, set_words
from vision.times import clock


def print_plan(document: PlanDocument, out: Console) -> None:
    """Print a plan: expectation, stations, decisive part, prices, what is believed, cautions."""
    out.print(Text(document.workout, "bold"))
    out.print(Text(source_words(document), "dim"))
    for value, words in score_words(document):
        out.print(Text.assemble((f"{value:>9}", "bold"), f"  {words}"))
    out.print()
    out.print(_steps(document))
    if document.rows_beyond:
        out.print(Text(beyond_words(document), "dim"))
    out.print()
    colour = "bold red" if document.strength_decides else "bold"
    out.print(Text.assemble((f"{decisive_head(document)}  ", colour), document.decisive))
    _listed(out, "Reps that would not count", document.no_reps)
    _listed(out, "Before you trust this plan", document.notes)
    _listed(out, "If behind", document.if_behind)
    _listed(out, "On a bad day", [document.bad_day])
    if document.causes:
        out.print()
        out.print(_causes(document))
    _listed(
        out,
        "Equal within the noise",
        [f"{item.words}: {earns_words(item)}" for item in document.equals],
    )
    _listed(out, "What it costs to depart", [price_line(price) for price in document.prices])
    _listed(out, "Last time", [f"{item.film}: {item.words}" for item in document.redlines])
    out.print()
    out.print(_outlooks(document))
    out.print()
    out.print(_beliefs(document))
    _listed(out, "Warm-up", document.warm_up)
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
    table = _plain_table("Round", "Work", "Sets", "Rests and pace", "Clock at end", "8 of 10")
    layout = layout_of(document)
    for number, line in enumerate(layout.lines):
        if line.first and number:
            table.add_section()
        red = line.decisive and document.strength_decides
        cells = (line.place, line.work, line.sets, line.how, line.mark, line.band)
        table.add_row(*cells, style="red" if red else "")
        for item in layout.passings.get(number, ()):
            table.add_row(item.place, "", "", "", item.mark, item.band)
    return table


def _causes(document: PlanDocument) -> Table:
    table = _plain_table("Against the last film", "Filmed", "Planned", "Difference")
    for cause in document.causes:
        cells = (f"{cause.film_s:.1f} s", f"{cause.plan_s:.1f} s")
        table.add_row(cause.words, *cells, f"{cause.plan_s - cause.film_s:+.1f} s")
    return table


def _outlooks(document: PlanDocument) -> Table:
    table = _plain_table("Attempts that do worse", *map(outlook_words, document.outlook))
    for place, row in enumerate(document.outlook[0].percentiles):
        cells = [percentile_words(document, outlook, place) for outlook in document.outlook]
        table.add_row(f"{row.percentile} of 100", *cells)
    return table


def _beliefs(document: PlanDocument) -> Table:
    table = _plain_table("Estimates for this athlete", "Most likely", "8 of 10 within", "From")
    for belief in document.beliefs:
        table.add_row(*belief_cells(belief))
    return table


def print_check(film: str, document: PlanDocument, laid: tuple[Laid, ...], out: Console) -> None:
    """Print an attempt beside its plan, station by station."""
    out.print(Text.assemble((film, "bold"), f"  against the plan of {document.workout}"))
    table = _plain_table(
        "Round", "Work", "Planned", "Done", "Mark", "Clock", "Behind", "Lost here", "8 of 10"
    )
    turn = (0, 0)
    for item in laid:
        row = item.row
        new, turn = (row.block, row.round) != turn, (row.block, row.round)
        table.add_row(
            place_words(row.block, row.round, row.rounds) if new else "",
            f"{row.reps} {plural(row.movement, row.reps)}",
            set_words(tuple(row.sets)),
            set_words(item.sets) if item.sets else "–",
            clock(row.mark.middle_s, 0),
            clock(item.done_s, 0),
            _seconds(item.behind_s),
            _seconds(item.lost_s),
            _inside_words(item),
            style="" if item.inside in (True, None) else "yellow",
        )
    out.print(table)
    for sentence in verdict_words(laid):
        out.print(Text(sentence))
    told = "8 of 10: whether the clock was where 8 of 10 attempts by this plan pass."
    out.print(Text(told, "dim"))


def _inside_words(item: Laid) -> str:
    if item.inside is None or item.behind_s is None:
        return "–"
    return "yes" if item.inside else "later" if item.behind_s > 0 else "sooner"


def _seconds(value_s: float | None) -> str:
    return "–" if value_s is None else f"{value_s:+.0f} s"


def _plain_table(*heads: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    for head in heads:
        table.add_column(head, overflow="fold")
    return table
