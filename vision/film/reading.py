"""Facts of a film, counted from what is in it: the header's word is never taken."""

import contextlib
import hashlib
import heapq
import stat
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import av
import numpy as np
import numpy.typing as npt
from av.stream import Disposition

from vision.film.errors import FilmError
from vision.film.limits import DEFAULT_LIMITS, FilmLimits
from vision.film.orientation import Orientation, orientation_of
from vision.film.types import Film

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
_EXACT_PACKETS: Final = frozenset(("h264", "hevc", "vp8", "vp9", "av1", "mpeg4"))
_EXACT_CONTAINERS: Final = frozenset(("mov", "matroska"))
_MOST_REORDERED: Final = 16
"""Frames that may be stored before one that is shown earlier (H.264 and HEVC, largest buffer)."""
_SHORTFALL_S: Final = 1.0
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
        streams = [s for s in container.streams.video if not _is_cover(s)]
        if not streams:
            raise FilmError(f"{path}: has no video stream; export the film with its picture")
        best = container.streams.best("video")
        stream = best if best in streams else streams[0]
        if stream.codec_context is None:
            raise FilmError(f"{path}: its video cannot be decoded here; convert it to H.264 in MP4")
        limits.check(path, "picture_px", stream.codec_context.width * stream.codec_context.height)
        stream.codec_context.options = {"max_pixels": str(limits.picture_px)}
        yield container, stream


def read_film(path: Path | str, limits: FilmLimits = DEFAULT_LIMITS) -> Film:
    """Read the facts of a film.

    The packets are listed, not decoded; only the first and the last stretch are decoded, to see
    that there are pictures, how they are turned, and where the film breaks off. Where packets and
    frames need not agree (containers or codecs with missing times), every frame is decoded.

    Raises
    ------
    FilmError
        There is no film at the path, no frame of it decodes, or it is over a limit.
    """
    path = Path(path)
    with open_film(path, limits) as (container, stream):
        digest = _Digest(path)
        several = len([s for s in container.streams.video if not _is_cover(s)])
        has_sound = any(s.codec_context is not None for s in container.streams.audio)
        codec = stream.codec_context.name
        declared_s = _declared_end_s(container, stream)
        kind = container.format.name.split(",")[0]
        listing = _list_packets(path, limits, container, stream)
    _check_listing(path, limits, listing)
    exact = kind in _EXACT_CONTAINERS and codec in _EXACT_PACKETS and listing.sound
    warnings = [f"{several} video streams; the main one is used"] if several > 1 else []
    if exact:
        first, first_s = _first_frame(path, limits)
        time_s = np.array(sorted(listing.time_s))
        tail = _readable_tail(path, limits, float(time_s[-1]))
        time_s = time_s[(time_s >= first_s) & ((time_s < tail[0]) | np.isin(time_s, tail))]
        frame_s = listing.last_duration_s
        repaired = False
    else:
        first, time_s, repaired = _decode_times(path, limits)
        frame_s = 0.0
        if repaired:
            warnings.append("missing or disordered frame times were replaced by regular ones")
    if time_s.size == 0:
        raise FilmError(f"{path}: no frame decodes; convert it to H.264 in MP4 or film again")
    steps = np.diff(time_s)
    usual_s = float(np.median(steps)) if steps.size else (frame_s or listing.tick_s)
    end_s = float(time_s[-1]) + (frame_s or usual_s)
    broken_at_s = None
    # An MP4 lists its frames exactly; other headers tell the length of the longest stream.
    slack_s = 2.5 * usual_s if kind == "mov" else _SHORTFALL_S
    # A last picture that is held longer than the others is no gap.
    unlisted_s = (declared_s or 0.0) - listing.end_s - max(0.0, frame_s - usual_s)
    missing_s = max(unlisted_s, listing.end_s - float(time_s[-1]))
    if listing.broken or missing_s > slack_s:
        broken_at_s = float(time_s[-1])
        warnings.append(f"the film breaks off at {broken_at_s:.2f} s; it is audited up to there")
    duration_s = end_s - float(time_s[0])
    upright = _upright_size(first)
    return Film(
        path=path,
        sha256=digest.result(),
        duration_s=duration_s,
        time_s=time_s,
        width_px=upright[0],
        height_px=upright[1],
        rotation_deg=first.orientation.rotation_deg,
        mirrored=first.orientation.mirrored,
        frame_rate_mean_hz=time_s.size / duration_s,
        variable_frame_rate=bool(steps.size and np.ptp(steps) > 2.01 * listing.tick_s),
        codec=codec,
        has_sound=has_sound,
        broken_at_s=broken_at_s,
        warnings=tuple(warnings),
        times_repaired=repaired,
        limits=limits,
        key=np.empty(0, dtype=np.bool_) if repaired else np.isin(time_s, listing.key_s),
    )


@dataclass(frozen=True, slots=True)
class FirstFrame:
    """What the first decoded frame tells of the whole film."""

    width_px: int
    height_px: int
    pixel_aspect: float
    orientation: Orientation


@dataclass(slots=True)
class _Listing:
    tick_s: float
    time_s: list[float] = field(default_factory=list)
    key_s: list[float] = field(default_factory=list)
    end_s: float = -np.inf
    last_duration_s: float = 0.0
    sound: bool = True
    broken: bool = False
    heard_s: float = 0.0


def _list_packets(path: Path, limits: FilmLimits, container: Any, stream: Any) -> _Listing:
    tick = stream.time_base
    # Exact as products of fractions, and a tenth of their cost.
    ticks, per_s = tick.numerator, tick.denominator
    listing = _Listing(tick_s=float(tick))
    latest = -np.inf
    held_back = _MOST_REORDERED if stream.codec_context.has_b_frames else 0
    latest_few = [-np.inf] * (held_back + 1)
    try:
        for packet in container.demux(stream, *container.streams.audio[:1]):
            if packet.size == 0:
                continue
            if packet.stream is not stream:
                listing.heard_s += float((packet.duration or 0) * packet.time_base)
                continue
            if packet.pts is None:
                listing.sound = False
                continue
            time_s = packet.pts * ticks / per_s
            listing.end_s = max(listing.end_s, time_s)
            if packet.is_discard:
                continue
            listing.time_s.append(time_s)
            if packet.is_keyframe:
                listing.key_s.append(time_s)
            limits.check(path, "frames", len(listing.time_s))
            # Times that go back further than a decoder can hold pictures are in disorder.
            listing.sound &= time_s > latest_few[0]
            heapq.heappushpop(latest_few, time_s)
            if time_s > latest:
                latest = time_s
                listing.last_duration_s = (packet.duration or 0) * ticks / per_s
    except DEMUX_ERRORS:
        listing.broken = True
    if len(set(listing.time_s)) != len(listing.time_s) or not listing.time_s:
        listing.sound = False
    return listing


def _check_listing(path: Path, limits: FilmLimits, listing: _Listing) -> None:
    limits.check(path, "sound_s", listing.heard_s)
    if listing.time_s:
        length_s = max(listing.time_s) - min(listing.time_s)
        limits.check(path, "duration_s", length_s)
        if length_s > 0:
            limits.check(path, "frame_rate_hz", (len(listing.time_s) - 1) / length_s)


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


def _first_frame(path: Path, limits: FilmLimits) -> tuple[FirstFrame, float]:
    with open_film(path, limits) as (container, stream):
        for frame in decoded(container, stream):
            if frame.pts is not None:
                return _described(frame, stream), float(frame.pts * frame.time_base)
    raise FilmError(f"{path}: no frame decodes; convert it to H.264 in MP4 or film again")


def _described(frame: Any, stream: Any) -> FirstFrame:
    aspect = stream.sample_aspect_ratio
    return FirstFrame(
        width_px=frame.width,
        height_px=frame.height,
        pixel_aspect=float(aspect) if aspect else 1.0,
        orientation=orientation_of(frame),
    )


def _readable_tail(path: Path, limits: FilmLimits, listed_end_s: float) -> FloatArray:
    """Return the times of the film's last frames that decode, looking from the end backward."""
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
                return np.sort(times)
            if start_s <= 0:
                raise FilmError(f"{path}: no frame decodes; convert it to H.264 in MP4")
            back_s *= 4


def _decode_times(path: Path, limits: FilmLimits) -> tuple[FirstFrame, FloatArray, bool]:
    """Decode every frame; times that are missing or do not increase are dead-reckoned."""
    with open_film(path, limits) as (container, stream):
        first = None
        stored: list[float | None] = []
        for frame in decoded(container, stream):
            first = first or _described(frame, stream)
            stored.append(None if frame.pts is None else float(frame.pts * frame.time_base))
            limits.check(path, "frames", len(stored))
        rate = stream.average_rate or stream.guessed_rate
    if first is None:
        raise FilmError(f"{path}: no frame decodes; convert it to H.264 in MP4 or film again")
    return first, *repaired_times(stored, 1.0 / float(rate) if rate else 1.0 / 30.0)


def repaired_times(stored: list[float | None], fallback_step_s: float) -> tuple[FloatArray, bool]:
    """Make frame times increase strictly, and say whether any had to be replaced.

    A time that is missing or not after its predecessor becomes its predecessor's plus the median
    step of the times that are in order.
    """
    known = np.array([t for t in stored if t is not None])
    steps = np.diff(known)
    steps = steps[steps > 0]
    step_s = float(np.median(steps)) if steps.size else fallback_step_s
    times: list[float] = []
    replaced = False
    for time_s in stored:
        if time_s is not None and (not times or time_s > times[-1]):
            times.append(time_s)
        else:
            replaced = True
            times.append(times[-1] + step_s if times else 0.0)
    return np.array(times), replaced


def _upright_size(first: FirstFrame) -> tuple[int, int]:
    width, height = round(first.width_px * first.pixel_aspect), first.height_px
    return (height, width) if first.orientation.swaps_sides else (width, height)


def _declared_end_s(container: Any, stream: Any) -> float | None:
    """Time at which the film ends by its header; None where that does not say."""
    if stream.duration:
        return float((stream.duration + (stream.start_time or 0)) * stream.time_base)
    if container.duration:
        # Matroska counts its length from zero, others from the first time in the film.
        first = 0 if "matroska" in container.format.name else container.start_time or 0
        return float(container.duration + first) / av.time_base
    return None


def _is_cover(stream: Any) -> bool:
    return bool(stream.disposition & Disposition.attached_pic)


class _Digest:
    """The digest of a file, computed beside other work: of a large film it takes seconds.

    A film that is refused meanwhile does not wait for it.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._found: str | None = None
        self._error: OSError | None = None
        self._thread = threading.Thread(target=self._compute, daemon=True)
        self._thread.start()

    def result(self) -> str:
        """SHA-256, lower-case hexadecimal; raises what reading the file raised."""
        self._thread.join()
        if self._found is None:
            raise self._error or OSError(f"{self._path}: its digest was not computed")
        return self._found

    def _compute(self) -> None:
        try:
            with self._path.open("rb") as file:
                self._found = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError as error:
            self._error = error
