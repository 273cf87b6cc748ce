"""All reps of an attempt as one short line of marks, set by set."""

import functools
from collections.abc import Sequence
from typing import Final

from markupsafe import Markup

from cli.charts.svg import VERDICT_CLASS, element, number, picture

STEP_PX: Final = 10.0
SET_GAP_PX: Final = 8.0
ROW_PX: Final = 14.0
ROW_REPS: Final = 22
"""Reps on one row; a longer attempt takes more rows."""
_SHAPES: Final = {
    "good": "h0",
    "no-rep": "m-2.6-2.6l5.2 5.2m0-5.2l-5.2 5.2",
    "too close": "m0-3.8l3.8 3.8l-3.8 3.8l-3.8-3.8z",
    "only counted": "m-2.8 0a2.8 2.8 0 1 0 5.6 0a2.8 2.8 0 1 0-5.6 0z",
}


def rep_strip(reps: Sequence[tuple[int, str]]) -> Markup:
    """Draw the marks of (set, verdict) pairs in order, with a gap between sets."""
    return _strip(tuple(reps))


@functools.lru_cache(maxsize=4096)
def _strip(reps: tuple[tuple[int, str], ...]) -> Markup:
    paths = dict.fromkeys(_SHAPES, "")
    x, y, widest, on_row = STEP_PX / 2, ROW_PX / 2, 0.0, 0
    for index, (set_number, verdict) in enumerate(reps):
        if on_row == ROW_REPS:
            x, y, on_row = STEP_PX / 2, y + ROW_PX, 0
        elif index and set_number != reps[index - 1][0] and on_row:
            x += SET_GAP_PX
        paths[verdict] += f"M{number(x)} {number(y)}{_SHAPES[verdict]}"
        widest, x, on_row = max(widest, x + STEP_PX / 2), x + STEP_PX, on_row + 1
    drawn = [
        element("path", d=path, class_=f"strip {VERDICT_CLASS[verdict]}")
        for verdict, path in paths.items()
        if path
    ]
    verdicts = [verdict for _, verdict in reps]
    label = ", ".join(
        f"{verdicts.count(verdict)} {verdict}" for verdict in _SHAPES if verdict in verdicts
    )
    if not drawn:
        return Markup("")
    return Markup(picture(widest, y + ROW_PX / 2, *drawn, label=label, class_="strip-plot"))
