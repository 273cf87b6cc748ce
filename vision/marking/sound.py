"""The film's own sound beside newly drawn pictures: copied where MP4 can hold it."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Any, Final

import av

from vision.film.opening import DEMUX_ERRORS

COPIED: Final = frozenset(("aac", "mp3", "ac3", "eac3", "opus", "alac"))
"""Codecs that MP4 holds and that are copied packet by packet, bit for bit."""


class SoundCopy:
    """Brings one audio stream into another container, in step with the pictures.

    Parameters
    ----------
    source
        A container of its own, opened for the sound alone.
    stream
        Its audio stream.
    sink
        The container being written; streams may still be added to it.
    start_s, end_s
        The part wanted, presentation times.
    offset
        Subtracted from every time, seconds.
    """

    def __init__(self, source: Any, stream: Any, sink: Any, start_s: float, end_s: float) -> None:
        self._stream = stream
        self._sink = sink
        self._copied = stream.codec_context.name in COPIED
        if self._copied:
            self._out = sink.add_stream_from_template(stream)
        else:
            self._out = sink.add_stream("aac", rate=stream.codec_context.sample_rate)
            self._out.layout = "mono" if stream.codec_context.channels == 1 else "stereo"
            self._resampler = av.AudioResampler(
                format="fltp", layout=self._out.layout.name, rate=self._out.rate
            )
        self._packets = _between(source, stream, start_s, end_s)
        self._next = next(self._packets, None)

    def advance(self, until_s: float, offset: Fraction) -> None:
        """Write the sound up to a film time."""
        while self._next is not None and _time_s(self._next) <= until_s:
            self._write(self._next, offset)
            self._next = next(self._packets, None)

    def finish(self) -> None:
        """Write what an encoder still holds back."""
        if not self._copied:
            self._encode(self._resampler.resample(None))
            for packet in self._out.encode(None):
                self._sink.mux(packet)

    def _write(self, packet: Any, offset: Fraction) -> None:
        shift = round(offset / self._stream.time_base)
        if self._copied:
            packet.pts -= shift
            packet.dts = packet.pts if packet.dts is None else packet.dts - shift
            packet.stream = self._out
            self._sink.mux(packet)
            return
        try:
            frames = packet.decode()
        except av.error.FFmpegError:
            return
        for frame in frames:
            frame.pts = None if frame.pts is None else frame.pts - shift
            self._encode(self._resampler.resample(frame))

    def _encode(self, frames: list[Any]) -> None:
        for frame in frames:
            for packet in self._out.encode(frame):
                self._sink.mux(packet)


def _between(source: Any, stream: Any, start_s: float, end_s: float) -> Iterator[Any]:
    try:
        for packet in source.demux(stream):
            if packet.pts is None or packet.size == 0:
                continue
            time_s = _time_s(packet)
            if time_s >= end_s:
                return
            if time_s + float((packet.duration or 0) * packet.time_base) > start_s:
                yield packet
    except DEMUX_ERRORS:
        return


def _time_s(packet: Any) -> float:
    return float(packet.pts * packet.time_base)
