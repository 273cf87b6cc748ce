"""Opening a film and decoding its pictures, held to the limits on what a film may ask."""

import contextlib
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import av
from av.stream import Disposition

from vision.film.errors import FilmError
from vision.film.limits import DEFAULT_LIMITS, FilmLimits

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


def is_cover(stream: Any) -> bool:
    """Whether a stream is a cover picture, which is no video."""
    return bool(stream.disposition & Disposition.attached_pic)
