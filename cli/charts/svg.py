"""Writing SVG elements: escaping, short numbers, ticks and the verdict marks."""

import math
from html import escape
from typing import Final

VERDICT_CLASS: Final = {
    "good": "good",
    "no-rep": "norep",
    "too close": "unsure",
    "only counted": "counted",
}

TICK_STEPS_S: Final = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600)
"""Round on a clock."""


def number(value: float) -> str:
    """Write a coordinate with at most two decimals."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def element(name: str, *children: str, **attributes: str | float) -> str:
    """Write one element; ``class_`` gives ``class``, other underscores become hyphens."""
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_attribute(value)}"'
        for key, value in attributes.items()
    )
    body = "".join(children)
    return f"<{name}{written}>{body}</{name}>" if body else f"<{name}{written}/>"


def words(text: str, x: float, y: float, **attributes: str | float) -> str:
    """Write a line of text at a point."""
    return element("text", escape(text), x=x, y=y, **attributes)


def picture(
    width: float, height: float, *children: str, label: str, role: str = "img", class_: str = "plot"
) -> str:
    """Wrap children as a picture that scales with its column and has a name for screen readers."""
    return element(
        "svg",
        *children,
        class_=class_,
        viewBox=f"0 0 {number(width)} {number(height)}",
        role=role,
        aria_label=label,
        width=width,
        height=height,
    )


def mark(verdict: str, x: float, y: float, size: float = 4.5) -> str:
    """Draw a verdict's mark, told apart by shape: disc, cross, open diamond, ring."""
    kind = VERDICT_CLASS[verdict]
    if verdict == "good":
        return element("circle", cx=x, cy=y, r=size * 0.8, class_=f"mark {kind}")
    if verdict == "no-rep":
        arms = f"M{number(x - size)} {number(y - size)}l{number(2 * size)} {number(2 * size)}"
        arms += f"m0 {number(-2 * size)}l{number(-2 * size)} {number(2 * size)}"
        return element("path", d=arms, class_=f"mark {kind}")
    if verdict == "only counted":
        return element("circle", cx=x, cy=y, r=size * 0.8, class_=f"mark {kind}")
    reach = size * 1.25
    corners = f"M{number(x)} {number(y - reach)}l{number(reach)} {number(reach)}"
    corners += f"l{number(-reach)} {number(reach)}l{number(-reach)} {number(-reach)}z"
    return element("path", d=corners, class_=f"mark {kind}")


def mark_shapes(suffix: str) -> str:
    """Define the marks at the origin, for `placed_mark` of the same picture."""
    return "".join(
        element("g", mark(verdict, 0, 0), id=f"mark-{kind}-{suffix}")
        for verdict, kind in VERDICT_CLASS.items()
    )


def placed_mark(verdict: str, x: float, y: float, suffix: str) -> str:
    """Place a mark that `mark_shapes` defined, so that a script can exchange it."""
    return element(
        "use", href=f"#mark-{VERDICT_CLASS[verdict]}-{suffix}", x=x, y=y, class_="placed"
    )


def legend_mark(verdict: str) -> str:
    """Draw a mark alone, to stand in a line of text; hidden from screen readers."""
    return element(
        "svg",
        mark(verdict, 7, 7),
        class_="inline-mark",
        viewBox="0 0 14 14",
        width=14,
        height=14,
        aria_hidden="true",
    )


def brand_mark() -> str:
    """Draw the project's sign: a driving signal through its turn, with the rep marked there."""
    return element(
        "svg",
        element("path", d="M1 5C6 5 7 17 12 17S18 5 23 5", class_="brand-line"),
        element("circle", cx=12, cy=17, r=3.6, class_="brand-rep"),
        class_="brand-mark",
        viewBox="0 0 24 24",
        width=24,
        height=24,
        aria_hidden="true",
    )


def tick_step_s(span_s: float, most: int) -> int:
    """Choose the finest round step that puts at most ``most`` ticks on a span."""
    for step in TICK_STEPS_S:
        if span_s / step <= most:
            return step
    return math.ceil(span_s / most / 3600) * 3600


def _attribute(value: str | float) -> str:
    return escape(value, quote=True) if isinstance(value, str) else number(value)
