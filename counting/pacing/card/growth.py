"""How what is believed of an athlete grew, film by film."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Final

from counting.pacing.card.document import BeliefPart
from counting.pacing.card.words import figures
from counting.pacing.model.attempt import Attempt
from counting.pacing.model.beliefs import beliefs_of
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import Known
from vision.made_by import PAGE_MARK

WIDTH: Final = 300
ROW: Final = 16

_STYLE: Final = """
body { font: 15px/1.4 system-ui, "DejaVu Sans", sans-serif; color: #1c2226; background: #fff;
  max-width: 900px; margin: 0 auto; padding: 20px; font-variant-numeric: tabular-nums; }
table { border-collapse: collapse; width: 100%; } th { text-align: left; color: #525c63; }
td, th { padding: 4px 10px 4px 0; border-bottom: 1px solid #dcd8cd; vertical-align: top; }
tbody tr:first-child td { border-top: 2px solid #1c2226; }
"""


@dataclass(frozen=True)
class Growth:
    """Beliefs after what was typed in alone, and after each film; ``steps`` names them."""

    steps: tuple[str, ...]
    beliefs: tuple[tuple[BeliefPart, ...], ...]


def growth_of(known: Known, films: Sequence[tuple[str, Attempt]], seed: int = 0) -> Growth:
    """Fit an athlete again after each film.

    Parameters
    ----------
    known
        What was typed in.
    films
        Names and attempts, oldest first; their weights are those of the last step.
    seed
        Of the fits.
    """
    movements = [*known.movements, *(m for _, attempt in films for m in attempt.movements)]
    steps, beliefs = [], []
    for count in range(len(films) + 1):
        latest = films[count - 1][1].weight if count else 1.0
        seen = [
            replace(attempt, weight=min(1.0, attempt.weight / latest))
            for _, attempt in films[:count]
        ]
        fit = fit_athlete(seen, tuple(dict.fromkeys(movements)), known, seed)
        steps.append(films[count - 1][0] if count else "before any film")
        beliefs.append(tuple(BeliefPart(**vars(item)) for item in beliefs_of(fit, seed)))
    return Growth(tuple(steps), tuple(beliefs))


def growth_page(name: str, growth: Growth) -> str:
    """Write the growth as a self-contained HTML page: one table for each belief."""
    last = growth.beliefs[-1]
    sections = "".join(_section(growth, belief) for belief in last if belief.low != belief.high)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"{PAGE_MARK}<title>{escape(name)}</title><style>{_STYLE}</style></head><body>\n"
        f"<h1>{escape(name)}: estimates, film by film</h1>\n"
        "<p>The bar spans 8 of 10 likely values, the dot is the middle. The bar gets shorter as "
        f"films tell more.</p>\n{sections}</body></html>\n"
    )


def _section(growth: Growth, last: BeliefPart) -> str:
    rows = [
        (step, belief)
        for step, beliefs in zip(growth.steps, growth.beliefs, strict=True)
        for belief in beliefs
        if belief.name == last.name
    ]
    most = max(belief.high for _, belief in rows)
    body = "".join(
        f"<tr><td>{escape(step)}</td><td>{_told(belief)}</td><td>{belief.origin}</td>"
        f"<td>{_bar(belief, most)}</td></tr>"
        for step, belief in rows
    )
    return f"<h2>{escape(last.name)}</h2><table><tbody>{body}</tbody></table>\n"


def _told(belief: BeliefPart) -> str:
    low, typical, high = figures(belief.low, belief.typical, belief.high)
    return f"{typical} {belief.unit} ({low} to {high})"


def _bar(belief: BeliefPart, most: float) -> str:
    low, middle, high = (
        WIDTH * value / most for value in (belief.low, belief.typical, belief.high)
    )
    return (
        f'<svg width="{WIDTH + 8}" height="{ROW}" role="img" '
        f'aria-label="{escape(_told(belief))}">'
        f'<rect x="{low:.1f}" y="5" width="{high - low:.1f}" height="6" rx="3" fill="#c9dcd7"/>'
        f'<circle cx="{middle:.1f}" cy="8" r="4.5" fill="#14655a"/></svg>'
    )
