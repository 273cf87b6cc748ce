"""Cycle time of every rep, so that slowing down and breaks are seen at once."""

import math
from typing import Final

from markupsafe import Markup

from cli.charts.svg import VERDICT_CLASS, element, mark, number, picture, words
from cli.summary import set_summaries
from counting.record.types import AuditRecord

WIDTH_PX: Final = 1000.0
PLOT_PX: Final = 110.0
LEFT_PX: Final = 40.0
TOP_PX: Final = 18.0
HEIGHT_PX: Final = TOP_PX + PLOT_PX + 22.0
"""In the drawing's own pixels, by eye: pages' kept pictures hold them (tests/cli/pages)."""
SET_GAP_REPS: Final = 1.2
"""Gap between sets, in places of a rep: wider than between reps, as the eye has to see."""


def pace_chart(record: AuditRecord, width_px: float = WIDTH_PX) -> Markup | None:
    """Draw one stem a rep, its height the cycle time from zero; None without reps."""
    sets = [part for part in set_summaries(record) if part.cycle_s]
    if not sets:
        return None
    slots = sum(len(part.cycle_s) for part in sets) + SET_GAP_REPS * (len(sets) - 1)
    step_px = min((width_px - LEFT_PX - 8) / max(slots, 1.0), 34.0)
    top_s, step_s = _scale(max(max(part.cycle_s) for part in sets))
    base = TOP_PX + PLOT_PX
    used = LEFT_PX + slots * step_px
    parts = []
    for line in range(round(top_s / step_s) + 1):
        y = base - PLOT_PX * line * step_s / top_s
        parts.append(
            element("path", d=f"M{number(LEFT_PX)} {number(y)}H{number(used)}", class_="grid")
        )
        parts.append(
            words(f"{line * step_s:g} s", LEFT_PX - 6, y + 4, class_="tick", text_anchor="end")
        )
    left = LEFT_PX
    verdicts = {rep.number: rep.verdict for rep in record.reps}
    for part in sets:
        width = len(part.cycle_s) * step_px
        parts.append(
            words(
                f"set {part.number}" if width > 34 else str(part.number),
                left + width / 2,
                base + 16,
                class_="set-name",
                text_anchor="middle",
            )
        )
        for offset, cycle_s in enumerate(part.cycle_s):
            x = left + (offset + 0.5) * step_px
            y = base - PLOT_PX * cycle_s / top_s
            verdict = verdicts[part.first_rep + offset]
            stem = f"M{number(x)} {number(base)}V{number(y)}"
            title = element("title", f"rep {part.first_rep + offset}: {cycle_s:.2f} s, {verdict}")
            parts.append(
                element(
                    "g",
                    title,
                    element("path", d=stem, class_=f"stem {VERDICT_CLASS[verdict]}"),
                    mark(verdict, x, y, size=min(4.5, max(step_px / 3, 2.0))),
                )
            )
        left += width + SET_GAP_REPS * step_px
    label = "Cycle time of each rep: " + "; ".join(
        f"set {part.number} from {part.cycle_s[0]:.1f} to {part.cycle_s[-1]:.1f} seconds"
        for part in sets
    )
    return Markup(picture(max(used + 8, 160.0), HEIGHT_PX, *parts, label=label))


def _scale(longest_s: float) -> tuple[float, float]:
    """Choose the top of the scale and the step of its lines, two to five lines."""
    for step_s in (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0):
        lines = math.ceil(longest_s / step_s - 1e-9)
        if lines <= 4:
            return max(lines, 1) * step_s, step_s
    return math.ceil(longest_s / 300.0) * 300.0, 300.0
