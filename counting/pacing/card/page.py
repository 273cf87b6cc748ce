"""The plan card, one page of A4 for the wall, and a page with what it rests on."""

from html import escape
from typing import Final

from counting.pacing.card.document import (
    Alternative,
    BeliefPart,
    CausePart,
    Outlook,
    PlanDocument,
    PricePart,
)
from counting.pacing.card.layout import Layout, Passing, beyond_words, layout_of
from counting.pacing.card.picture import plan_picture
from counting.pacing.card.words import figures, price_words
from vision.made_by import PAGE_MARK
from vision.times import clock

STEPS_MM: Final = 104.0
"""Height that the card has left for its lines beside everything else on a page of A4."""

LINE_MM: Final = {"": 19.0, " middle": 14.0, " many": 9.0, " crowded": 5.6, " tiny": 4.4}
PASSINGS_MM: Final = {"": 18.0, " middle": 15.0, " many": 12.0, " crowded": 10.0, " tiny": 9.0}
"""Height of a line, and of a row of passings, at each size of numerals."""

NO_REPS_MM: Final = 12.0
"""Height of what is told of one movement's refused reps."""

PASSINGS_IN_A_ROW: Final = 5
WIDEST_SETS: Final = 5
WIDEST_MARK: Final = 5
"""Characters of sets and marks that fit a line of the card at full size."""

_STYLE: Final = """
@page { size: A4; margin: 9mm; }
:root { color-scheme: light; --paper: #fff; --ink: #14181b; --quiet: #4d565d; --line: #cfd5d9;
  --accent: #0a6170; --alarm: #b3261e; --alarm-soft: #fbe9e7; --big: 15mm; --mark: 9.5mm; }
* { box-sizing: border-box; }
body { font: 3.5mm/1.32 system-ui, "DejaVu Sans", sans-serif; color: var(--ink);
  background: var(--paper); margin: 0 auto; width: 192mm; max-width: 100%;
  font-variant-numeric: tabular-nums; }
.card { min-height: 276mm; display: flex; flex-direction: column; padding-top: 2mm; }
.middle { --big: 10.5mm; --mark: 7.5mm; } .many { --big: 6.6mm; --mark: 5.4mm; }
.crowded { --big: 4.4mm; --mark: 4mm; } .tiny { --big: 3.3mm; --mark: 3.1mm; }
.steps td { white-space: normal; }
.many .steps .work, .many .steps td:first-child { font-size: 3.6mm; }
.many .steps .how { font-size: 2.9mm; line-height: 1.1; }
.crowded .steps .work, .crowded .steps .how, .crowded .steps td:first-child { font-size: 2.9mm;
  line-height: 1.1; }
.tiny .steps .work, .tiny .steps .how, .tiny .steps td:first-child { font-size: 2.5mm;
  line-height: 1.05; }
.crowded .pair, .crowded .cautions, .tiny .pair, .tiny .cautions { font-size: 2.9mm; }
.crowded .steps td, .tiny .steps td { padding: .2mm 2mm .2mm 0; }
.many .steps .mark span, .crowded .steps .mark span, .tiny .steps .mark span {
  display: inline; font-size: 2.6mm; padding-left: 2mm; }
.crowded .how, .tiny .how { white-space: nowrap; }
h1 { font-size: 8mm; line-height: 1.1; margin: 0; letter-spacing: -.01em; }
h2 { font-size: 4mm; margin: 3mm 0 1mm; padding-bottom: .6mm;
  border-bottom: .5mm solid var(--ink); }
p { margin: 1mm 0; }
.under { color: var(--quiet); font-size: 3mm; }
.score { display: flex; flex-wrap: wrap; gap: 1mm 9mm; margin: 2.5mm 0 2mm; }
.score div { border-left: 1.4mm solid var(--accent); padding-left: 3mm; }
.score b { display: block; font-size: 9mm; line-height: 1.05; }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; font-weight: 600; font-size: 3mm; color: var(--quiet);
  border-bottom: .3mm solid var(--ink); padding: .6mm 2mm .6mm 0; vertical-align: bottom; }
td { padding: .5mm 2mm .5mm 0; border-bottom: .2mm solid var(--line); vertical-align: middle; }
.steps td:first-child { width: 15mm; font-size: 4mm; font-weight: 600; }
.steps .work { font-size: 4.6mm; width: 44mm; }
.steps .sets { font-size: var(--big); line-height: 1.05; font-weight: 700; white-space: nowrap; }
.steps .how { font-size: 3.6mm; min-width: 34mm; color: var(--quiet); }
.steps .mark { font-size: var(--mark); line-height: 1.05; font-weight: 700; white-space: nowrap; }
.steps .mark span { display: block; font-size: 3.2mm; font-weight: 400; color: var(--quiet); }
.steps tr.turn td { border-top: .6mm solid var(--ink); }
.steps tr.decisive td { background: var(--alarm-soft); }
.steps tr.decisive td:first-child { box-shadow: inset 1.4mm 0 var(--alarm); padding-left: 3mm; }
.passings { display: flex; flex-wrap: wrap; gap: 1mm 6mm; padding: 1.2mm 0; }
.passings div { font-size: var(--mark); line-height: 1.05; font-weight: 700; }
.passings small { display: block; font-size: 3.2mm; font-weight: 400; color: var(--quiet); }
.passings .weak { color: var(--alarm); }
.weakest { border-left: 1.4mm solid var(--alarm); padding: .6mm 0 .6mm 3mm; margin-top: 2mm; }
.longest { border-left: 1.4mm solid var(--accent); padding: .6mm 0 .6mm 3mm; margin-top: 2mm; }
ul { margin: 1mm 0; padding-left: 5mm; } li { margin: .4mm 0; }
.pair { display: grid; grid-template-columns: 1fr 1fr; gap: 0 7mm; align-items: start; }
.cautions { border: .5mm solid var(--ink); padding: 1.4mm 3.5mm; margin-top: auto; }
.cautions h2 { margin-top: 0; border: 0; padding: 0; }
.cautions ul { columns: 2; column-gap: 7mm; } .cautions li { break-inside: avoid; }
svg { width: 100%; height: auto; display: block; margin-top: 1.5mm; }
section, tr { break-inside: avoid; }
.scroll { overflow-x: auto; }
.details { font-size: 3.2mm; padding-top: 2mm; }
@media screen { body { padding: 4mm; width: 200mm; } }
@media screen and (max-width: 640px) {
  .pair { grid-template-columns: 1fr; } .cautions ul { columns: 1; }
  body { --big: 8mm; --mark: 6mm; } .card { min-height: 0; }
  .steps td { display: inline-block; width: auto; border: 0; } .steps thead { display: none; }
  .steps tr { display: block; border-bottom: .2mm solid var(--line); }
  .steps .work, .steps .how { width: 100%; display: block; }
  .scroll svg { min-width: 660px; }
}
"""


def plan_page(document: PlanDocument) -> str:
    """Write the card as a self-contained HTML page, one page of A4 when printed.

    Parameters
    ----------
    document
        The plan; its texts are escaped.
    """
    return _page(f"Plan: {document.workout}", _card(document))


def details_page(document: PlanDocument) -> str:
    """Write what a plan rests on as a self-contained HTML page: curves, prices, intervals.

    Parameters
    ----------
    document
        The plan; its texts are escaped.
    """
    title = f"{document.workout}: what the plan rests on"
    return _page(
        title,
        f'<div class="details"><h1>{escape(title)}</h1>\n'
        "<section><h2>Strength that should be left, along the clock</h2>"
        f'<div class="scroll">{plan_picture(document)}</div></section>\n'
        f"{_section('Before you trust this plan', document.notes)}"
        f"{_causes(document.causes)}"
        f"{_choices(document)}\n{_redlines(document)}\n"
        f"<section><h2>How sure this is</h2>{_outlooks(document)}</section>\n"
        f"<section><h2>Estimates for this athlete</h2>{_beliefs(document)}</section>\n"
        f"{_section('What this rests on', document.evidence)}</div>\n",
    )


def _page(title: str, body: str) -> str:
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"{PAGE_MARK}<title>{escape(title)}</title><style>{_STYLE}</style></head>"
        f"<body>\n<main>{body}</main></body></html>\n"
    )


def _card(document: PlanDocument) -> str:
    layout = layout_of(document)
    size = _size(layout, STEPS_MM - NO_REPS_MM * len(document.no_reps))
    weakest = "weakest" if document.strength_decides else "longest"
    return (
        f'<div class="card{size}"><h1>{escape(document.workout)}</h1>\n'
        f'<p class="under">{escape(source_words(document))}</p>\n'
        f"{_score(document)}\n"
        f"{_steps(document, layout)}\n"
        f'<p class="{weakest}"><b>{decisive_head(document)}:</b> {escape(document.decisive)}</p>\n'
        f"{_section('Reps that would not count', document.no_reps)}"
        f'<div class="pair"><div>{_section("If you are behind", document.if_behind)}'
        f"{_section('On a bad day', [document.bad_day])}</div>"
        f"{_section('Warm-up', document.warm_up)}</div>"
        f'<div class="cautions"><h2>Before you start</h2>{_list(document.cautions)}</div></div>'
    )


def _size(layout: Layout, height_mm: float) -> str:
    """Take the largest numerals with which the lines fit the page."""
    rows = sum(-(-len(own) // PASSINGS_IN_A_ROW) for own in layout.passings.values())
    for size, line_mm in LINE_MM.items():
        if line_mm * len(layout.lines) + PASSINGS_MM[size] * rows <= height_mm:
            return size
    return " tiny"


def decisive_head(document: PlanDocument) -> str:
    """Name what the sentence about the decisive station is about."""
    return "Decisive" if document.strength_decides else "Longest stretch"


def _section(head: str, items: list[str]) -> str:
    return f"<section><h2>{head}</h2>{_list(items)}</section>\n" if items else ""


def source_words(document: PlanDocument) -> str:
    """Cap and sources of a plan in one line."""
    words = []
    if document.cap_s is not None:
        words.append(f"time cap {clock(document.cap_s, 0)}")
    words.append(
        "made from " + ", ".join(document.made_from)
        if document.made_from
        else "made without a film"
    )
    if document.typed:
        words.append("typed in: " + ", ".join(document.typed))
    return "; ".join(words)


def score_words(document: PlanDocument) -> list[tuple[str, str]]:
    """Headline figures: what is expected, what it is."""
    rows = {row.percentile: row for row in document.outlook[0].percentiles}
    low, middle, high = rows[10], rows[50], rows[90]
    headline = []
    if document.outlook[0].finishes > 0.5 and middle.finish_s is not None:
        early, late = clock(high.finish_s, 0), clock(low.finish_s, 0)
        told = f"{early} to {late}" if low.finish_s else f"{early} or later"
        headline.append((clock(middle.finish_s, 0), f"finish; 8 of 10 attempts: {told}"))
    else:
        most = f"{low.reps} to {high.reps}"
        headline.append((f"{middle.reps} reps", f"8 of 10 attempts: {most}"))
    if document.tie_break_rep is not None and middle.tie_break_s is not None:
        late = f"to {clock(low.tie_break_s, 0)}" if low.tie_break_s is not None else "or later"
        told = f"tie-break; 8 of 10 attempts: {clock(high.tie_break_s, 0)} {late}"
        headline.append((clock(middle.tie_break_s, 0), told))
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


def _steps(document: PlanDocument, layout: Layout) -> str:
    rows = []
    most = int(STEPS_MM / LINE_MM[" tiny"])
    for number, line in enumerate(layout.lines[:most]):
        on = (("turn", line.first), ("decisive", line.decisive and document.strength_decides))
        classes = " ".join(name for name, wanted in on if wanted)
        band = f"<span>{escape(line.band)}</span>" if line.mark else ""
        mark, sets = _sized(line.mark, WIDEST_MARK), _sized(line.sets, WIDEST_SETS)
        rows.append(
            f'<tr class="{classes}"><td>{escape(line.place)}</td>'
            f'<td class="work">{escape(line.work)}</td><td class="sets">{sets}</td>'
            f'<td class="how">{escape(line.how)}</td><td class="mark">{mark}{band}</td></tr>'
        )
        if number in layout.passings:
            rows.append(_passings(layout.passings[number], document))
    beyond = f"<p>{escape(beyond_words(document))}</p>" if document.rows_beyond else ""
    if len(layout.lines) > most:
        left = len(layout.lines) - most
        beyond = f"<p>{left} more lines do not fit the card; they are in plan.json</p>{beyond}"
    return (
        '<table class="steps"><thead><tr><th>round</th><th>work</th><th>sets</th><th>rests</th>'
        "<th>clock at the end<br>8 of 10 between</th></tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table>{beyond}"
    )


def _sized(words: str, widest: int) -> str:
    """Let long words shrink so that the line stays one."""
    if len(words) <= widest:
        return escape(words)
    return f'<b style="font-size:{100 * widest / len(words):.0f}%">{escape(words)}</b>'


def _passings(passings: tuple[Passing, ...], document: PlanDocument) -> str:
    parts = "".join(
        f'<div class="{"weak" if item.decisive and document.strength_decides else ""}">'
        f"<small>round {escape(item.place)}</small>{_sized(item.mark, WIDEST_MARK)}"
        f"<small>{escape(item.band)}</small></div>"
        for item in passings
    )
    return f'<tr><td colspan="5"><div class="passings">{parts}</div></td></tr>'


def _causes(causes: list[CausePart]) -> str:
    if not causes:
        return ""
    total = CausePart(
        words="in all",
        film_s=sum(cause.film_s for cause in causes),
        plan_s=sum(cause.plan_s for cause in causes),
    )
    rows = "".join(
        f"<tr><td>{escape(cause.words)}</td><td>{cause.film_s:.1f} s</td><td>{cause.plan_s:.1f} s"
        f"</td><td>{cause.plan_s - cause.film_s:+.1f} s</td></tr>"
        for cause in (*causes, total)
    )
    return (
        "<section><h2>Where the plan differs from the last film</h2><table><thead><tr><th>time</th>"
        f"<th>filmed</th><th>planned, on average</th><th>difference</th></tr></thead><tbody>{rows}"
        "</tbody></table></section>\n"
    )


def _choices(document: PlanDocument) -> str:
    chosen, *others = [f"{item.words}: {earns_words(item)}" for item in document.equals]
    head = "Plans equal within the noise" if others else "No other plan was equal"
    prices = [price_line(price) for price in document.prices]
    return (
        f'<section class="pair"><div><h2>{head}</h2>{_list([f"advised: {chosen}", *others])}</div>'
        f"<div><h2>What it costs to depart from the plan</h2>{_list(prices)}</div></section>"
    )


def earns_words(item: Alternative) -> str:
    """Tell what an equal plan earns on average."""
    words = f"{item.mean_reps:.0f} reps on average"
    if item.finish_s is not None:
        words = f"finish {clock(item.finish_s, 0)}"
    if item.tie_break_s is not None:
        words += f", tie-break {clock(item.tie_break_s, 0)}"
    if item.failing >= 1.0:
        words += f", {item.failing:.0f} failed reps"
    return words


def price_line(price: PricePart) -> str:
    """Tell a departure with its price."""
    told = price_words(
        price.reps, price.time_s, price.worse, price.failing, price.reached, equal=price.equal
    )
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
        '<div class="scroll"><table class="spread"><thead><tr><th>attempts that do worse</th>'
        f"{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def outlook_words(outlook: Outlook) -> str:
    """Name of a column of the percentile table."""
    if outlook.form == "all":
        return "all forms together"
    return f"{outlook.form} recovery ({100 * outlook.weight:.0f} % likely)"


def percentile_words(document: PlanDocument, outlook: Outlook, place: int) -> str:
    """One cell of the percentile table."""
    row = outlook.percentiles[place]
    words = clock(row.finish_s, 0) if row.finish_s is not None else f"{row.reps} reps"
    if document.tie_break_rep is not None and row.tie_break_s is not None:
        words += f", tie-break {clock(row.tie_break_s, 0)}"
    return words


def _beliefs(document: PlanDocument) -> str:
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in belief_cells(belief)) + "</tr>"
        for belief in document.beliefs
    )
    return (
        '<table class="believed"><thead><tr><th>parameter</th><th>most likely</th>'
        f"<th>8 of 10 within</th><th>from</th></tr></thead><tbody>{rows}</tbody></table>"
    )


def belief_cells(belief: BeliefPart) -> tuple[str, str, str, str]:
    """Name, value, interval and origin of a parameter, with no more digits than are known."""
    if belief.low == belief.high:
        return belief.name, f"{belief.typical:g} {belief.unit}", "", belief.origin
    low, typical, high = figures(belief.low, belief.typical, belief.high)
    return belief.name, f"{typical} {belief.unit}", f"{low} to {high}", belief.origin


def _list(items: list[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in items) + "</ul>"
