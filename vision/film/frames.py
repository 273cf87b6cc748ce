"""The pictures of a film, upright, each with its row in the film's list of times."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

import cv2
import numpy as np
import numpy.typing as npt
from av.video.reformatter import VideoReformatter

from vision.film.opening import decoded, open_film
from vision.film.orientation import Orientation
from vision.film.types import Film

Picture = npt.NDArray[np.uint8]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

LONG_SIDE_PX: Final = 640
"""Pictures are looked at in this size: twice as large lowers no error on the labelled clips."""
_SAME_S: Final = 1e-6
"""Seconds within which two times are one: less than a tick of any container."""


class FilmFrame:
    """One picture of a film, converted when it is first asked for.

    Attributes
    ----------
    index
        Row in the film's ``time_s``.
    time_s
        Presentation time.
    scale
        Sides of the picture over those of the film's own upright picture.
    """

    __slots__ = ("_convert", "_picture", "index", "scale", "time_s")

    def __init__(
        self, index: int, time_s: float, scale: float, convert: Callable[[], Picture]
    ) -> None:
        self.index, self.time_s, self.scale = index, time_s, scale
        self._convert: Callable[[], Picture] | None = convert
        self._picture: Picture | None = None

    @property
    def picture(self) -> Picture:
        """(height, width, 3) upright RGB picture; the decoder's own is let go once it is made."""
        if self._picture is None:
            assert self._convert is not None
            self._picture, self._convert = self._convert(), None
        return self._picture

    def forget(self) -> None:
        """Let go of the picture; it cannot be asked for again."""
        self._picture = self._convert = None


@dataclass(frozen=True, slots=True)
class Glance:
    """What to do with every picture on the way, in grey and in a size of its own.

    The pictures are scaled down from the film's luma alone, so they cost little.

    Attributes
    ----------
    long_side_px
        Longer side of the pictures at most.
    take
        Called with each picture's time and the (height, width) upright grey picture.
    """

    long_side_px: int
    take: Callable[[float, Picture], None]


def frames(
    film: Film,
    start_s: float | None = None,
    end_s: float | None = None,
    *,
    every_s: float = 0.0,
    rows: BoolArray | None = None,
    long_side_px: int | None = None,
    threads: int = 0,
    glance: Glance | None = None,
    sparing: bool = False,
) -> Iterator[FilmFrame]:
    """Decode a film's pictures from ``start_s`` up to, not including, ``end_s``.

    A frame holds the decoder's picture until its own is asked for; nothing else is held. A frame
    that does not decode is left out.

    Parameters
    ----------
    film
        The film, as read by `read_film`.
    start_s, end_s
        Stretch of the film, presentation times; the whole film by default.
    every_s
        Least time between two pictures; 0 gives every frame.
    rows
        (film.frames,) which frames to give, beside that; all by default.
    long_side_px
        Scale the picture down, while its colours are converted, so that its longer side is at
        most this.
    threads
        Decoding threads; 0 for one a core.
    glance
        What is done with every picture of the stretch, whether it is given out or not.
    sparing
        Leave out pictures that are not in ``rows``: where others do not rest on them they are not
        even decoded, and none is glanced at.
    """
    scale, width, height = size_within(film, long_side_px)
    with open_film(film.path, film.limits) as (container, stream):
        # Frames decoded side by side are lost with a damaged one among them.
        stream.thread_type = "AUTO" if film.broken_at_s is None else "SLICE"
        stream.codec_context.thread_count = threads
        by_order = film.by_order
        if start_s is not None and not by_order and start_s > film.time_s[0]:
            container.seek(int(start_s / stream.time_base), stream=stream)
        orientation = Orientation.of(film.rotation_deg, film.mirrored)
        picture_of = _converter(orientation, (width, height), "rgb24")
        if glance is not None:
            glance_of = _converter(orientation, size_within(film, glance.long_side_px)[1:], "gray")

        def unwanted(packet: Any) -> bool:
            row = row_of(film, packet)
            return row is not None and rows is not None and not rows[row]

        spared = unwanted if sparing and rows is not None and not by_order else None
        due_s = -np.inf
        for order, frame in enumerate(decoded(container, stream, spared)):
            index = order if by_order else row_of(film, frame)
            if index is None or index >= film.frames:
                continue
            time_s = float(film.time_s[index])
            if start_s is not None and time_s < start_s:
                continue
            if end_s is not None and time_s >= end_s:
                break
            given = rows is None or bool(rows[index])
            if sparing and not given:
                continue
            shown = FilmFrame(index, time_s, scale, partial(picture_of, frame))
            if glance is not None:
                glance.take(time_s, glance_of(frame))
            if time_s < due_s or not given:
                continue
            due_s = time_s + every_s - _SAME_S
            yield shown


def _converter(
    orientation: Orientation, size_px: tuple[int, int], colours: str
) -> Callable[[Any], Picture]:
    """Give what makes upright pictures of a (width, height) and some colours of decoded frames."""
    scaler = VideoReformatter()  # a frame's own would build its tables anew for every picture
    stored = size_px[::-1] if orientation.swaps_sides else size_px

    def picture_of(frame: Any) -> Picture:
        converted: Any = scaler.reformat(
            frame,
            width=stored[0],
            height=stored[1],
            format=colours,
            interpolation="AREA",
            threads=1,  # more cost more than they save on pictures of this size
        )
        return orientation.upright(converted.to_ndarray())

    return picture_of


def grey(picture: Picture) -> Picture:
    """Return an RGB picture in shades of grey, (height, width)."""
    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def thinned(time_s: FloatArray, every_s: float, last_s: float = -np.inf) -> BoolArray:
    """(N,) which of ascending times to keep so that they are at least ``every_s`` apart.

    And from ``last_s``, the last that was kept before them.
    """
    kept = np.zeros(len(time_s), dtype=np.bool_)
    due_s = last_s + every_s - _SAME_S
    for place, when_s in enumerate(time_s.tolist()):
        if when_s >= due_s:
            kept[place] = True
            due_s = when_s + every_s - _SAME_S
    return kept


def size_within(film: Film, long_side_px: int | None) -> tuple[float, int, int]:
    """Scale, width and height of upright pictures whose longer side is at most so long."""
    long_side = max(film.width_px, film.height_px)
    scale = min(1.0, long_side_px / long_side) if long_side_px else 1.0
    return scale, max(1, round(film.width_px * scale)), max(1, round(film.height_px * scale))


def row_of(film: Film, frame: object) -> int | None:
    """Return the row of a decoded frame's time in the film's list; None where it is not listed."""
    pts, time_base = frame.pts, frame.time_base  # type: ignore[attr-defined]
    if pts is None:
        return None
    time_s = float(pts * time_base)
    index = int(np.searchsorted(film.time_s, time_s - _SAME_S))
    if index < film.frames and abs(film.time_s[index] - time_s) < _SAME_S:
        return index
    return None
