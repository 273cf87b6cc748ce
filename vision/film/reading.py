"""Facts of a film, counted from what is in it: the header's word is never taken."""

import hashlib
import threading
from pathlib import Path
from typing import Any, Final

import av
import numpy as np

from vision.film.clock import FilmClock, clock_of
from vision.film.errors import FilmError
from vision.film.limits import DEFAULT_LIMITS, FilmLimits
from vision.film.opening import (
    FirstFrame,
    decoded_times,
    first_frame,
    is_cover,
    open_film,
    readable_tail,
)
from vision.film.packets import list_packets
from vision.film.types import Film

_EXACT_PACKETS: Final = frozenset(("h264", "hevc", "vp8", "vp9", "av1", "mpeg4"))
_EXACT_CONTAINERS: Final = frozenset(("mov", "matroska"))
_SHORTFALL_S: Final = 1.0
"""Seconds that a header may promise beyond the last picture: it tells the longest stream."""


def read_film(path: Path | str, limits: FilmLimits = DEFAULT_LIMITS) -> Film:
    """Read the facts of a film.

    The packets are listed, not decoded; only the first and the last stretch are decoded, to see
    that there are pictures, how they are turned, whether they come in the order of their times, and
    where the film breaks off. Where packets and frames need not agree (containers or codecs with
    missing times), every frame is decoded.

    Raises
    ------
    FilmError
        There is no film at the path, no frame of it decodes, or it is over a limit.
    """
    path = Path(path)
    with open_film(path, limits) as (container, stream):
        digest = _Digest(path)
        several = len([s for s in container.streams.video if not is_cover(s)])
        has_sound = any(s.codec_context is not None for s in container.streams.audio)
        codec = stream.codec_context.name
        declared_s = _declared_end_s(container, stream)
        kind = container.format.name.split(",")[0]
        listing = list_packets(path, limits, container, stream)
    warnings = [f"{several} video streams; the main one is used"] if several > 1 else []
    exact = kind in _EXACT_CONTAINERS and codec in _EXACT_PACKETS and listing.in_order
    tail = readable_tail(path, limits, max(listing.time_s)) if exact else np.empty(0)
    # Pictures that come out in another order than that of their times have others' times.
    if exact and (np.diff(tail) > 0).all():
        first, first_s = first_frame(path, limits)
        time_s = np.array(sorted(listing.time_s))
        time_s = time_s[(time_s >= first_s) & ((time_s < tail[0]) | np.isin(time_s, tail))]
        clock = FilmClock(time_s, "stored")
        frame_s = listing.last_duration_s
    else:
        times = decoded_times(path, limits)
        first = times.first
        clock = clock_of(
            times.presented_s,
            times.decoded_s,
            1.0 / times.rate_hz,
            of_decoding=times.of_decoding,
        )
        time_s = clock.time_s
        frame_s = 0.0
        if clock.source == "counted":
            warnings.append(
                f"the film's own frame times are missing or in disorder ({clock.doubt}): its "
                f"pictures are counted at {times.rate_hz:g} a second to say where something is, "
                "and no time, split or score is told; audit the film as the phone wrote it, or a "
                "copy converted to MP4"
            )
    if time_s.size == 0:
        raise FilmError(f"{path}: no frame decodes; convert it to H.264 in MP4 or film again")
    steps = np.diff(time_s)
    usual_s = float(np.median(steps)) if steps.size else (frame_s or listing.tick_s)
    end_s = float(time_s[-1]) + (frame_s or usual_s)
    broken_at_s = None
    # An MP4 lists its frames exactly; other headers tell the length of the longest stream.
    slack_s = 2.5 * usual_s if kind == "mov" and clock.source == "stored" else _SHORTFALL_S
    # A last picture that is held longer than the others is no gap.
    unlisted_s = (declared_s or 0.0) - listing.end_s - max(0.0, frame_s - usual_s)
    missing_s = max(unlisted_s, listing.end_s - float(time_s[-1]))
    if listing.broken or (clock.source != "counted" and missing_s > slack_s):
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
        clock=clock.source,
        limits=limits,
        key=np.isin(time_s, listing.key_s)
        if clock.source == "stored"
        else np.empty(0, dtype=np.bool_),
    )


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
