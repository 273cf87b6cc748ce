"""Reps, sets, breaks and the driving signal on one time axis, folded into rows like a text."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from markupsafe import Markup

from cli.charts.svg import (
    VERDICT_CLASS,
    element,
    mark_shapes,
    number,
    picture,
    placed_mark,
    tick_step_s,
    words,
)
from cli.scores import clock_stop_s, does_not_count
from cli.wording import moment, percent, seconds
from counting.record.types import AuditRecord, RepPart, SeriesPart, SetPart
from vision.times import clock


@dataclass(frozen=True, slots=True)
class TimelineShape:
    """Size of the drawing: its width and how much film one row may hold at most."""

    width_px: float
    row_most_s: float


WIDE: Final = TimelineShape(width_px=1000, row_most_s=180)
NARROW: Final = TimelineShape(width_px=350, row_most_s=60)
"""For a page on a desk and on a phone: 5 to 6 pixels a second, so that reps can be told apart."""

MARGIN_PX: Final = 10.0
SET_NAMES_PX: Final = 14.0
NUMBERS_PX: Final = 14.0
LABELS_PX: Final = SET_NAMES_PX + NUMBERS_PX
MARKS_PX: Final = 18.0
SIGNAL_PX: Final = 64.0
"""Heights of what stands in a row, from above, and the space beside it."""
BARE_PX: Final = 22.0
"""Height of the lane where there is no signal to draw in it."""
AXIS_PX: Final = 22.0
ROW_GAP_PX: Final = 10.0
"""Heights of the axis under a row and of what parts it from the next."""
LETTER_PX: Final = 7.0
"""Width of a letter at most, in the size that sets are named in."""


@dataclass(frozen=True, slots=True)
class Row:
    """One stretch of the axis and the place it is drawn at."""

    start_s: float
    end_s: float
    top_px: float
    px_per_s: float
    lane_px: float

    def x(self, time_s: float) -> float:
        """Place a time, held inside the row."""
        held_s = min(max(time_s, self.start_s), self.end_s)
        return MARGIN_PX + (held_s - self.start_s) * self.px_per_s

    def holds(self, start_s: float, end_s: float) -> bool:
        """Whether any of a stretch of time lies in this row."""
        return start_s < self.end_s and end_s > self.start_s


def timeline(record: AuditRecord, shape: TimelineShape = WIDE, *, link: str = "#rep-{}") -> Markup:
    """Draw the timeline.

    Every rep carries its mark and, read aloud, its number, time and verdict; those that are not
    good are numbered and link to ``link`` with the rep's number filled in. The rows carry their
    start, end and scale as ``data-`` attributes, so that a page can turn a click into a time.
    """
    rows = fold(record.film.duration_s, shape, BARE_PX if record.series is None else SIGNAL_PX)
    height = rows[-1].top_px + _row_px(rows[-1].lane_px)
    scale = _signal_scale(record.series)
    suffix = f"{shape.width_px:.0f}"
    drawn = [_row(record, row, scale, link, suffix) for row in rows]
    label = (
        f"Timeline of {clock(record.film.duration_s, 0)}: {len(record.reps)} reps in "
        f"{len(record.sets)} sets"
    )
    return Markup(
        picture(
            shape.width_px,
            height,
            element("defs", _hatching(f"hatch-{suffix}"), mark_shapes(suffix)),
            *drawn,
            label=label,
            role="group",
            class_="plot timeline",
        )
    )


def fold(duration_s: float, shape: TimelineShape, lane_px: float = SIGNAL_PX) -> list[Row]:
    """Cut the axis into rows of equal length, none longer than the shape allows."""
    duration_s = max(duration_s, 1.0)
    count = max(math.ceil(duration_s / shape.row_most_s - 1e-9), 1)
    row_s = duration_s / count
    px_per_s = (shape.width_px - 2 * MARGIN_PX) / row_s
    step_px = _row_px(lane_px) + ROW_GAP_PX
    return [
        Row(index * row_s, (index + 1) * row_s, index * step_px, px_per_s, lane_px)
        for index in range(count)
    ]


def _row_px(lane_px: float) -> float:
    return LABELS_PX + MARKS_PX + lane_px + AXIS_PX


def _row(record: AuditRecord, row: Row, scale: tuple[float, float], link: str, suffix: str) -> str:
    stop_s, uncounted = clock_stop_s(record), does_not_count(record)
    signal_top = row.top_px + LABELS_PX + MARKS_PX
    parts = [_background(row, signal_top)]
    sets = [part for part in record.sets if row.holds(part.start_s, part.end_s)]
    parts += [_set_band(part.start_s, part.end_s, row) for part in sets]
    parts += [
        _break(part.start_s, part.end_s, row, signal_top, f"hatch-{suffix}")
        for part in record.breaks
        if row.holds(part.start_s, part.end_s)
    ]
    parts += [
        _pause(part.start_s, part.end_s, row, signal_top)
        for part in record.pauses
        if row.holds(part.start_s, part.end_s)
    ]
    parts += [
        _flagged_span(rep, row, signal_top)
        for rep in record.reps
        if rep.verdict != "good" and row.holds(rep.start_s, rep.end_s)
    ]
    if record.series is not None:
        parts.append(_signal(record.series, row, signal_top, scale))
    parts.append(_axis(row, signal_top + row.lane_px, record.start_s or 0.0))
    if stop_s is not None and row.start_s <= stop_s < row.end_s:
        parts.append(_stop(stop_s, row, signal_top, record))
    names = _Labels(row.top_px + SET_NAMES_PX - 3, row.x(row.end_s) + MARGIN_PX)
    mixed = len({part.movement for part in record.sets}) > 1
    parts += [
        _set_name(part, row, names, mixed=mixed) for part in sets if part.start_s >= row.start_s
    ]
    labels = _Labels(row.top_px + LABELS_PX - 2, row.x(row.end_s) + MARGIN_PX)
    parts += [
        _rep(rep, row, link, labels, suffix, record.start_s, uncounted.get(rep.number))
        for rep in record.reps
        if row.start_s <= rep.turn_s < row.end_s
    ]
    return element(
        "g",
        *parts,
        class_="row",
        data_start=f"{row.start_s:.3f}",
        data_end=f"{row.end_s:.3f}",
        data_left=MARGIN_PX,
        data_scale=f"{row.px_per_s:.4f}",
    )


def _background(row: Row, signal_top: float) -> str:
    width = (row.end_s - row.start_s) * row.px_per_s
    return element(
        "rect", x=MARGIN_PX, y=signal_top, width=width, height=row.lane_px, class_="lane"
    )


class _Labels:
    """The line of small texts above a row; one that would touch another is left out."""

    def __init__(self, baseline_px: float, right_px: float) -> None:
        self._baseline_px = baseline_px
        self._right_px = right_px
        self._taken: list[tuple[float, float]] = []

    def write(self, text: str, x: float, anchor: str, class_: str) -> str:
        width = LETTER_PX * len(text)
        left = x - width / 2 if anchor == "middle" else x
        beyond = left + width > self._right_px
        if beyond or any(left < end and left + width > start for start, end in self._taken):
            return ""
        self._taken.append((left - 3, left + width + 3))
        return words(text, x, self._baseline_px, class_=class_, text_anchor=anchor)


def _set_band(start_s: float, end_s: float, row: Row) -> str:
    left, right = row.x(start_s), row.x(end_s)
    return element(
        "rect",
        x=left,
        y=row.top_px + LABELS_PX,
        width=max(right - left, 1.0),
        height=MARKS_PX + row.lane_px,
        class_="set-band",
    )


def _set_name(part: SetPart, row: Row, names: _Labels, *, mixed: bool) -> str:
    """Name a set as fully as its neighbours leave room for."""
    wordings = [f"set {part.number}", str(part.number)]
    if mixed:
        wordings.insert(0, f"{part.number} {part.movement}")
    for wording in wordings:
        written = names.write(wording, row.x(part.start_s) + 1, "start", "set-name")
        if written:
            return written
    return ""


def _break(start_s: float, end_s: float, row: Row, signal_top: float, pattern: str) -> str:
    left, right = row.x(start_s), row.x(end_s)
    hatch = element(
        "rect",
        x=left,
        y=signal_top,
        width=right - left,
        height=row.lane_px,
        class_="break",
        fill=f"url(#{pattern})",
    )
    if right - left < 30 or not row.start_s <= (start_s + end_s) / 2 < row.end_s:
        return hatch
    middle = row.top_px + LABELS_PX + 13
    length = seconds(end_s - start_s)
    return hatch + words(
        length, (left + right) / 2, middle, class_="break-name", text_anchor="middle"
    )


def _pause(start_s: float, end_s: float, row: Row, signal_top: float) -> str:
    left, right = row.x(start_s), row.x(end_s)
    title = element("title", f"paused for {seconds(end_s - start_s)}")
    return element(
        "rect",
        title,
        x=left,
        y=signal_top + row.lane_px - 5,
        width=max(right - left, 2.0),
        height=5,
        class_="pause",
    )


def _flagged_span(rep: RepPart, row: Row, signal_top: float) -> str:
    left, right = row.x(rep.start_s), row.x(rep.end_s)
    return element(
        "rect",
        x=left,
        y=signal_top,
        width=max(right - left, 1.0),
        height=row.lane_px,
        class_=f"span {VERDICT_CLASS[rep.verdict]}",
    )


def _rep(
    rep: RepPart,
    row: Row,
    link: str,
    labels: _Labels,
    suffix: str,
    zero_s: float | None,
    not_counted: str | None,
) -> str:
    x, y = row.x(rep.turn_s), row.top_px + LABELS_PX + MARKS_PX / 2 + 1
    said = f"rep {rep.number} at {moment(rep.turn_s, zero_s)}: {rep.verdict}"
    said += f", {percent(rep.probability_good)} chance that it is good"
    said += f"; does not count: {not_counted}" if not_counted else ""
    idle = " idle" if not_counted else ""
    title = element("title", escape(said))
    if rep.verdict == "good":
        return element(
            "g",
            title,
            placed_mark("good", x, y, suffix),
            class_=f"rep{idle}",
            data_rep=f"{rep.number}",
        )
    number_label = labels.write(str(rep.number), x, "middle", "rep-number")
    hit = element(
        "rect",
        x=x - 9,
        y=row.top_px + SET_NAMES_PX,
        width=18,
        height=NUMBERS_PX + MARKS_PX,
        class_="hit",
    )
    return element(
        "a",
        title,
        hit,
        placed_mark(rep.verdict, x, y, suffix),
        number_label,
        href=link.format(rep.number),
        aria_label=said,
        class_=f"rep flagged {VERDICT_CLASS[rep.verdict]}{idle}",
        data_rep=f"{rep.number}",
    )


def _signal_scale(series: SeriesPart | None) -> tuple[float, float]:
    values = [] if series is None else [value for value in series.value if value is not None]
    if not values:
        return 0.0, 1.0
    lowest, highest = min(values), max(values)
    return lowest, max(highest - lowest, 1e-9)


def _signal(series: SeriesPart, row: Row, top: float, scale: tuple[float, float]) -> str:
    lowest, span = scale
    runs: list[list[tuple[float, float]]] = [[]]
    # Times increase: each row looks at its own alone, however long the film.
    first = bisect_left(series.time_s, row.start_s)
    last = bisect_right(series.time_s, row.end_s)
    for time_s, value in zip(series.time_s[first:last], series.value[first:last], strict=True):
        if value is None:
            runs.append([])
            continue
        y = top + 5 + (row.lane_px - 12) * (1.0 - (value - lowest) / span)
        runs[-1].append((row.x(time_s), y))
    paths = "".join(_path(_thin(run)) for run in runs if len(run) > 1)
    return element("path", d=paths, class_="signal") if paths else ""


def _thin(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Keep each pixel column's lowest and highest point, so that no extreme is lost."""
    kept: list[tuple[float, float]] = []
    column: list[tuple[float, float]] = []
    for point in points:
        if column and int(point[0]) != int(column[0][0]):
            kept += _extremes(column)
            column = []
        column.append(point)
    return kept + _extremes(column)


def _extremes(column: list[tuple[float, float]]) -> list[tuple[float, float]]:
    ends = {min(column, key=lambda point: point[1]), max(column, key=lambda point: point[1])}
    return sorted(ends)


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _stop(stop_s: float, row: Row, signal_top: float, record: AuditRecord) -> str:
    """Draw where the workout's clock stops: the finish, or time up."""
    x = row.x(stop_s)
    part = record.workout
    name = "finish" if part is not None and part.score.likely.finished else "time"
    bottom = signal_top + row.lane_px
    title = element("title", f"{name} at {moment(stop_s, record.start_s)}")
    line = element("path", d=f"M{number(x)} {number(signal_top)}V{number(bottom)}", class_="stop")
    anchor, aside = ("end", -4) if x > row.x(row.end_s) - 48 else ("start", 4)
    label = words(name, x + aside, signal_top + 12, class_="stop-name", text_anchor=anchor)
    return element("g", title, line, label)


def _axis(row: Row, top: float, zero_s: float) -> str:
    right = MARGIN_PX + (row.end_s - row.start_s) * row.px_per_s
    parts = [
        element("path", d=f"M{number(MARGIN_PX)} {number(top)}H{number(right)}", class_="axis")
    ]
    step = tick_step_s(row.end_s - row.start_s, int((right - MARGIN_PX) / 56))
    first = math.ceil((row.start_s - zero_s) / step - 1e-9)
    for tick in range(first, math.floor((row.end_s - zero_s) / step + 1e-9) + 1):
        x = row.x(tick * step + zero_s)
        anchor = "start" if x < 24 else "end" if x > right - 14 else "middle"
        parts.append(element("path", d=f"M{number(x)} {number(top)}v4", class_="axis"))
        parts.append(words(clock(tick * step, 0), x, top + 16, class_="tick", text_anchor=anchor))
    return "".join(parts)


def _hatching(name: str) -> str:
    line = element("path", d="M0 6L6 0", class_="hatch-line")
    return element("pattern", line, id=name, width=6, height=6, patternUnits="userSpaceOnUse")
