"""Films made for a test: a few small frames with exactly known times, colours and orientation."""

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import numpy.typing as npt

TICK = Fraction(1, 90000)


def picture(shade: int = 128, width: int = 64, height: int = 48) -> npt.NDArray[np.uint8]:
    """A grey picture whose top left corner is red and whose top right corner is green."""
    image = np.full((height, width, 3), shade, dtype=np.uint8)
    image[: height // 3, : width // 3] = (220, 20, 20)
    image[: height // 3, -(width // 3) :] = (20, 220, 20)
    return image


def write_film(
    path: Path,
    ticks: list[int],
    *,
    codec: str = "libx264",
    container: str | None = None,
    matrix: tuple[int, int, int, int] | None = None,
    streams: int = 1,
    sound: bool = False,
    tick: Fraction = TICK,
    width: int = 64,
    height: int = 48,
) -> Path:
    """Write one frame at each presentation tick; ``matrix`` holds (a, b, c, d) of its display."""
    options = {"movflags": "+faststart"} if path.suffix in (".mp4", ".mov") else {}
    with av.open(str(path), "w", format=container, options=options) as output:
        videos = []
        for _ in range(streams):
            video = output.add_stream(codec, rate=30, options={"g": "5", "bf": "2"})
            video.width, video.height, video.pix_fmt = width, height, "yuv420p"
            video.time_base = video.codec_context.time_base = tick
            if matrix is not None:
                a, b, c, d = (value * 65536 for value in matrix)
                video.set_display_matrix([a, b, 0, c, d, 0, 0, 0, 1 << 30])
            videos.append(video)
        audio = output.add_stream("aac", rate=48000) if sound else None
        for number, when in enumerate(ticks):
            for video in videos:
                shade = 60 + number % 100
                frame = av.VideoFrame.from_ndarray(picture(shade, width, height), format="rgb24")
                frame.pts, frame.time_base = when, tick
                output.mux(video.encode(frame))
        for video in videos:
            output.mux(video.encode())
        if audio is not None:
            silence = av.AudioFrame.from_ndarray(
                np.zeros((1, 1024), np.float32), format="fltp", layout="mono"
            )
            silence.sample_rate = 48000
            output.mux(audio.encode(silence))
            output.mux(audio.encode())
    return path


def write_with_sound(
    path: Path, film: Path, begins_s: Iterable[float], length_s: float, level: int = 0
) -> Path:
    """The pictures of a film with a sound track of 8 kHz: a piece of that length at each time."""
    with av.open(str(film)) as source, av.open(str(path), "w") as target:
        pictures = target.add_stream_from_template(source.streams.video[0])
        audio = target.add_stream("pcm_s16le", rate=8000, layout="mono")
        for packet in source.demux(video=0):
            if packet.size:
                packet.stream = pictures
                target.mux(packet)
        for begin_s in begins_s:
            samples = np.full((1, round(length_s * 8000)), level, np.int16)
            frame = av.AudioFrame.from_ndarray(samples, format="s16", layout="mono")
            frame.sample_rate, frame.time_base = 8000, Fraction(1, 8000)
            frame.pts = round(begin_s * 8000)
            target.mux(audio.encode(frame))
        target.mux(audio.encode())
    return path
