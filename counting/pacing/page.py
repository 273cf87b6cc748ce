"""The plan card: one page to print and tape to the wall, with everything it needs inside it."""

from html import escape
from typing import Final

from counting.pacing.document import Outlook, PlanDocument, PricePart, Row
from counting.pacing.picture import plan_picture
from counting.pacing.plan import set_words
from counting.pacing.words import clock, effort_words, place_words, price_words, rest_words

_STYLE: Final = """
@page { size: A4; margin: 11mm; }
* { box-sizing: border-box; }
body { font: 14px/1.38 system-ui, "DejaVu Sans", sans-serif; color: #1d2327; background: #fff;
  margin: 0 auto; max-width: 1040px; padding: 20px; font-variant-numeric: tabular-nums; }
h1 { font-size: 30px; line-height: 1.1; margin: 0 0 2px; letter-spacing: -.01em; }
h2 { font-size: 15px; margin: 22px 0 6px; padding-bottom: 3px; border-bottom: 2px solid #1d2327; }
p { margin: 4px 0; }
.under { color: #4d565d; }
.score { display: flex; flex-wrap: wrap; gap: 10px 34px; margin: 12px 0 4px; }
.score div { border-left: 5px solid #0a6170; padding-left: 10px; }
.score b { display: block; font-size: 24px; line-height: 1.15; }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; font-weight: 600; font-size: 12px; color: #4d565d;
  border-bottom: 1px solid #1d2327; padding: 3px 8px 3px 0; vertical-align: bottom; }
td { padding: 5px 8px 5px 0; border-bottom: 1px solid #dfe3e6; vertical-align: top; }
.steps td { font-size: 17px; }
.steps .mark { font-weight: 700; font-size: 20px; white-space: nowrap; }
.steps .mark small { font-weight: 400; padding-left: 8px; }
.steps small { color: #4d565d; font-size: 12px; }
.steps .sets { font-weight: 700; }
.steps tr.turn td { border-top: 2px solid #1d2327; }
.steps tr.decisive td { background: #fbe9e7; }
.steps tr.decisive td:first-child { box-shadow: inset 5px 0 #b3261e; padding-left: 12px; }
.decisive-words { border-left: 5px solid #b3261e; padding: 4px 0 4px 10px; }
.spread td { white-space: nowrap; }
ul { margin: 4px 0; padding-left: 20px; }
.pair { display: grid; grid-template-columns: 1fr 1fr; gap: 0 30px; }
.cautions { border: 2px solid #1d2327; padding: 8px 14px; margin-top: 20px; }
.cautions h2 { margin-top: 0; border: 0; }
svg { width: 100%; height: auto; display: block; margin-top: 6px; }
section, tr, .cautions { break-inside: avoid; }
@media print {
  body { font-size: 11px; padding: 0; }
  h1 { font-size: 24px; }
  h2 { font-size: 12.5px; margin-top: 12px; }
  h2 { margin-top: 9px; }
  li { line-height: 1.28; }
  .steps td { font-size: 14px; padding: 3px 8px 3px 0; white-space: nowrap; }
  .steps .mark { font-size: 16px; }
  td { padding: 1.5px 8px 1.5px 0; }
  th { font-size: 10.5px; }
  .cautions { padding: 4px 10px; margin-top: 10px; }
  .details { break-before: page; }
}
@media (max-width: 640px) { .pair { grid-template-columns: 1fr; } .steps td { font-size: 15px; } }
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
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Plan: {escape(document.workout)}</title><style>{_STYLE}</style></head><body>\n"
        f"<h1>{escape(document.workout)}</h1>\n"
        f'<p class="under">{escape(source_words(document))}</p>\n'
        f"{_score(document)}\n"
        f"<section>{_steps(document)}</section>\n"
        f'<p class="decisive-words"><b>Decisive:</b> {escape(document.decisive)}</p>\n'
        f'<section class="pair"><div><h2>If you are behind</h2>{_list(document.if_behind)}</div>'
        f'<div class="cautions"><h2>Before you start</h2>{_list(document.cautions)}</div>'
        "</section>\n"
        f"<section><h2>What should be left when</h2>{plan_picture(document)}</section>\n"
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
    figures = []
    if document.outlook[0].finishes > 0.5 and middle.finish_s is not None:
        early, late = clock(high.finish_s), clock(low.finish_s)
        told = f"{early} to {late}" if low.finish_s else f"{early} to not finished"
        figures.append((clock(middle.finish_s), f"finish; 8 of 10 within {told}"))
    else:
        figures.append((f"{middle.reps} reps", f"8 of 10 within {low.reps} to {high.reps}"))
    if document.tie_break_rep is not None and middle.tie_break_s is not None:
        late = clock(low.tie_break_s) if low.tie_break_s is not None else "not reached"
        told = f"tie-break; 8 of 10 within {clock(high.tie_break_s)} to {late}"
        figures.append((clock(middle.tie_break_s), told))
    if document.target is not None and document.target_probability is not None:
        chance = f"{100 * document.target_probability:.0f} in 100"
        figures.append((chance, f"chance of {document.target}"))
    return figures


def _score(document: PlanDocument) -> str:
    parts = "".join(
        f"<div><b>{escape(value)}</b>{escape(words)}</div>"
        for value, words in score_words(document)
    )
    return f'<div class="score">{parts}</div>'


def _steps(document: PlanDocument) -> str:
    rows, turn = [], (0, 0)
    for row in document.rows:
        new = (row.block, row.round) != turn
        turn = (row.block, row.round)
        classes = " ".join(name for name, on in (("turn", new), ("decisive", row.decisive)) if on)
        place = place_words(row.block, row.round, row.rounds) if new else ""
        rows.append(
            f'<tr class="{classes}"><td>{place}</td>'
            f"<td>{row.reps} {escape(row.movement)}</td>"
            f'<td class="sets">{escape(set_words(tuple(row.sets)))}</td>'
            f"<td>{escape(rest_words(row.rests_s))}</td>"
            f"<td>{escape(before_words(row))}</td>"
            f'<td class="mark">{escape(mark_words(row))} <small>{escape(band_words(row))}</small>'
            "</td></tr>"
        )
    beyond = (
        f"<p>and {document.rows_beyond} more stations that are hardly reached</p>"
        if document.rows_beyond
        else ""
    )
    return (
        '<table class="steps"><thead><tr><th>round</th><th>work</th><th>sets</th>'
        "<th>rest between</th><th>before and pace</th><th>clock at the end</th></tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table>{beyond}"
    )


def before_words(row: Row) -> str:
    """Tell what to do before the first rep, and the pace."""
    words = []
    if row.fixed_rest_s:
        words.append(f"ordered rest {clock(row.fixed_rest_s)}")
    if row.rest_before_s:
        words.append(f"wait {row.rest_before_s:.0f} s")
    if effort_words(row.effort):
        words.append(effort_words(row.effort))
    return ", ".join(words) or "–"


def mark_words(row: Row) -> str:
    """Tell the clock at the end of a station, or how far it usually comes by the cap."""
    if row.mark.middle_s is None:
        return f"{row.usual_reps} of {row.reps} at the cap"
    return clock(row.mark.middle_s)


def band_words(row: Row) -> str:
    """Tell the 80 % interval of a mark."""
    if row.mark.early_s is None:
        return ""
    late = clock(row.mark.late_s) if row.mark.late_s is not None else "not reached"
    return f"{clock(row.mark.early_s)} to {late}"


def _choices(document: PlanDocument) -> str:
    equals = [
        f"{item.words} ({item.mean_reps:.1f} reps on average"
        + (f", finish {clock(item.finish_s)}" if item.finish_s is not None else "")
        + (f", tie-break {clock(item.tie_break_s)}" if item.tie_break_s is not None else "")
        + ")"
        for item in document.equals
    ]
    several = len(equals) > 1
    head = "Plans equal within the noise" if several else "No other plan came equal"
    prices = [_price_line(price) for price in document.prices]
    return (
        f'<section class="pair"><div><h2>{head}</h2>{_list(equals)}</div>'
        f"<div><h2>What departing from it costs</h2>{_list(prices)}</div></section>"
    )


def _price_line(price: PricePart) -> str:
    return f"{price.words}: {price_words(price.reps, price.time_s, price.worse)}"


def _redlines(document: PlanDocument) -> str:
    if not document.redlines:
        return ""
    told = [f"{item.film}: {item.words}" for item in document.redlines]
    return f"<section><h2>Where the rhythm broke last time</h2>{_list(told)}</section>"


def _outlooks(document: PlanDocument) -> str:
    shown = document.outlook
    head = "".join(f"<th>{escape(outlook_words(item))}</th>" for item in shown)
    body = "".join(
        f"<tr><td>{row.percentile} %</td>"
        + "".join(f"<td>{percentile_words(document, item, place)}</td>" for item in shown)
        + "</tr>"
        for place, row in enumerate(shown[0].percentiles)
    )
    return (
        f'<table class="spread"><thead><tr><th>of attempts no better than</th>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table>"
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
        f"<tr><td>{escape(belief.name)}</td><td>{belief.typical:.3g} {escape(belief.unit)}</td>"
        f"<td>{belief.low:.3g} to {belief.high:.3g}</td><td>{belief.origin}</td></tr>"
        for belief in document.beliefs
    )
    return (
        "<table><thead><tr><th></th><th>most likely</th><th>8 of 10 within</th><th>from</th></tr>"
        f"</thead><tbody>{rows}</tbody></table>"
    )


def _list(items: list[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(item)}</li>" for item in items) + "</ul>"
