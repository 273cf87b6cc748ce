"""One check: its value with the interval of its call, beside the limit and the asked side."""

from typing import Final

from markupsafe import Markup

from cli.charts.svg import element, number, picture, words
from cli.wording import check_sentence, limit
from counting.record.types import CheckPart

WIDTH_PX: Final = 300.0
HEIGHT_PX: Final = 46.0
BAR_TOP_PX: Final = 16.0
BAR_PX: Final = 14.0
EDGE_PX: Final = 4.0
"""In the drawing's own pixels, by eye: pages' kept pictures hold them (tests/cli/pages)."""
VIEW_AT_LEAST: Final = {"cm": 8.0, "deg": 16.0, "s": 1.0, "share": 0.1, "passes": 2.0}
"""Width of what a gauge shows at least, by unit: by eye, no source."""

_KIND: Final = {"met": "good", "not met": "norep", "too close": "unsure", "not judged": "counted"}


def check_gauge(check: CheckPart) -> Markup | None:
    """Draw a check on a scale centred at its limit; None where nothing was measured."""
    if check.value is None:
        return None
    low = check.value if check.low is None else check.low
    high = check.value if check.high is None else check.high
    farthest = max(abs(end - check.limit) for end in (low, check.value, high))
    reach = max(farthest, VIEW_AT_LEAST[check.unit]) * 1.12
    half = WIDTH_PX / 2 - EDGE_PX

    def x(value: float) -> float:
        return WIDTH_PX / 2 + half * (value - check.limit) / reach

    middle = BAR_TOP_PX + BAR_PX / 2
    asked_left = WIDTH_PX / 2 if check.relation == "at least" else EDGE_PX
    anchor, at = ("end", WIDTH_PX - EDGE_PX) if asked_left > EDGE_PX else ("start", EDGE_PX)
    kind = _KIND[check.verdict]
    whisker = f"M{number(x(low))} {number(middle)}"
    whisker += f"H{number(x(high))}"
    parts = [
        element(
            "rect",
            x=EDGE_PX,
            y=BAR_TOP_PX,
            width=2 * half,
            height=BAR_PX,
            class_="gauge-all",
        ),
        element(
            "rect", x=asked_left, y=BAR_TOP_PX, width=half, height=BAR_PX, class_="gauge-asked"
        ),
        element("path", d=whisker, class_=f"whisker {kind}"),
        element("circle", cx=x(check.value), cy=middle, r=4.5, class_=f"value {kind}"),
        element(
            "path",
            d=f"M{number(WIDTH_PX / 2)} {number(BAR_TOP_PX - 4)}v{number(BAR_PX + 8)}",
            class_="limit",
        ),
        words("meets the standard", at, BAR_TOP_PX - 5, class_="tick", text_anchor=anchor),
        words(
            limit(check),
            WIDTH_PX / 2,
            HEIGHT_PX - 3,
            class_="tick",
            text_anchor="middle",
        ),
    ]
    return Markup(
        picture(WIDTH_PX, HEIGHT_PX, *parts, label=check_sentence(check), class_="plot gauge")
    )
