"""The plan card: one page to print and tape to the wall, with everything it needs inside it."""

from html import escape
from typing import Final

from counting.pacing.card.document import Alternative, BeliefPart, Outlook, PlanDocument, PricePart
from counting.pacing.card.lines import beyond_words, lines_of
from counting.pacing.card.picture import plan_picture
from counting.pacing.card.words import clock, figures, price_words

_STYLE: Final = """
@page { size: A4; margin: 11mm; }
:root { color-scheme: light dark; --paper: #fff; --ink: #1d2327; --quiet: #4d565d; --line: #dfe3e6;
  --accent: #0a6170; --alarm: #b3261e; --alarm-soft: #fbe9e7; }
@media screen and (prefers-color-scheme: dark) {
  :root { --paper: #14181b; --ink: #e9e7e1; --quiet: #a7b0b6; --line: #333b41; --accent: #6cc0cf;
    --alarm: #ff938d; --alarm-soft: #432526; }
  svg .ground { fill: var(--paper); } svg .grid { stroke: var(--line); }
  svg text.ink { fill: var(--ink); } svg line.ink { stroke: var(--ink); }
  svg text.quiet { fill: var(--quiet); } svg text.alarm { fill: var(--alarm); }
  svg line.alarm, svg rect[stroke="#b3261e"] { stroke: var(--alarm); }
  svg .line-grip-and-pull { stroke: #6cc0cf; } svg .line-press { stroke: #f0a860; }
  svg .line-squat { stroke: #b9a2f2; } svg .line-hinge { stroke: #e592b3; }
  svg .line-whole-body { stroke: #a7b0b6; }
  svg .fill-0 { fill: #2f5049; } svg .fill-1 { fill: #554a2f; } svg .fill-2 { fill: #453e5e; }
  svg .fill-3 { fill: #573645; } svg .fill-4 { fill: #3d4a33; } svg .fill-5 { fill: #33424f; }
}
* { box-sizing: border-box; }
body { font: 15px/1.4 system-ui, "DejaVu Sans", sans-serif; color: var(--ink);
  background: var(--paper); margin: 0 auto; max-width: 1040px; padding: 20px;
  font-variant-numeric: tabular-nums; }
h1 { font-size: 30px; line-height: 1.1; margin: 0 0 2px; letter-spacing: -.01em; }
h2 { font-size: 16px; margin: 22px 0 6px; padding-bottom: 3px;
  border-bottom: 2px solid var(--ink); }
p { margin: 4px 0; }
.under { color: var(--quiet); }
.score { display: flex; flex-wrap: wrap; gap: 10px 34px; margin: 12px 0 8px; }
.score div { border-left: 5px solid var(--accent); padding-left: 10px; }
.score b { display: block; font-size: 24px; line-height: 1.15; }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; font-weight: 600; font-size: 13px; color: var(--quiet);
  border-bottom: 1px solid var(--ink); padding: 3px 8px 3px 0; vertical-align: bottom; }
td { padding: 5px 8px 5px 0; border-bottom: 1px solid var(--line); vertical-align: baseline; }
.steps td { font-size: 17px; }
.steps b { font-size: 19px; white-space: nowrap; }
.steps b + span { padding-left: 8px; }
.steps span { color: var(--quiet); font-size: 14px; }
.steps tr.turn td { border-top: 2px solid var(--ink); }
.steps tr.decisive td { background: var(--alarm-soft); }
.steps tr.decisive td:first-child { box-shadow: inset 5px 0 var(--alarm); padding-left: 12px; }
.decisive-words { border-left: 5px solid var(--alarm); padding: 4px 0 4px 10px; margin-top: 8px; }
.scroll { overflow-x: auto; }
ul { margin: 4px 0; padding-left: 20px; }
.pair { display: grid; grid-template-columns: 1fr 1fr; gap: 0 30px; align-items: start; }
.cautions { border: 2px solid var(--ink); padding: 8px 14px; margin-top: 22px; }
.cautions h2 { margin-top: 0; border: 0; }
svg { width: 100%; height: auto; display: block; margin-top: 6px; }
section, tr, .cautions { break-inside: avoid; }
@media print {
  body { font-size: 11px; line-height: 1.3; padding: 0; }
  h1 { font-size: 24px; }
  h2 { font-size: 13px; margin-top: 10px; }
  svg { max-height: 84mm; }
  .score { margin: 8px 0 4px; }
  .steps td { font-size: 15px; padding: 3px 8px 3px 0; white-space: nowrap; }
  .steps b { font-size: 17px; }
  .steps span { font-size: 12px; }
  td { padding: 1px 8px 1px 0; }
  th { font-size: 11px; white-space: nowrap; }
  .spread td { white-space: nowrap; } .spread th { white-space: normal; }
  .cautions { padding: 4px 10px; margin-top: 12px; }
  .details { break-before: page; }
}
@media screen and (max-width: 640px) {
  body { padding: 14px; }
  .pair { grid-template-columns: 1fr; }
  .steps td { font-size: 16px; padding-right: 6px; }
  .steps b { font-size: 17px; white-space: normal; }
  .steps span, .steps b + span { display: block; padding-left: 0; font-size: 13px; }
  .scroll svg { min-width: 660px; }
  .believed td { font-size: 14px; }
}
"""


def plan_page(document: PlanDocument) -> str:
    """Write a plan as a self-contained HTML page.

    Parameters
    ----------
    document
        The plan; its texts are escaped.
    """
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">{PAGE_MARK}'
        f"<title>Plan: {escape(document.workout)}</title><style>{_STYLE}</style></head><body>\n"
        f"<h1>{escape(document.workout)}</h1>\n"
        f'<p class="under">{escape(source_words(document))}</p>\n'
        f"{_score(document)}\n"
        f"<section>{_steps(document)}</section>\n"
        f'<p class="decisive-words"><b>Decisive:</b> {escape(document.decisive)}</p>\n'
        f'<section class="pair"><div><h2>If you are behind</h2>{_list(document.if_behind)}'
        f"{_notes(document)}</div>"
        f'<div class="cautions"><h2>Before you start</h2>{_list(document.cautions)}</div>'
        "</section>\n"
        "<section><h2>Strength that should be left, along the clock</h2>"
        f'<div class="scroll">{plan_picture(document)}</div></section>\n'
        f'<div class="details">{_choices(document)}</div>\n{_redlines(document)}\n'
        f"<section><h2>How sure this is</h2>{_outlooks(document)}</section>\n"
        f"<section><h2>What is believed of this athlete</h2>{_beliefs(document)}</section>\n"
        f"<section><h2>What this rests on</h2>{_list(document.evidence)}</section>\n"
        "</body></html>\n"
    )


def source_words(document: PlanDocument) -> str:
    """Cap and sources of a plan in one line."""
    words = []
    if document.cap_s is not None:
        words.append(f"time cap {clock(document.cap_s)}")
    words.append(
        "made from " + ", ".join(document.made_from)
        if document.made_from
        else "made without a film"
    )
    words += [
        f"{movement}: {reps:g} unbroken, typed in" for movement, reps in document.typed.items()
    ]
    return "; ".join(words)


def score_words(document: PlanDocument) -> list[tuple[str, str]]:
    """Headline figures: what is expected, what it is."""
    rows = {row.percentile: row for row in document.outlook[0].percentiles}
    low, middle, high = rows[10], rows[50], rows[90]
    headline = []
    if document.outlook[0].finishes > 0.5 and middle.finish_s is not None:
        early, late = clock(high.finish_s), clock(low.finish_s)
        told = f"{early} to {late}" if low.finish_s else f"{early} or later"
        headline.append((clock(middle.finish_s), f"finish; 8 of 10 attempts: {told}"))
    else:
        most = f"{low.reps} to {high.reps}"
        headline.append((f"{middle.reps} reps", f"8 of 10 attempts: {most}"))
    if document.tie_break_rep is not None and middle.tie_break_s is not None:
        late = f"to {clock(low.tie_break_s)}" if low.tie_break_s is not None else "or later"
        told = f"tie-break; 8 of 10 attempts: {clock(high.tie_break_s)} {late}"
        headline.append((clock(middle.tie_break_s), told))
    if document.target is not None and document.target_probability is not None:
        share = document.target_probability
        chance = "under 1 in 100" if share < 0.01 else f"{100 * share:.0f} in 100"
        headline.append((chance, f"chance of {document.target}"))
    return headline


def _score(document: PlanDocument) -> str:
    parts = "".join(
        f"<div><b>{escape(value)}</b>{escape(words)}</div>"
        for value, words in score_words(document)
    )
    return f'<div class="score">{parts}</div>'


def _notes(document: PlanDocument) -> str:
    if not document.notes:
        return ""
    return f"<h2>Know before you trust it</h2>{_list(document.notes)}"


def _steps(document: PlanDocument) -> str:
    rows = []
    for line in lines_of(document):
        on = (("turn", line.first), ("decisive", line.decisive))
        classes = " ".join(name for name, wanted in on if wanted)
        rows.append(
            f'<tr class="{classes}"><td>{escape(line.place)}</td><td>{escape(line.work)}</td>'
            f"<td><b>{escape(line.sets)}</b> <span>{escape(line.how)}</span></td>"
            f"<td><b>{escape(line.mark)}</b> <span>{escape(line.band)}</span></td></tr>"
        )
    beyond = f"<p>{beyond_words(document)}</p>" if document.rows_beyond else ""
    return (
        '<table class="steps"><thead><tr><th>round</th><th>work</th><th>sets and rests</th>'
        "<th>clock at the end, 8 of 10</th></tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table>{beyond}"
    )


def _choices(document: PlanDocument) -> str:
    equals = [f"{item.words}: {earns_words(item)}" for item in document.equals]
    several = len(equals) > 1
    head = "Plans equal within the noise" if several else "No other plan came equal"
    prices = [price_line(price) for price in document.prices]
    return (
        f'<section class="pair"><div><h2>{head}</h2>{_list(equals)}</div>'
        f"<div><h2>What departing from the plan costs</h2>{_list(prices)}</div></section>"
    )


def earns_words(item: Alternative) -> str:
    """Tell what an equal plan earns on average."""
    words = f"{item.mean_reps:.0f} reps on average"
    if item.finish_s is not None:
        words = f"finish {clock(item.finish_s)}"
    if item.tie_break_s is not None:
        words += f", tie-break {clock(item.tie_break_s)}"
    return words


def price_line(price: PricePart) -> str:
    """Tell a departure with its price."""
    told = price_words(price.reps, price.time_s, price.worse, price.failing, price.reached)
    return f"{price.words}: {told}"


def _redlines(document: PlanDocument) -> str:
    if not document.redlines:
        return ""
    told = [f"{item.film}: {item.words}" for item in document.redlines]
    return f"<section><h2>Where the rhythm broke last time</h2>{_list(told)}</section>"


def _outlooks(document: PlanDocument) -> str:
    shown = document.outlook
    head = "".join(f"<th>{escape(outlook_words(item))}</th>" for item in shown)
    body = "".join(
        f"<tr><td>{row.percentile} of 100</td>"
        + "".join(f"<td>{percentile_words(document, item, place)}</td>" for item in shown)
        + "</tr>"
        for place, row in enumerate(shown[0].percentiles)
    )
    return (
        '<div class="scroll"><table class="spread"><thead><tr><th>so many attempts do worse</th>'
        f"{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def outlook_words(outlook: Outlook) -> str:
    """Name of a column of the percentile table."""
    if outlook.form == "both":
        return "both forms together"
    return f"{outlook.form} recovery (believed {100 * outlook.weight:.0f} %)"


def percentile_words(document: PlanDocument, outlook: Outlook, place: int) -> str:
    """One cell of the percentile table."""
    row = outlook.percentiles[place]
    words = clock(row.finish_s) if row.finish_s is not None else f"{row.reps} reps"
    if document.tie_break_rep is not None and row.tie_break_s is not None:
        words += f", tie-break {clock(row.tie_break_s)}"
    return words


def _beliefs(document: PlanDocument) -> str:
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in belief_cells(belief)) + "</tr>"
        for belief in document.beliefs
    )
    return (
        '<table class="believed"><thead><tr><th></th><th>most likely</th><th>8 of 10 within</th>'
        f"<th>from</th></tr></thead><tbody>{rows}</tbody></table>"
    )


def belief_cells(belief: BeliefPart) -> tuple[str, str, str, str]:
    """Name, value, interval and origin of a parameter, with no more digits than are known."""
    if belief.low == belief.high:
        return belief.name, f"{belief.typical:g} {belief.unit}", "", belief.origin
    low, typical, high = figures(belief.low, belief.typical, belief.high)
    return belief.name, f"{typical} {belief.unit}", f"{low} to {high}", belief.origin


def _list(items: list[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in items) + "</ul>"
