"""What is written on a marked film, and its look: counter, set, clock, calls, progress."""

import functools
import importlib.util
import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from vision.marking.planes import Patch, Planes, lay, patch_of
from vision.times import clock

Verdict = Literal["good", "no-rep", "too close", "only counted"]

CALL_SHOWN_S: Final = 2.2
GOOD_SHOWN_S: Final = 0.7
"""How long a call with its reason is to be read, and a good one seen: by eye, no source."""

_PANEL: Final = (16, 20, 24, 205)
_TEXT: Final = (245, 244, 240, 255)
_QUIET: Final = (190, 197, 203, 255)
"""Red, green, blue and how much covers, of 255."""
_INK: Final[dict[str, tuple[int, int, int, int]]] = {
    "good": (116, 203, 184, 255),
    "no-rep": (255, 147, 141, 255),
    "too close": (232, 190, 104, 255),
    "only counted": (190, 205, 215, 255),
}
"""Likewise, by verdict, whose mark tells it by its shape as well."""


@dataclass(frozen=True, slots=True)
class Call:
    """A verdict to show: from when, on which rep, and why; the counts so far include this rep."""

    time_s: float
    title: str
    reason: str
    verdict: Verdict
    good_so_far: int
    no_rep_so_far: int
    open_so_far: int


@dataclass(frozen=True, slots=True)
class Stage:
    """A line that holds from a time on, until the next one: the current set or break."""

    time_s: float
    words: str


@dataclass(frozen=True, slots=True)
class Captions:
    """All that is written on one film. Calls and stages are in order of time.

    ``clock_zero_s`` is the film time at which the shown clock reads zero, ``clock_stop_s`` the one
    at which it stops.
    """

    calls: Sequence[Call]
    stages: Sequence[Stage]
    clock_zero_s: float
    duration_s: float
    clock_stop_s: float = math.inf


class CaptionPainter:
    """Paints captions on pictures of one size; texts that stay are rendered once."""

    def __init__(self, captions: Captions, width_px: int, height_px: int) -> None:
        self._captions = captions
        self._width_px = width_px
        self._unit = min(width_px, height_px * 1.3) / 100.0
        self._call_times = [call.time_s for call in captions.calls]
        self._stage_times = [stage.time_s for stage in captions.stages]
        self._progress = self._progress_patch()
        self._patch = functools.lru_cache(maxsize=64)(self._rendered)

    def paint(self, planes: Planes, time_s: float) -> None:
        """Paint what holds at a film time."""
        unit, edge = self._unit, round(2.2 * self._unit)
        made = bisect_right(self._call_times, time_s)
        call = self._captions.calls[made - 1] if made else None
        begun = bisect_right(self._stage_times, time_s)
        stage = self._captions.stages[begun - 1].words if begun else ""
        fresh = call is not None and time_s - call.time_s < GOOD_SHOWN_S
        flash = call.verdict if call is not None and fresh else ""
        lay(planes, self._patch("count", made, stage, flash), edge, edge)
        shown_s = min(time_s, self._captions.clock_stop_s) - self._captions.clock_zero_s
        clock = self._patch("clock", round(10 * shown_s), "", "")
        lay(planes, clock, planes.width_px - clock.y.shape[1] - edge, edge)
        if call is not None and call.verdict != "good" and time_s - call.time_s < CALL_SHOWN_S:
            banner = self._patch("call", made, "", "")
            left = (planes.width_px - banner.y.shape[1]) // 2
            top = planes.height_px - banner.y.shape[0] - round(7 * unit)
            lay(planes, banner, left, top)
        self._paint_progress(planes, time_s)

    def _rendered(self, kind: str, first: int, words: str, flash: str) -> Patch:
        if kind == "count":
            call = self._captions.calls[first - 1] if first else None
            return patch_of(self._count_picture(call, words, flash))
        if kind == "clock":
            return patch_of(self._clock_picture(first / 10.0))
        return patch_of(self._call_picture(self._captions.calls[first - 1]))

    def _count_picture(self, call: Call | None, stage: str, flash: str) -> np.ndarray:
        unit = self._unit
        counts = (call.good_so_far, call.no_rep_so_far, call.open_so_far) if call else (0, 0, 0)
        good, no_reps, to_call = counts
        large, small = font_of(round(10 * unit), bold=True), font_of(round(2.9 * unit), bold=False)
        count, pad = str(good), 2.0 * unit
        beside_it = (("good", _QUIET), (f"{no_reps} no-rep", _INK["no-rep"]))
        inks = dict(beside_it if no_reps else beside_it[:1])
        if to_call:
            inks[f"{to_call} to call"] = _INK["too close"]
        words = list(inks)
        count_width = large.getlength(count)
        side_width = max(small.getlength(line) for line in words)
        width = pad * 3 + count_width + side_width + 1.5 * unit
        width = max(width, small.getlength(stage) + 2 * pad)
        height = (16.5 if stage else 12.5) * unit
        picture, draw = _panel(width, height, unit)
        if flash:
            _mark(draw, flash, width - 2.8 * unit, 3.0 * unit, 1.3 * unit)
        draw.text((pad, 1.0 * unit), count, font=large, fill=_TEXT)
        beside = pad + count_width + 1.4 * unit
        for row, line in enumerate(words):
            top = (8.0 - 3.6 * (len(words) - 1 - row)) * unit
            draw.text((beside, top), line, font=small, fill=inks[line])
        if stage:
            draw.text((pad, 12.2 * unit), stage, font=small, fill=_TEXT)
        return np.asarray(picture)

    def _clock_picture(self, time_s: float) -> np.ndarray:
        unit = self._unit
        font = font_of(round(5.0 * unit), bold=True)
        text = clock(time_s)
        slot = font.getlength("0")
        width = sum(_advance(font, letter, slot) for letter in text) + 3.4 * unit
        picture, draw = _panel(width, 8.0 * unit, unit)
        x = 1.7 * unit
        for letter in text:
            draw.text((x, 1.1 * unit), letter, font=font, fill=_TEXT)
            x += _advance(font, letter, slot)
        return np.asarray(picture)

    def _call_picture(self, call: Call) -> np.ndarray:
        unit = self._unit
        title_font, font = (
            font_of(round(4.6 * unit), bold=True),
            font_of(round(3.0 * unit), bold=False),
        )
        most = self._width_px - 10 * unit
        lines = _wrapped(call.reason, font, most - 4 * unit) if call.reason else []
        texts = max((font.getlength(line) for line in lines), default=0.0)
        width = min(max(title_font.getlength(call.title) + 6.6 * unit, texts) + 4 * unit, most)
        height = (8.0 + 4.2 * len(lines)) * unit
        picture, draw = _panel(width, height, unit)
        ink = _INK[call.verdict]
        draw.rounded_rectangle((0, 0, 0.9 * unit, height), radius=0.4 * unit, fill=ink)
        _mark(draw, call.verdict, 3.6 * unit, 4.1 * unit, 1.5 * unit)
        draw.text((7.2 * unit, 1.3 * unit), call.title, font=title_font, fill=ink)
        for row, line in enumerate(lines):
            draw.text((2.4 * unit, (7.2 + 4.2 * row) * unit), line, font=font, fill=_TEXT)
        return np.asarray(picture)

    def _progress_patch(self) -> Patch:
        unit = self._unit
        width, height = self._width_px & ~1, _even(4.6 * unit)
        picture = Image.new("RGBA", (width, height), (16, 20, 24, 150))
        draw = ImageDraw.Draw(picture)
        for call in self._captions.calls:
            x = width * call.time_s / max(self._captions.duration_s, 1e-9)
            _mark(draw, call.verdict, x, height / 2, 0.85 * unit)
        return patch_of(np.asarray(picture))

    def _paint_progress(self, planes: Planes, time_s: float) -> None:
        height = self._progress.y.shape[0]
        top = (planes.height_px - height) & ~1
        lay(planes, self._progress, 0, top)
        share = min(max(time_s / max(self._captions.duration_s, 1e-9), 0.0), 1.0)
        half = max(round(0.2 * self._unit), 1)
        x = round(share * (planes.width_px - 1))
        planes.y[top:, max(x - half, 0) : x + half + 1] = 235
        for plane in (planes.u, planes.v):
            plane[top // 2 :, max(x - half, 0) // 2 : (x + half) // 2 + 1] = 128


def _panel(width: float, height: float, unit: float) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    size = (_even(width), _even(height))
    picture = Image.new("RGBA", size, (_PANEL[0], _PANEL[1], _PANEL[2], 0))
    draw = ImageDraw.Draw(picture)
    draw.rounded_rectangle((0, 0, size[0] - 1, size[1] - 1), radius=1.2 * unit, fill=_PANEL)
    return picture, draw


def _mark(draw: ImageDraw.ImageDraw, verdict: str, x: float, y: float, reach: float) -> None:
    """Draw a verdict's mark, told apart by shape: disc, cross, ring, open diamond."""
    ink, width = _INK[verdict], max(round(reach * 0.45), 2)
    if verdict == "good":
        draw.ellipse((x - reach * 0.8, y - reach * 0.8, x + reach * 0.8, y + reach * 0.8), fill=ink)
    elif verdict == "only counted":
        draw.ellipse((x - reach, y - reach, x + reach, y + reach), outline=ink, width=width)
    elif verdict == "no-rep":
        draw.line((x - reach, y - reach, x + reach, y + reach), fill=ink, width=width)
        draw.line((x - reach, y + reach, x + reach, y - reach), fill=ink, width=width)
    else:
        far = reach * 1.25
        corners = [(x, y - far), (x + far, y), (x, y + far), (x - far, y), (x, y - far)]
        draw.line(corners, fill=ink, width=width, joint="curve")


def _wrapped(text: str, font: ImageFont.FreeTypeFont, width_px: float) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font.getlength(longer) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines[:3]


def _advance(font: ImageFont.FreeTypeFont, letter: str, slot: float) -> float:
    return slot if letter.isdigit() else font.getlength(letter)


def _even(length: float) -> int:
    return max((round(length) + 1) & ~1, 2)


@functools.lru_cache(maxsize=32)
def font_of(size_px: int, *, bold: bool) -> ImageFont.FreeTypeFont:
    """Load DejaVu Sans, which comes with MediaPipe's plotting library, or Pillow's own font."""
    plotting = importlib.util.find_spec("matplotlib")
    for folder in (plotting.submodule_search_locations or []) if plotting else []:
        name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
        file = Path(folder) / "mpl-data" / "fonts" / "ttf" / name
        if file.is_file():
            return ImageFont.truetype(str(file), max(size_px, 6))
    default = ImageFont.load_default(max(size_px, 6))
    assert isinstance(default, ImageFont.FreeTypeFont)
    return default
