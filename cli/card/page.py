"""The plan card, one page of A4 for the wall, and a page with what it rests on."""

from typing import Final

from markupsafe import Markup

from cli.look import environment, style
from counting.pacing.card.document import CausePart, PlanDocument
from counting.pacing.card.layout import Layout, beyond_words, layout_of
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
from counting.pacing.card.picture import plan_picture

PAGE_MM: Final = 279.0
"""Height of a page of A4 within its margins."""

FIXED_MM: Final = 88.0
"""Height of title, score, headings and cautions, which hardly change."""

TEXT_MM: Final = 4.7
LETTERS_ACROSS: Final = 92
LETTERS_IN_HALF: Final = 44
"""Height of a line of running text, and the letters that are sure to fit one: across the page, in
half of it."""

LINE_MM: Final = {"": 19.0, " middle": 14.0, " many": 9.0, " crowded": 5.6, " tiny": 4.4}
PASSINGS_MM: Final = {"": 18.0, " middle": 15.0, " many": 12.0, " crowded": 10.0, " tiny": 9.0}
"""Height of a line, and of a row of passings, at each size of numerals."""

SMALL_TEXT: Final = {" crowded": 0.83, " tiny": 0.83}
"""How much smaller running text is beside many lines."""

PASSINGS_IN_A_ROW: Final = 5
WIDEST_SETS: Final = 5
WIDEST_MARK: Final = 5
"""Characters of sets and marks that fit a line of the card at full size."""


def plan_page(document: PlanDocument) -> str:
    """Write the card as a self-contained HTML page, one page of A4 when printed."""
    layout = layout_of(document)
    size = _size(document, layout)
    most = max(int(_left_mm(document, layout, size) / LINE_MM[size]), 1)
    return _rendered(
        "card.html",
        document,
        size=size,
        layout=layout,
        lines=layout.lines[:most],
        left=max(len(layout.lines) - most, 0),
        beyond=beyond_words(document) if document.rows_beyond else "",
        source=source_words(document),
        score=score_words(document),
        decisive_head=decisive_head(document),
        smaller=_smaller,
        widest_sets=WIDEST_SETS,
        widest_mark=WIDEST_MARK,
    )


def details_page(document: PlanDocument) -> str:
    """Write what a plan rests on as a self-contained HTML page: curves, prices, intervals."""
    chosen, *others = [f"{item.words}: {earns_words(item)}" for item in document.equals]
    return _rendered(
        "details.html",
        document,
        picture=Markup(plan_picture(document)),
        causes=_with_sum(document.causes),
        plans=[f"advised: {chosen}", *others],
        prices=[price_line(price) for price in document.prices],
        outlook_words=outlook_words,
        percentile_words=percentile_words,
        beliefs=[belief_cells(belief) for belief in document.beliefs],
    )


def _rendered(name: str, document: PlanDocument, **more: object) -> str:
    template = environment("cli.card").get_template(name)
    return template.render(plan=document, style=style("cli.card", "card.css"), **more)


def _size(document: PlanDocument, layout: Layout) -> str:
    """Take the largest numerals with which the lines fit the page."""
    for size, line_mm in LINE_MM.items():
        if line_mm * len(layout.lines) <= _left_mm(document, layout, size):
            return size
    return " tiny"


def _left_mm(document: PlanDocument, layout: Layout, size: str) -> float:
    """Height that is left for the lines of a card beside all else at a size of numerals."""
    rows = sum(-(-len(own) // PASSINGS_IN_A_ROW) for own in layout.passings.values())
    across = [source_words(document), beyond_words(document), document.decisive]
    text = _rows(across, LETTERS_ACROSS)
    if document.no_reps:
        text += 2 + _rows(document.no_reps, LETTERS_ACROSS)
    left = 5 + _rows([*document.if_behind, document.bad_day], LETTERS_IN_HALF)
    right = 2 + _rows(document.warm_up, LETTERS_IN_HALF)
    small = SMALL_TEXT.get(size, 1.0)
    text_mm = TEXT_MM * (text + small * max(left, right))
    return PAGE_MM - FIXED_MM - PASSINGS_MM[size] * rows - text_mm


def _rows(texts: list[str], letters: int) -> int:
    """How many lines texts take that are broken after so many letters."""
    return sum(-(-len(words) // letters) for words in texts)


def _smaller(words: str, widest: int) -> str | None:
    """Give the size, a share of the usual, at which long words stay on one line; None if short."""
    return None if len(words) <= widest else f"{100 * widest / len(words):.0f}%"


def _with_sum(causes: list[CausePart]) -> list[CausePart]:
    if not causes:
        return []
    film_s, plan_s = sum(cause.film_s for cause in causes), sum(cause.plan_s for cause in causes)
    return [*causes, CausePart(words="in all", film_s=film_s, plan_s=plan_s)]
