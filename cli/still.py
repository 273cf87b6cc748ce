"""A still of the deciding frame, cut to the athlete, with the measured line and its limit."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from cli.audit.opening import Audit, audit_track
from cli.errors import BAD_INPUT, UserError
from cli.framing import Part, part_around
from cli.measured_lines import MeasuredLine, measured_lines
from cli.wording import limit, measured
from counting.record.seal import stamp
from counting.record.types import CheckPart, CheckVerdict, RepPart
from vision.files import WriteError, write_whole
from vision.film.frames import frames
from vision.film.types import Film
from vision.made_by import marked_png
from vision.marking.captions import font_of
from vision.track import PoseTrack

Bgr = tuple[int, int, int]
Picture = npt.NDArray[np.uint8]

LIMIT_BGR: Final[Bgr] = (240, 244, 245)
CALLED_BGR: Final[dict[CheckVerdict, Bgr]] = {
    "met": (184, 203, 116),
    "not met": (141, 147, 255),
    "too close": (104, 190, 232),
    "not judged": (215, 205, 190),
}
"""Colour of what was measured (blue, green, red), by the check's call; the limit is neutral."""
_SHADE: Final = (20, 24, 28)
_WIDTH_PX: Final = 720
_LETTER_PX: Final = 24
_LINE_PX: Final = 34
_EDGE_PX: Final = 14
"""In the still's pixels, by eye: letters that are read on a phone."""


def write_still(audit: Audit, film: Film, rep: RepPart, check: CheckPart, target: Path) -> None:
    """Draw measured line and limit on the deciding frame and write it whole.

    Raises
    ------
    UserError
        There is no such picture, or no landmarks, or it cannot be written.
    """
    assert check.at_s is not None
    track = audit_track(audit)
    shown = next(iter(frames(film, start_s=check.at_s - 1e-3)), None)
    if shown is None:
        raise UserError(f"{film.path}: no picture at {check.at_s:.2f} s", BAD_INPUT)
    picture = cv2.cvtColor(shown.picture, cv2.COLOR_RGB2BGR).astype(np.uint8)
    encoded, data = cv2.imencode(".png", still_picture(picture, track, rep, check, audit.doubt))
    if not encoded:
        raise UserError(f"{target}: the still could not be encoded", BAD_INPUT)
    try:
        write_whole(target, marked_png(data.tobytes()))
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error


def still_picture(
    picture: Picture, track: PoseTrack, rep: RepPart, check: CheckPart, doubt: str | None = None
) -> Picture:
    """Cut a BGR picture of the film's own size to the athlete, with lines and a caption above.

    ``doubt`` is what the seal tells against the record, None where nothing does.
    """
    at_s = rep.turn_s if check.at_s is None else check.at_s
    lines = measured_lines(track, rep, check)
    cut = cut_out(picture, part_around(track, at_s, at_s), _WIDTH_PX, lines, check.verdict)
    return np.vstack([_caption(still_caption(rep, check, doubt)), cut])


def cut_out(
    picture: Picture,
    part: Part,
    width_px: int,
    lines: Sequence[MeasuredLine],
    verdict: CheckVerdict,
) -> Picture:
    """Cut a part out of a BGR picture at a given width and draw lines of the whole one on it."""
    cut = np.ascontiguousarray(picture[part.top : part.bottom, part.left : part.right])
    scale = width_px / cut.shape[1]
    smoothly = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    size = (width_px, max(round(cut.shape[0] * scale), 1))
    made: Picture = cv2.resize(cut, size, interpolation=smoothly).astype(np.uint8)
    thick = max(2, round(width_px / 200))
    for line in lines:
        ends = [
            (round((x - part.left) * scale), round((y - part.top) * scale))
            for x, y in ((line.x1, line.y1), (line.x2, line.y2))
        ]
        colour = LIMIT_BGR if line.kind == "limit" else CALLED_BGR[verdict]
        cv2.line(made, ends[0], ends[1], _SHADE, thick + 3, cv2.LINE_AA)
        cv2.line(made, ends[0], ends[1], colour, thick, cv2.LINE_AA)
    return made


def still_caption(
    rep: RepPart, check: CheckPart, doubt: str | None = None
) -> list[tuple[str, Bgr]]:
    """Say above a still what was measured and what the standard is, each in its line's colour."""
    lines = [
        (f"rep {rep.number}: {rep.verdict}", LIMIT_BGR),
        (f"{check.name}: measured {measured(check)}", CALLED_BGR[check.verdict]),
        (f"standard: {limit(check)}", LIMIT_BGR),
    ]
    return lines if doubt is None else [(stamp(doubt), LIMIT_BGR), *lines]


def caption_height(lines: Sequence[tuple[str, Bgr]]) -> int:
    """Give the height of a caption, pixels."""
    return _LINE_PX * len(lines) + _EDGE_PX


def _caption(lines: Sequence[tuple[str, Bgr]]) -> Picture:
    band = Image.new("RGB", (_WIDTH_PX, caption_height(lines)), _SHADE[::-1])
    draw = ImageDraw.Draw(band)
    for row, (text, colour) in enumerate(lines):
        font = font_of(_LETTER_PX, bold=row == 0)
        draw.text((_EDGE_PX, _EDGE_PX // 2 + _LINE_PX * row), text, font=font, fill=colour[::-1])
    return np.asarray(band, np.uint8)[:, :, ::-1]
