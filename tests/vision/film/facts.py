"""Films that hold nothing but stated facts: what the container, its streams and packets say."""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import av
import pytest
from av.stream import Disposition

PICTURE_S = Fraction(1, 25)
SOUND_TICK = Fraction(1, 8000)


class Container(SimpleNamespace):
    """Stands in for an opened file; every time it is opened it starts from its first packet."""

    def __enter__(self) -> "Container":
        return self

    def __exit__(self, *_: object) -> None: ...

    def seek(self, *_: object, **__: object) -> None:
        """Stay at the start, as a file without an index does."""

    def demux(self, *streams: Any) -> Iterator[Any]:
        """Give the packets of some streams, and the fault they end with if there is one."""
        for packet in self.packets:
            if any(packet.stream is stream for stream in streams):
                yield packet
        if self.fault is not None:
            raise self.fault


def video(*, cover: bool = False, **stated: Any) -> Any:
    """A stream of pictures whose clock ticks once a picture, 25 a second."""
    facts: dict[str, Any] = {
        "disposition": Disposition.attached_pic if cover else Disposition(0),
        "codec_context": SimpleNamespace(
            name="h264", width=64, height=48, has_b_frames=0, decode=lambda _: []
        ),
        "time_base": PICTURE_S,
        "duration": None,
        "start_time": None,
        "average_rate": None,
        "guessed_rate": None,
        "sample_aspect_ratio": None,
    }
    return SimpleNamespace(**{**facts, **stated})


def sound() -> Any:
    """A stream of sound."""
    return SimpleNamespace(codec_context=SimpleNamespace(name="pcm_s16le"))


def shown(stream: Any, tick: int | None, *, frame_tick: int | None = None, **stated: Any) -> Any:
    """A packet of one picture; its frame has the packet's time unless another is stated."""
    frame = av.VideoFrame(64, 48, "yuv420p")
    frame.pts = tick if frame_tick is None else frame_tick
    frame.time_base = stream.time_base
    facts = {"size": 9, "duration": 1, "time_base": stream.time_base, "is_discard": False}
    facts |= {"is_keyframe": True, "stream": stream, "pts": tick, "decode": lambda: [frame]}
    return SimpleNamespace(**{**facts, **stated})


def heard(stream: Any, duration: int | None) -> Any:
    """A packet of sound, as long as it states in ticks of ``SOUND_TICK``."""
    return SimpleNamespace(stream=stream, size=9, duration=duration, time_base=SOUND_TICK)


def stating(
    monkeypatch: pytest.MonkeyPatch,
    path: Path,
    packets: list[Any],
    *,
    kind: str = "matroska,webm",
    videos: list[Any] | None = None,
    best: Any = None,
    sounds: tuple[Any, ...] = (),
    duration: int | None = None,
    start_time: int | None = None,
    fault: Exception | None = None,
) -> Path:
    """Let the file at a path be opened as a film of these facts."""
    videos = videos or [packets[0].stream]
    streams = SimpleNamespace(video=videos, audio=sounds, best=lambda _: best or videos[0])
    container = Container(
        format=SimpleNamespace(name=kind, long_name="A film"),
        streams=streams,
        packets=packets,
        duration=duration,
        start_time=start_time,
        fault=fault,
    )
    path.write_bytes(b"a film")
    monkeypatch.setattr("vision.film.opening.av.open", lambda *_, **__: container)
    return path
