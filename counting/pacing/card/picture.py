"""The plan as a picture: stations along the clock, and the strength that is left in the muscles."""

from html import escape
from itertools import pairwise
from typing import Final

from counting.pacing.card.document import Level, PlanDocument, Row
from vision.made_by import DRAWING_MARK
from vision.times import clock

WIDTH: Final = 1040
LEFT: Final = 52
RIGHT: Final = 24
LANE_TOP: Final = 40
LANE_HEIGHT: Final = 40
PLOT_TOP: Final = 104
PLOT_HEIGHT: Final = 214
HEIGHT: Final = PLOT_TOP + PLOT_HEIGHT + 74

INK: Final = "#1c2226"
QUIET: Final = "#525c63"
ALARM: Final = "#a2242c"
TONES: Final = {INK: "ink", QUIET: "quiet", ALARM: "alarm"}
"""Classes beside the colours: a page with a dark ground gives them colours of its own."""

LINES: Final = {
    "grip and pull": ("#14655a", ""),
    "press": ("#b35c00", "9 4"),
    "squat": ("#5a3fa0", "2 4"),
    "hinge": ("#7d2f4f", "12 3 2 3"),
    "whole body": ("#525c63", "5 5"),
}
"""Colour and dashes of each reservoir: told apart in print without colour too."""

FILLS: Final = ("#d7e6e4", "#efe3cf", "#e2ddf0", "#e9d9df", "#dde5d0", "#d8dfe8")


def plan_picture(document: PlanDocument) -> str:
    """Draw a plan as SVG of its own, with a title and a description for readers who cannot see it.

    Parameters
    ----------
    document
        The plan.
    """
    end_s = _end_s(document)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        'font-family="system-ui, \'DejaVu Sans\', sans-serif" font-size="13">',
        f"<title>{escape(document.workout)}: stations and strength left along the clock</title>",
        f"<desc>{escape(_description(document))}</desc>",
        DRAWING_MARK,
        f'<rect class="ground" width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        *_axes(end_s),
        *_lane(document, end_s),
        *(_line(document.levels, index, name, end_s) for index, name in enumerate(document.groups)),
        *_limits(document, end_s),
        *_legend(document),
        "</svg>\n",
    ]
    return "\n".join(parts)


def _end_s(document: PlanDocument) -> float:
    last_s = max((level.at_s for level in document.levels), default=60.0)
    reached = [mark.late_s for mark in (row.mark for row in document.rows) if mark.late_s]
    longest = max([last_s, *reached])
    return min(1.03 * longest, document.cap_s) if document.cap_s else 1.03 * longest


def _x(time_s: float, end_s: float) -> float:
    return LEFT + (WIDTH - LEFT - RIGHT) * min(time_s / end_s, 1.0)


def _y(percent: float) -> float:
    return PLOT_TOP + PLOT_HEIGHT * (1.0 - percent / 100.0)


def _text(x: float, y: float, words: str, more: str = "", colour: str = INK) -> str:
    tone = f'class="{TONES[colour]}" fill="{colour}"'
    return f'<text x="{x:.1f}" y="{y:.1f}" {tone} {more}>{escape(words)}</text>'


def _line_class(name: str) -> str:
    return "line-" + name.replace(" ", "-")


def _axes(end_s: float) -> list[str]:
    drawn = []
    for percent in (0, 25, 50, 75, 100):
        y = _y(percent)
        drawn.append(
            f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" '
            f'class="grid" stroke="#dcd8cd" stroke-width="{1.6 if percent == 0 else 1}"/>'
        )
        drawn.append(_text(LEFT - 8, y + 4, f"{percent}", 'text-anchor="end"'))
    drawn.append(_text(LEFT - 8, PLOT_TOP - 12, "% left", 'text-anchor="end" font-size="11"'))
    step_s = next(step for step in (15, 30, 60, 120, 300, 600) if end_s / step <= 14)
    for time_s in range(0, int(end_s) + 1, step_s):
        x = _x(time_s, end_s)
        drawn.append(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{PLOT_TOP + PLOT_HEIGHT}" '
            f'y2="{PLOT_TOP + PLOT_HEIGHT + 6}" class="ink" stroke="{INK}"/>'
        )
        drawn.append(
            _text(x, PLOT_TOP + PLOT_HEIGHT + 21, clock(time_s, 0), 'text-anchor="middle"')
        )
    return drawn


def _lane(document: PlanDocument, end_s: float) -> list[str]:
    """Stations as blocks from their first rep to their mark, rounds written above."""
    begins = _station_spans(document)
    begun = [row for row in document.rows if row.begin_s is not None]
    order = list(dict.fromkeys(row.movement for row in document.rows))
    drawn: list[str] = []
    round_seen: tuple[int, int] | None = None
    starts = [
        _x(span[0], end_s)
        for row, span in zip(begun, begins, strict=True)
        if row.station == 1 and row.rounds > 1
    ]
    roomy = all(b - a > 62 for a, b in pairwise(starts))
    for row, (begin_s, stop_s) in zip(begun, begins, strict=True):
        x, width = _x(begin_s, end_s), _x(stop_s, end_s) - _x(begin_s, end_s)
        number = order.index(row.movement) % len(FILLS)
        fill = f'class="fill-{number}" fill="{FILLS[number]}"'
        edge = f'stroke="{ALARM}" stroke-width="2.5"' if row.decisive else 'stroke="none"'
        drawn.append(
            f'<rect x="{x:.1f}" y="{LANE_TOP}" width="{max(width, 1):.1f}" '
            f'height="{LANE_HEIGHT}" rx="3" {fill} {edge}/>'
        )
        short = _short(row)
        size = 14 if len(short) * 9.8 < width else 11
        if len(short) * size * 0.66 < width:
            middle = x + width / 2
            style = f'text-anchor="middle" font-size="{size}" font-weight="600"'
            drawn.append(_text(middle, LANE_TOP + LANE_HEIGHT / 2 + 5, short, style))
        if row.rounds > 1 and (row.block, row.round) != round_seen:
            round_seen = (row.block, row.round)
            drawn.append(
                _text(
                    x,
                    LANE_TOP - 8,
                    f"round {row.round}" if roomy else f"{row.round}",
                    'font-size="12"',
                    QUIET,
                )
            )
    return drawn


def _station_spans(document: PlanDocument) -> list[tuple[float, float]]:
    """Usual begin and end of each station that is usually begun; one cut off ends with its time."""
    last_s = document.levels[-1].at_s if document.levels else 0.0
    return [
        (row.begin_s, min(row.mark.middle_s or row.due_s or last_s, last_s))
        for row in document.rows
        if row.begin_s is not None
    ]


def _short(row: Row) -> str:
    if len(row.sets) > 4:
        sizes = sorted(set(row.sets))
        told = (
            "singles"
            if sizes == [1]
            else f"sets of {sizes[0]}"
            if len(sizes) == 1
            else (f"sets of {sizes[0]}–{sizes[-1]}")
        )
        return f"{row.reps}: {told}"
    return "+".join(str(size) for size in row.sets)


def _line(levels: list[Level], index: int, name: str, end_s: float) -> str:
    colour, dashes = LINES.get(name, (INK, ""))
    points = " ".join(
        f"{_x(level.at_s, end_s):.1f},{_y(level.percent[index]):.1f}" for level in levels
    )
    return (
        f'<polyline class="{_line_class(name)}" points="{points}" fill="none" '
        f'stroke="{colour}" stroke-width="2.2" '
        f'stroke-linejoin="round" stroke-dasharray="{dashes}"/>'
    )


def _limits(document: PlanDocument, end_s: float) -> list[str]:
    marks = []
    if document.cap_s is not None and document.cap_s <= end_s * 1.001:
        marks.append((document.cap_s, f"cap {clock(document.cap_s, 0)}", ALARM, "end"))
    time_s = next(r.tie_break_s for r in document.outlook[0].percentiles if r.percentile == 50)
    if time_s is not None:
        marks.append((time_s, f"tie-break {clock(time_s, 0)}", INK, "start"))
    drawn = []
    for time_s, words, colour, anchor in marks:
        x = _x(time_s, end_s)
        drawn.append(
            f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{LANE_TOP - 22}" y2="{PLOT_TOP + PLOT_HEIGHT}" '
            f'class="{TONES[colour]}" stroke="{colour}" stroke-width="1.6" stroke-dasharray="6 3"/>'
        )
        shift = -5 if anchor == "end" else 5
        drawn.append(
            _text(
                x + shift,
                LANE_TOP - 22,
                words,
                f'text-anchor="{anchor}" font-weight="600"',
                colour,
            )
        )
    return drawn


def _legend(document: PlanDocument) -> list[str]:
    drawn, x, y = [], float(LEFT), PLOT_TOP + PLOT_HEIGHT + 46
    for name in document.groups:
        colour, dashes = LINES.get(name, (INK, ""))
        drawn.append(
            f'<line x1="{x}" x2="{x + 34}" y1="{y}" y2="{y}" class="{_line_class(name)}" '
            f'stroke="{colour}" stroke-width="2.6" stroke-dasharray="{dashes}"/>'
        )
        drawn.append(_text(x + 41, y + 4, name))
        x += 41 + 7.6 * len(name) + 30
    order = list(dict.fromkeys(row.movement for row in document.rows))
    x, y = float(LEFT), y + 20
    for index, movement in enumerate(order):
        drawn.append(
            f'<rect x="{x}" y="{y - 9}" width="16" height="13" rx="2" '
            f'class="fill-{index % len(FILLS)}" fill="{FILLS[index % len(FILLS)]}"/>'
        )
        drawn.append(_text(x + 22, y + 2, movement))
        x += 22 + 7.6 * len(movement) + 26
    return drawn


def _description(document: PlanDocument) -> str:
    lowest = {
        name: min((level.percent[index] for level in document.levels), default=100.0)
        for index, name in enumerate(document.groups)
    }
    return "Lowest predicted levels: " + ", ".join(
        f"{name} {percent:.0f} %" for name, percent in lowest.items()
    )
