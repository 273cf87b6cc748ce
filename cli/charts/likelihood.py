"""How probable each count is, as a few bars."""

from collections.abc import Sequence
from typing import Final

from markupsafe import Markup

from cli.charts.svg import element, picture, words
from cli.wording import percent

SLOT_PX: Final = 44.0
BAR_PX: Final = 26.0
BARS_PX: Final = 56.0
HEIGHT_PX: Final = BARS_PX + 34.0
"""In the drawing's own pixels, by eye: pages' kept pictures hold them (tests/cli/pages)."""
LEAST_SHOWN: Final = 0.005
"""Probability that would be written as 0 %."""
MOST_BARS: Final = 9
"""As many as fit a phone's width."""


def count_likelihood(bars: Sequence[tuple[str, float]]) -> Markup | None:
    """Draw the probability of each count; None where there is no doubt to draw.

    Counts below half a per cent are left out, and of a wide spread the most probable are kept.

    Parameters
    ----------
    bars
        What stands under each bar, and its probability, in the order they are drawn.
    """
    shown = [bar for bar in bars if bar[1] >= LEAST_SHOWN]
    if len(shown) > MOST_BARS:
        least = sorted((bar[1] for bar in shown), reverse=True)[MOST_BARS - 1]
        shown = [bar for bar in shown if bar[1] >= least][:MOST_BARS]
    if len(shown) < 2:
        return None
    tallest = max(probability for _, probability in shown)
    parts = []
    for slot, (name, probability) in enumerate(shown):
        middle = (slot + 0.5) * SLOT_PX
        height = max(BARS_PX * probability / tallest, 1.0)
        top = 16 + BARS_PX - height
        kind = "count-bar most" if probability == tallest else "count-bar"
        parts += [
            element("rect", x=middle - BAR_PX / 2, y=top, width=BAR_PX, height=height, class_=kind),
            words(percent(probability), middle, top - 4, class_="tick", text_anchor="middle"),
            words(name, middle, HEIGHT_PX - 4, class_="count-name", text_anchor="middle"),
        ]
    label = "Probability of each count: " + ", ".join(
        f"{name}{' reps' if name.isdigit() else ''} {percent(probability)}"
        for name, probability in shown
    )
    return Markup(picture(len(shown) * SLOT_PX, HEIGHT_PX, *parts, label=label))
