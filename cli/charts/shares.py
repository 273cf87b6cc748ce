"""Where the time went, as one bar cut into parts."""

from collections.abc import Sequence

from markupsafe import Markup

from cli.charts.svg import element
from cli.summary import TIME_KINDS, TimeShare
from cli.wording import seconds


def share_bar(shares: Sequence[TimeShare]) -> Markup | None:
    """Draw the parts in their order, each with its own pattern; None where there are none.

    Plain elements rather than SVG, so that patterns and edges keep their size at any width.
    """
    if not shares:
        return None
    parts = [
        element("span", " ", class_=f"share {_pattern(part)}", style=f"flex-grow:{part.share:.5f}")
        for part in shares
    ]
    label = "Where the time went: " + ", ".join(
        f"{part.what} {seconds(part.duration_s)}" for part in shares
    )
    return Markup(element("div", *parts, class_="share-bar", role="img", aria_label=label))


def share_key(part: TimeShare) -> Markup:
    """Draw the small square that names a part of the bar in a table."""
    return Markup(element("span", " ", class_=f"share-key {_pattern(part)}", aria_hidden="true"))


def _pattern(part: TimeShare) -> str:
    """Give the class of a kind of time: the same in every report, whichever kinds it has."""
    return f"share-{TIME_KINDS.index(part.what)}"
