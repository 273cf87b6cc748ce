"""Opening a film and decoding its pictures, held to the limits on what a film may ask."""

import contextlib
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import av
import numpy as np
import numpy.typing as npt
from av.stream import Disposition

from vision.film.errors import FilmError
from vision.film.limits import DEFAULT_LIMITS, FilmLimits
from vision.film.orientation import Orientation, orientation_of

FloatArray = npt.NDArray[np.float64]

av.logging.set_level(None)

CONTAINERS: Final = frozenset(
    [
        "mov",
        "mp4",
        "m4a",
        "3gp",
        "3g2",
        "mj2",
        "matroska",
        "webm",
        "avi",
        "mpegts",
        "mpeg",
        "flv",
        "asf",
        "ogg",
        "mxf",
    ]
)
DEMUX_ERRORS: Final = (av.error.FFmpegError, OSError, IndexError)
"""The last is PyAV's for a stream that a damaged file brings up in its middle."""
_OF_DECODING: Final = frozenset(("avi", "asf"))
"""Containers that store no presentation times."""
_RATE_HZ: Final = 30.0
"""Of a film that states none."""


@contextlib.contextmanager
def open_film(path: Path, limits: FilmLimits = DEFAULT_LIMITS) -> Iterator[tuple[Any, Any]]:
    """Open a film's container and its main video stream.

    The decoder is held to the limit on the picture's size, for pictures larger than announced.

    Raises
    ------
    FilmError
        The file is missing, empty, no film, holds no video that can be decoded, or is over a
        limit.
    """
    try:
        if path.is_dir():
            raise FilmError(f"{path}: is a folder, not a film; name the film file inside")
        facts = path.stat()
        if not stat.S_ISREG(facts.st_mode):
            raise FilmError(f"{path}: is a pipe or a device, not a film; save the film as a file")
        size = facts.st_size
        if size == 0:
            raise FilmError(f"{path}: is empty; copy the film again")
        limits.check(path, "file_bytes", size)
        # "file:" keeps odd names from being read as an address, the list keeps a playlist
        # inside the file from opening anything else.
        container = av.open(f"file:{path}", options={"protocol_whitelist": "file"})
    except FilmError:
        raise
    except (av.error.FileNotFoundError, FileNotFoundError) as error:
        raise FilmError(f"{path}: no such file") from error
    except (av.error.PermissionError, PermissionError) as error:
        raise FilmError(f"{path}: may not be read; check its permissions") from error
    except (av.error.FFmpegError, OSError, ValueError, UnicodeError) as error:
        raise FilmError(
            f"{path}: not a readable film (damaged, cut off or another kind of file); "
            "copy it again from the phone"
        ) from error
    with container:
        kinds = container.format.name.split(",")
        if not CONTAINERS.intersection(kinds):
            raise FilmError(
                f"{path}: holds {container.format.long_name or kinds[0]}, not a film; "
                "use an MP4, MOV, WebM, MKV or AVI file"
            )
        streams = [s for s in container.streams.video if not is_cover(s)]
        if not streams:
            raise FilmError(f"{path}: has no video stream; export the film with its picture")
        best = container.streams.best("video")
        stream = best if best in streams else streams[0]
        if stream.codec_context is None:
            raise FilmError(f"{path}: its video cannot be decoded here; convert it to H.264 in MP4")
        limits.check(path, "picture_px", stream.codec_context.width * stream.codec_context.height)
        stream.codec_context.options = {"max_pixels": str(limits.picture_px)}
        yield container, stream


def decoded(
    container: Any, stream: Any, unwanted: Callable[[Any], bool] | None = None
) -> Iterator[Any]:
    """Yield the frames that decode, in order of presentation; damaged ones are left out.

    So are frames of ``unwanted`` packets, unless others rest on them.
    """
    with contextlib.suppress(*DEMUX_ERRORS):
        for packet in container.demux(stream):
            if unwanted is not None:
                stream.codec_context.skip_frame = "NONREF" if unwanted(packet) else "DEFAULT"
            with contextlib.suppress(av.error.FFmpegError):
                yield from packet.decode()
    # A file that breaks off ends without the packet that empties the decoder.
    with contextlib.suppress(av.error.FFmpegError):
        for frame in stream.codec_context.decode(None):
            # What was left in the decoder does not know the clock of its stream.
            frame.time_base = frame.time_base or stream.time_base
            yield frame


@dataclass(frozen=True, slots=True)
class FirstFrame:
    """What the first decoded frame tells of the whole film."""

    width_px: int
    height_px: int
    pixel_aspect: float
    orientation: Orientation


def first_frame(path: Path, limits: FilmLimits) -> tuple[FirstFrame, float]:
    """Decode the first picture, with its presentation time."""
    with open_film(path, limits) as (container, stream):
        for frame in decoded(container, stream):
            if frame.pts is not None:
                return _described(frame, stream), float(frame.pts * frame.time_base)
    raise FilmError(f"{path}: no frame decodes; convert it to H.264 in MP4 or film again")


def readable_tail(path: Path, limits: FilmLimits, listed_end_s: float) -> FloatArray:
    """Return the times of the film's last frames that decode, as these come out."""
    with open_film(path, limits) as (container, stream):
        back_s = 2.0
        while True:
            start_s = listed_end_s - back_s
            with contextlib.suppress(av.error.FFmpegError):
                container.seek(int(start_s / stream.time_base), stream=stream)
            times = [
                float(frame.pts * frame.time_base)
                for frame in decoded(container, stream)
                if frame.pts is not None
            ]
            if times:
                return np.array(times)
            if start_s <= 0:
                raise FilmError(f"{path}: no frame decodes; convert it to H.264 in MP4")
            back_s *= 4


@dataclass(frozen=True, slots=True)
class DecodedTimes:
    """What every picture of a film says of its time.

    Attributes
    ----------
    first
        The first picture.
    presented_s, decoded_s
        When each is to be shown and was to be decoded, in the order they come out; None where a
        picture does not say.
    rate_hz
        Pictures a second by the film's word.
    of_decoding
        Whether the container stores times of decoding only.
    """

    first: FirstFrame
    presented_s: list[float | None]
    decoded_s: list[float | None]
    rate_hz: float
    of_decoding: bool


def decoded_times(path: Path, limits: FilmLimits) -> DecodedTimes:
    """Decode every picture for its times."""
    with open_film(path, limits) as (container, stream):
        first = None
        presented_s: list[float | None] = []
        decoded_s: list[float | None] = []
        for frame in decoded(container, stream):
            first = first or _described(frame, stream)
            presented_s.append(_seconds(frame.pts, frame))
            decoded_s.append(_seconds(frame.dts, frame))
            limits.check(path, "frames", len(presented_s))
        # The average of an AVI with empty pictures between is twice what is shown.
        rate = stream.guessed_rate or stream.average_rate
        of_decoding = container.format.name in _OF_DECODING
    if first is None:
        raise FilmError(f"{path}: no frame decodes; convert it to H.264 in MP4 or film again")
    return DecodedTimes(
        first, presented_s, decoded_s, float(rate) if rate else _RATE_HZ, of_decoding
    )


def _described(frame: Any, stream: Any) -> FirstFrame:
    aspect = stream.sample_aspect_ratio
    return FirstFrame(
        width_px=frame.width,
        height_px=frame.height,
        pixel_aspect=float(aspect) if aspect else 1.0,
        orientation=orientation_of(frame),
    )


def _seconds(ticks: int | None, frame: Any) -> float | None:
    return None if ticks is None else float(ticks * frame.time_base)


def is_cover(stream: Any) -> bool:
    """Whether a stream is a cover picture, which is no video."""
    return bool(stream.disposition & Disposition.attached_pic)
