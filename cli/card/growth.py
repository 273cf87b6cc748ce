"""How what is estimated of an athlete grew, as a page."""

from dataclasses import dataclass
from typing import Final

from cli.look import environment, style
from counting.pacing.card.document import BeliefPart
from counting.pacing.card.growth import Growth
from counting.pacing.card.words import figures

WIDTH: Final = 300.0
"""Length of the longest bar, in the picture's own unit."""


@dataclass(frozen=True, slots=True)
class Step:
    """One estimate after one film: in words, and where its bar begins, has its dot and ends."""

    name: str
    told: str
    origin: str
    low: float
    middle: float
    high: float


def growth_page(name: str, growth: Growth) -> str:
    """Write the growth as a self-contained HTML page: one table for each estimate."""
    return (
        environment("cli.card")
        .get_template("growth.html")
        .render(
            name=name,
            width=WIDTH,
            estimates={
                belief.name: _steps(growth, belief.name)
                for belief in growth.beliefs[-1]
                if belief.low != belief.high
            },
            style=style("cli.card", "card.css"),
        )
    )


def _steps(growth: Growth, name: str) -> list[Step]:
    rows = [
        (step, belief)
        for step, beliefs in zip(growth.steps, growth.beliefs, strict=True)
        for belief in beliefs
        if belief.name == name
    ]
    scale = WIDTH / max(belief.high for _, belief in rows)
    return [
        Step(
            step,
            _told(belief),
            belief.origin,
            *(scale * value for value in (belief.low, belief.typical, belief.high)),
        )
        for step, belief in rows
    ]


def _told(belief: BeliefPart) -> str:
    low, typical, high = figures(belief.low, belief.typical, belief.high)
    return f"{typical} {belief.unit} ({low} to {high})"
