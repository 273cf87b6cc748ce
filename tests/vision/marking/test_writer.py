"""Marked films against what FFmpeg itself says of them.

Times and sound are read back by ``ffprobe`` where it is installed, which knows nothing of us.
"""

import json
import shutil
import subprocess
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from av.sidedata.sidedata import Type

from vision.film.reading import read_film
from vision.marking.planes import Planes
from vision.marking.writer import Stretch, grab, write_marked

WIDTH, HEIGHT = 192, 108
UNEVEN_MS = [0, 33, 67, 100, 180, 190, 233, 300, 301, 340, 400, 433, 467, 500, 533, 567]
TONE_HZ = 440.0
ONE = 1 << 16
DISPLAY_MATRIX = {90: (0, -1, 1, 0), 180: (-1, 0, 0, -1), 270: (0, 1, -1, 0)}
"""Anticlockwise turns as (a, b, c, d) of ISO/IEC 14496-12, 8.3.2.3."""


def make_film(
    path: Path,
    times_ms: list[int],
    *,
    sound: str | None = "aac",
    rotation_deg: int | None = None,
) -> None:
    """Write a film whose brightness tells the frame, with a tone for sound."""
    with av.open(str(path), "w") as sink:
        out: Any = sink.add_stream("libx264", rate=30)
        out.width, out.height, out.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        out.codec_context.time_base = out.time_base = Fraction(1, 1000)
        out.options = {"crf": "12", "preset": "ultrafast"}
        if rotation_deg is not None:
            a, b, c, d = DISPLAY_MATRIX[rotation_deg]
            out.set_display_matrix([a * ONE, b * ONE, 0, c * ONE, d * ONE, 0, 0, 0, 1 << 30])
        voice: Any = sink.add_stream(sound, rate=48000, layout="mono") if sound else None
        for index, time_ms in enumerate(times_ms):
            picture = np.full((HEIGHT * 3 // 2, WIDTH), 128, np.uint8)
            picture[:HEIGHT] = 30 + 10 * (index % 20)
            picture[: HEIGHT // 4, : WIDTH // 4] = 220
            frame = av.VideoFrame.from_ndarray(picture, format="yuv420p")
            frame.pts, frame.time_base = time_ms, Fraction(1, 1000)
            sink.mux(out.encode(frame))
        sink.mux(out.encode(None))
        if voice is not None:
            sink.mux(_tone(voice, times_ms[-1] / 1000.0))
            sink.mux(voice.encode(None))


def _tone(voice: Any, length_s: float) -> list[Any]:
    packets = []
    for start in range(0, int(48000 * length_s), 1024):
        samples = np.sin(2 * np.pi * TONE_HZ * (start + np.arange(1024)) / 48000)
        if voice.codec_context.format.name == "fltp":
            data, kind = samples[None].astype(np.float32), "fltp"
        else:
            data, kind = (samples[None] * 20000).astype(np.int16), "s16"
        frame = av.AudioFrame.from_ndarray(data, format=kind, layout="mono")
        frame.sample_rate, frame.pts, frame.time_base = 48000, start, Fraction(1, 48000)
        packets += voice.encode(frame)
    return packets


def nothing(_planes: Planes, _time_s: float) -> None:
    """Draw nothing."""


def probe(path: Path, *arguments: str) -> Any:
    if shutil.which("ffprobe") is None:
        pytest.skip("ffprobe is not installed")
    command = ["ffprobe", "-v", "error", "-of", "json", *arguments, str(path)]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def shown_at(path: Path) -> list[float]:
    packets = probe(path, "-select_streams", "v", "-show_entries", "packet=pts_time")["packets"]
    return sorted(float(packet["pts_time"]) for packet in packets)


def sound_of(path: Path) -> list[tuple[str, str]]:
    packets = probe(
        path,
        "-select_streams",
        "a",
        "-show_data_hash",
        "MD5",
        "-show_entries",
        "packet=pts_time,data_hash",
    )["packets"]
    return [(packet["pts_time"], packet["data_hash"]) for packet in packets]


def test_uneven_frame_times_are_kept_to_the_millisecond(tmp_path: Path) -> None:
    make_film(tmp_path / "in.mp4", UNEVEN_MS)
    written = write_marked(read_film(tmp_path / "in.mp4"), tmp_path / "out.mp4", nothing)
    assert written == len(UNEVEN_MS)
    assert shown_at(tmp_path / "out.mp4") == pytest.approx([t / 1000 for t in UNEVEN_MS])


def test_the_sound_is_copied_bit_for_bit_at_its_times(tmp_path: Path) -> None:
    make_film(tmp_path / "in.mp4", UNEVEN_MS)
    write_marked(read_film(tmp_path / "in.mp4"), tmp_path / "out.mp4", nothing)
    assert sound_of(tmp_path / "out.mp4") == sound_of(tmp_path / "in.mp4")


def test_sound_that_mp4_cannot_hold_is_encoded_and_keeps_its_tone(tmp_path: Path) -> None:
    make_film(tmp_path / "in.mkv", list(range(0, 2000, 40)), sound="pcm_s16le")
    write_marked(read_film(tmp_path / "in.mkv"), tmp_path / "out.mp4", nothing)
    with av.open(str(tmp_path / "out.mp4")) as film:
        assert film.streams.audio[0].codec_context.name == "aac"
        samples = np.concatenate([f.to_ndarray()[0] for f in film.decode(audio=0)])
    spectrum = np.abs(np.fft.rfft(samples[4800:43200]))
    assert np.argmax(spectrum) * 48000 / 38400 == pytest.approx(TONE_HZ, abs=2)


def test_browsers_can_play_it_while_it_loads(tmp_path: Path) -> None:
    make_film(tmp_path / "in.mp4", UNEVEN_MS)
    write_marked(read_film(tmp_path / "in.mp4"), tmp_path / "out.mp4", nothing)
    content = (tmp_path / "out.mp4").read_bytes()
    assert content.index(b"moov") < content.index(b"mdat")
    stream = probe(tmp_path / "out.mp4", "-select_streams", "v", "-show_streams")["streams"][0]
    assert (stream["codec_name"], stream["pix_fmt"]) == ("h264", "yuv420p")


@pytest.mark.parametrize("rotation_deg", [90, 180, 270])
def test_a_turned_film_is_written_upright(tmp_path: Path, rotation_deg: int) -> None:
    make_film(tmp_path / "in.mp4", UNEVEN_MS, rotation_deg=rotation_deg)
    film = read_film(tmp_path / "in.mp4")
    corners: list[np.ndarray] = []
    write_marked(film, tmp_path / "out.mp4", lambda planes, _: corners.append(planes.y.copy()))
    bright = {90: (-5, 5), 180: (-5, -5), 270: (5, -5)}[rotation_deg]
    assert corners[0][bright] > 180
    with av.open(str(tmp_path / "out.mp4")) as written:
        frame = next(written.decode(video=0))
        assert (frame.width, frame.height) == (film.width_px, film.height_px)
        assert frame.to_ndarray(format="gray")[bright] > 180
        assert Type.DISPLAYMATRIX not in frame.side_data


def test_a_clip_holds_its_stretch_from_zero_with_its_own_sound(tmp_path: Path) -> None:
    times_ms = list(range(0, 4000, 40))
    make_film(tmp_path / "in.mp4", times_ms)
    film = read_film(tmp_path / "in.mp4")
    written = write_marked(film, tmp_path / "out.mp4", nothing, Stretch(1.0, 2.0))
    assert written == 25
    assert shown_at(tmp_path / "out.mp4") == pytest.approx([0.04 * n for n in range(25)])
    source = dict(zip([h for _, h in sound_of(tmp_path / "in.mp4")], range(10_000), strict=False))
    kept = [source[digest] for _, digest in sound_of(tmp_path / "out.mp4")]
    assert kept == list(range(kept[0], kept[0] + len(kept)))
    assert len(kept) * 1024 / 48000 == pytest.approx(1.0, abs=0.05)


def test_what_is_painted_is_in_the_film(tmp_path: Path) -> None:
    make_film(tmp_path / "in.mp4", UNEVEN_MS)

    def brighten(planes: Planes, time_s: float) -> None:
        if time_s >= 0.3:
            planes.y[40:80, 80:160] = 235

    write_marked(read_film(tmp_path / "in.mp4"), tmp_path / "out.mp4", brighten)
    with av.open(str(tmp_path / "out.mp4")) as film:
        levels = [f.to_ndarray(format="gray")[60, 120] > 200 for f in film.decode(video=0)]
    assert levels == [time_ms >= 300 for time_ms in UNEVEN_MS]


def test_the_picture_on_screen_at_a_time_is_grabbed(tmp_path: Path) -> None:
    make_film(tmp_path / "in.mp4", UNEVEN_MS)
    film = read_film(tmp_path / "in.mp4")
    for index in (0, 4, 9, len(UNEVEN_MS) - 1):
        grabbed = grab(film, UNEVEN_MS[index] / 1000.0)
        assert grabbed is not None
        planes, time_s = grabbed
        assert time_s == pytest.approx(UNEVEN_MS[index] / 1000.0)
        assert int(planes.y[90, 150]) == pytest.approx(30 + 10 * index, abs=4)
