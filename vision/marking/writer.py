"""Decoding a film, drawing on each picture, and encoding it as H.264 with its own times and sound.

Every picture keeps its presentation time stamp in the film's own time base, so that a film of
variable frame rate stays one.
"""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

import av
import numpy as np

from vision.film.frames import row_of
from vision.film.opening import decoded, open_film
from vision.film.orientation import Orientation
from vision.film.types import Film
from vision.made_by import FILM_COMMENT
from vision.marking.planes import Plane, Planes
from vision.marking.sound import SoundCopy

Paint = Callable[[Planes, float], None]
Progress = Callable[[float], None]

QUALITY: Final = "22"
EFFORT: Final = "veryfast"
KEY_FRAME_EVERY: Final = "30"
_COLOUR_TAGS: Final = ("color_primaries", "color_trc", "colorspace")


@dataclass(frozen=True, slots=True)
class Stretch:
    """Part of a film, presentation times; the film written from it begins at zero."""

    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, eq=False)
class _Shot:
    pts: int
    time_s: float
    planes: Planes
    whole: Plane


def write_marked(
    film: Film,
    target: Path,
    paint: Paint,
    stretch: Stretch | None = None,
    progress: Progress | None = None,
) -> int:
    """Write a film with every picture painted on.

    Parameters
    ----------
    film
        As read by ``read_film``; a frame it does not list is left out.
    target
        File to write, an MP4 that plays while it loads.
    paint
        Draws on an upright picture, given the film time.
    stretch
        The part to write, or None for all.
    progress
        Called with the film time after each picture.

    Returns
    -------
    int
        Number of pictures written; 0 leaves a file without pictures.

    Raises
    ------
    FilmError
        The film cannot be opened.
    """
    start_s = float(film.time_s[0]) if stretch is None else stretch.start_s
    end_s = float("inf") if stretch is None else stretch.end_s
    written = 0
    with ExitStack() as opened:
        source, stream = opened.enter_context(open_film(film.path, film.limits))
        sink = opened.enter_context(
            av.open(str(target), "w", format="mp4", options={"movflags": "+faststart"})
        )
        sink.metadata["comment"] = FILM_COMMENT
        stream.thread_type = "AUTO"
        picture_out = _picture_stream(sink, stream, film)
        sound = _sound(opened, sink, film, start_s if stretch else float("-inf"), end_s)
        offset = Fraction(0)
        for shot in _shots(film, source, stream, start_s, end_s):
            if stretch is not None and not written:
                offset = shot.pts * stream.time_base
            paint(shot.planes, shot.time_s)
            frame = av.VideoFrame.from_ndarray(shot.whole, format="yuv420p")
            frame.pts = shot.pts - round(offset / stream.time_base)
            frame.time_base = stream.time_base
            for packet in picture_out.encode(frame):
                sink.mux(packet)
            if sound is not None:
                sound.advance(shot.time_s, offset)
            written += 1
            if progress is not None:
                progress(shot.time_s)
        for packet in picture_out.encode(None):
            sink.mux(packet)
        if sound is not None:
            sound.advance(end_s, offset)
            sound.finish()
    return written


def grab(film: Film, time_s: float) -> tuple[Planes, float] | None:
    """Decode the upright picture that is on screen at a film time; None where there is none.

    Returns the picture and its own presentation time.
    """
    with open_film(film.path, film.limits) as (source, stream):
        stream.thread_type = "AUTO"
        shown = None
        before_s = float(film.time_s[max(int(np.searchsorted(film.time_s, time_s)) - 1, 0)])
        for shot in _shots(film, source, stream, before_s - 1e-6, float("inf")):
            if shown is not None and abs(shot.time_s - time_s) > abs(shown.time_s - time_s):
                break
            shown = shot
    return None if shown is None else (shown.planes, shown.time_s)


def _shots(film: Film, source: Any, stream: Any, start_s: float, end_s: float) -> Iterator[_Shot]:
    by_order = film.by_order
    if start_s > film.time_s[0] and not by_order:
        source.seek(int(start_s / stream.time_base), stream=stream)
    for order, frame in enumerate(decoded(source, stream)):
        index = order if by_order else row_of(film, frame)
        if index is None or index >= film.frames:
            continue
        time_s = float(film.time_s[index])
        if time_s < start_s:
            continue
        if time_s >= end_s:
            return
        whole, planes = _planes(film, frame)
        pts = round(time_s / stream.time_base) if by_order else int(frame.pts)
        yield _Shot(pts, time_s, planes, whole)


def _planes(film: Film, frame: Any) -> tuple[Plane, Planes]:
    """Bring a decoded frame upright, to even sides, as planes that share one array."""
    orientation = Orientation.of(film.rotation_deg, film.mirrored)
    width, height = film.width_px & ~1, film.height_px & ~1
    stored = (height, width) if orientation.swaps_sides else (width, height)
    if (frame.width, frame.height, frame.format.name) != (*stored, "yuv420p"):
        frame = frame.reformat(width=stored[0], height=stored[1], format="yuv420p")
    whole = frame.to_ndarray()
    planes = _split(whole, *stored)
    if orientation.rotation_deg or orientation.mirrored:
        turned = np.empty((height * 3 // 2, width), np.uint8)
        upright = _split(turned, width, height)
        for plane, source in ((upright.y, planes.y), (upright.u, planes.u), (upright.v, planes.v)):
            plane[...] = orientation.upright(source[:, :, None])[:, :, 0]
        return turned, upright
    return whole, planes


def _split(whole: Plane, width: int, height: int) -> Planes:
    luma, quarter = width * height, width * height // 4
    flat = whole.reshape(-1)
    half = (height // 2, width // 2)
    return Planes(
        y=flat[:luma].reshape(height, width),
        u=flat[luma : luma + quarter].reshape(half),
        v=flat[luma + quarter : luma + 2 * quarter].reshape(half),
    )


def _picture_stream(sink: Any, stream: Any, film: Film) -> Any:
    rate = Fraction(film.frame_rate_mean_hz).limit_denominator(1001)
    out = sink.add_stream("libx264", rate=rate)
    out.width, out.height = film.width_px & ~1, film.height_px & ~1
    out.pix_fmt = "yuv420p"
    out.time_base = stream.time_base
    out.codec_context.time_base = stream.time_base
    out.codec_context.thread_count = 0
    out.options = {"preset": EFFORT, "crf": QUALITY, "g": KEY_FRAME_EVERY}
    for tag in _COLOUR_TAGS:
        setattr(out.codec_context, tag, getattr(stream.codec_context, tag))
    return out


def _sound(
    opened: ExitStack, sink: Any, film: Film, start_s: float, end_s: float
) -> SoundCopy | None:
    if not film.has_sound:
        return None
    source, _ = opened.enter_context(open_film(film.path, film.limits))
    stream = next(s for s in source.streams.audio if s.codec_context is not None)
    if start_s > film.time_s[0]:
        source.seek(int(start_s * av.time_base))
    return SoundCopy(source, stream, sink, start_s, end_s)
