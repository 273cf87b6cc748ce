"""What a container lists of a film's pictures before any is decoded."""

import heapq
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np

from vision.film.limits import FilmLimits
from vision.film.opening import DEMUX_ERRORS

MOST_REORDERED: Final = 16
"""Frames that may be stored before one that is shown earlier (H.264 and HEVC, largest buffer)."""


@dataclass(slots=True)
class Listing:
    """Packets of a film's pictures, in the order in which they are stored.

    Attributes
    ----------
    tick_s
        Step of the stream's clock.
    time_s
        Presentation times of the pictures to be shown, as stored.
    key_s
        Those of key frames.
    end_s
        Latest presentation time, of pictures that are not shown, too.
    last_duration_s
        How long the last picture lasts; 0 where the container does not say.
    in_order
        Whether the presentation times can be what they are called: every picture has one of its
        own, none lies further back than a decoder can hold pictures, and they go back at all where
        the codec stores pictures in another order than they are shown.
    broken
        Whether the listing ended with an error.
    heard_s
        Length of the first sound.
    """

    tick_s: float
    time_s: list[float] = field(default_factory=list)
    key_s: list[float] = field(default_factory=list)
    end_s: float = -np.inf
    last_duration_s: float = 0.0
    in_order: bool = True
    broken: bool = False
    heard_s: float = 0.0


def list_packets(path: Path, limits: FilmLimits, container: Any, stream: Any) -> Listing:
    """List the packets of a film's pictures and of its first sound.

    Raises
    ------
    FilmError
        There are more than the limits allow.
    """
    tick = stream.time_base
    # Exact as products of fractions, and a tenth of their cost.
    ticks, per_s = tick.numerator, tick.denominator
    listing = Listing(tick_s=float(tick))
    latest = -np.inf
    reordered = bool(stream.codec_context.has_b_frames)
    goes_back = False
    latest_few = [-np.inf] * ((MOST_REORDERED if reordered else 0) + 1)
    try:
        for packet in container.demux(stream, *container.streams.audio[:1]):
            if packet.size == 0:
                continue
            if packet.stream is not stream:
                listing.heard_s += float((packet.duration or 0) * packet.time_base)
                continue
            if packet.pts is None:
                listing.in_order = False
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
            listing.in_order &= time_s > latest_few[0]
            heapq.heappushpop(latest_few, time_s)
            goes_back |= time_s < latest
            if time_s > latest:
                latest = time_s
                listing.last_duration_s = (packet.duration or 0) * ticks / per_s
    except DEMUX_ERRORS:
        listing.broken = True
    if len(set(listing.time_s)) != len(listing.time_s) or not listing.time_s:
        listing.in_order = False
    # Decoding times copied as presentation times never go back.
    listing.in_order &= goes_back or not reordered
    limits.check(path, "sound_s", listing.heard_s)
    if listing.time_s:
        length_s = max(listing.time_s) - min(listing.time_s)
        limits.check(path, "duration_s", length_s)
        if length_s > 0:
            limits.check(path, "frame_rate_hz", (len(listing.time_s) - 1) / length_s)
    return listing
