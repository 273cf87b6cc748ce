"""How probable each count is, as a few bars."""

from collections.abc import Sequence
from typing import Final

from markupsafe import Markup

from cli.charts.svg import element, picture, words
from cli.wording import percent
from counting.record.types import CountProbability

SLOT_PX: Final = 44.0
BAR_PX: Final = 26.0
BARS_PX: Final = 56.0
HEIGHT_PX: Final = BARS_PX + 34.0
LEAST_SHOWN: Final = 0.005
MOST_BARS: Final = 9


def count_likelihood(distribution: Sequence[CountProbability]) -> Markup | None:
    """Draw the probability of each count; None where there is no doubt to draw.

    Counts below half a per cent are left out, and of a wide spread the most probable are kept.
    """
    shown = [part for part in distribution if part.probability >= LEAST_SHOWN]
    if len(shown) > MOST_BARS:
        shown = sorted(shown, key=lambda part: -part.probability)[:MOST_BARS]
        shown.sort(key=lambda part: part.good)
    if len(shown) < 2:
        return None
    tallest = max(part.probability for part in shown)
    parts = []
    for slot, part in enumerate(shown):
        middle = (slot + 0.5) * SLOT_PX
        height = max(BARS_PX * part.probability / tallest, 1.0)
        top = 16 + BARS_PX - height
        kind = "count-bar most" if part.probability == tallest else "count-bar"
        parts += [
            element("rect", x=middle - BAR_PX / 2, y=top, width=BAR_PX, height=height, class_=kind),
            words(percent(part.probability), middle, top - 4, class_="tick", text_anchor="middle"),
            words(str(part.good), middle, HEIGHT_PX - 4, class_="count-name", text_anchor="middle"),
        ]
    label = "Probability of each count: " + ", ".join(
        f"{part.good} reps {percent(part.probability)}" for part in shown
    )
    return Markup(picture(len(shown) * SLOT_PX, HEIGHT_PX, *parts, label=label))
