"""A film's facts come from its packets and frames."""

import json
import shutil
import subprocess
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from tests.vision.film.films import picture, write_film
from vision.film.errors import FilmError
from vision.film.frames import frames
from vision.film.reading import read_film, repaired_times

FFPROBE = ["ffprobe", "-v", "error", "-select_streams", "v:0"]
FFPROBE += ["-show_entries", "frame=pts_time", "-of", "json"]
REGULAR = [3000 * n for n in range(20)]
UNEVEN = [0, 3000, 6100, 8900, 15000, 18000, 30000, 33003, 36000, 41000, 44000]


def test_times_are_the_packets_own(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", UNEVEN))
    assert film.time_s == pytest.approx(np.array(UNEVEN) / 90000, abs=1e-9)
    assert film.variable_frame_rate
    assert film.frames == len(UNEVEN)
    assert not film.times_repaired


@pytest.mark.skipif(shutil.which("ffprobe") is None, reason="ffprobe is not installed")
@pytest.mark.parametrize("suffix", [".mp4", ".mov", ".mkv", ".ts"])
def test_times_agree_with_ffprobe(tmp_path: Path, suffix: str) -> None:
    """FFmpeg's own lister of frames is the outside reference."""
    path = write_film(tmp_path / f"film{suffix}", UNEVEN)
    listed = subprocess.run(
        [*FFPROBE, str(path)],
        capture_output=True,
        check=True,
    )
    expected = [float(frame["pts_time"]) for frame in json.loads(listed.stdout)["frames"]]
    film = read_film(path)
    assert film.time_s == pytest.approx(expected, abs=1e-6)
    assert [frame.time_s for frame in frames(film)] == pytest.approx(expected, abs=1e-6)


def test_a_steady_film_is_not_called_variable(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", REGULAR))
    assert not film.variable_frame_rate
    assert film.frame_rate_mean_hz == pytest.approx(30.0, rel=1e-6)
    assert film.duration_s == pytest.approx(20 / 30, abs=1e-6)


def test_clock_rounding_of_the_container_is_not_a_variable_rate(tmp_path: Path) -> None:
    ticks = [round(n * 1000 / 30) for n in range(20)]
    film = read_film(write_film(tmp_path / "film.mkv", ticks, tick=Fraction(1, 1000)))
    assert not film.variable_frame_rate


def test_sound_is_noticed(tmp_path: Path) -> None:
    assert read_film(write_film(tmp_path / "film.mp4", REGULAR, sound=True)).has_sound
    assert not read_film(write_film(tmp_path / "mute.mp4", REGULAR)).has_sound


def test_the_digest_is_that_of_the_file(tmp_path: Path) -> None:
    import hashlib

    path = write_film(tmp_path / "film.mp4", REGULAR)
    assert read_film(path).sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_of_two_video_streams_one_is_used_and_the_user_told(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mkv", REGULAR, streams=2))
    assert film.frames == len(REGULAR)
    assert "2 video streams" in film.warnings[0]


@pytest.mark.parametrize(
    "name", ["-leading dash.mp4", "new\nline.mp4", "πλάτος 100%.mp4", "http:__x.mp4", "a:b.mp4"]
)
def test_odd_names_are_only_names(tmp_path: Path, name: str) -> None:
    made = write_film(tmp_path / "film.mp4", REGULAR)
    path = made.rename(tmp_path / name)
    assert read_film(path).frames == len(REGULAR)


def test_a_relative_name_with_a_dash_first_is_a_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_film(tmp_path / "film.mp4", REGULAR).rename(tmp_path / "-i")
    monkeypatch.chdir(tmp_path)
    assert read_film("-i").frames == len(REGULAR)


def _text(path: Path) -> None:
    path.write_text("three rounds, then rest\n" * 200)


def _playlist(path: Path) -> None:
    path.write_text("#EXTM3U\n#EXT-X-TARGETDURATION:5\n#EXTINF:5,\nfile:///etc/hostname\n")


def _image(path: Path) -> None:
    frame = av.VideoFrame.from_ndarray(picture(), format="rgb24")
    with av.open(str(path), "w", format="image2", options={"update": "1"}) as output:
        stream = output.add_stream("png", rate=1)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "rgb24"
        output.mux(stream.encode(frame))
        output.mux(stream.encode())


def _sound_only(path: Path) -> None:
    with av.open(str(path), "w") as output:
        stream = output.add_stream("aac", rate=48000)
        silence = np.zeros((1, 1024), np.float32)
        samples = av.AudioFrame.from_ndarray(silence, format="fltp", layout="mono")
        samples.sample_rate = 48000
        output.mux(stream.encode(samples))
        output.mux(stream.encode())


def _head_only(path: Path) -> None:
    whole = write_film(path.with_name("whole.mp4"), REGULAR)
    path.write_bytes(whole.read_bytes()[:300])


@pytest.mark.parametrize(
    "make",
    [Path.touch, Path.mkdir, _text, _playlist, _image, _sound_only, _head_only],
    ids=["empty", "folder", "text", "playlist", "picture", "sound", "head only"],
)
def test_what_is_no_film_is_refused_in_one_line(
    tmp_path: Path, make: Callable[[Path], None]
) -> None:
    path = tmp_path / "attempt.mp4"
    make(path)
    with pytest.raises(FilmError) as refusal:
        read_film(path)
    assert str(path) in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_a_missing_film_is_named(tmp_path: Path) -> None:
    with pytest.raises(FilmError, match="no such file"):
        read_film(tmp_path / "nowhere.mp4")


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7, 0.9])
def test_a_film_that_breaks_off_is_read_up_to_there(tmp_path: Path, share: float) -> None:
    ticks = [3000 * n for n in range(150)]
    whole = write_film(tmp_path / "whole.mp4", ticks)
    content = whole.read_bytes()
    start = content.index(b"mdat")
    cut = tmp_path / "cut.mp4"
    cut.write_bytes(content[: start + int((len(content) - start) * share)])
    film = read_film(cut)
    assert film.broken_at_s is not None
    assert film.time_s[-1] == film.broken_at_s
    assert 0 < film.frames < len(ticks)
    assert f"breaks off at {film.broken_at_s:.2f} s" in film.warnings[0]
    assert len(list(frames(film))) == film.frames


def test_damage_in_the_middle_leaves_out_frames_only(tmp_path: Path) -> None:
    ticks = [3000 * n for n in range(150)]
    path = write_film(tmp_path / "film.mp4", ticks)
    content = bytearray(path.read_bytes())
    start = content.index(b"mdat")
    middle = start + (len(content) - start) // 2
    content[middle : middle + 200] = bytes(200)
    path.write_bytes(content)
    film = read_film(path)
    shown = [frame.index for frame in frames(film)]
    assert film.frames == len(ticks)
    assert shown == sorted(set(shown))
    assert 100 < len(shown) <= len(ticks)


def test_a_raw_stream_without_times_is_counted_and_said(tmp_path: Path) -> None:
    path = write_film(tmp_path / "film.avi", [3000 * n for n in range(20)], tick=Fraction(1, 90000))
    film = read_film(path)
    assert film.frames == len(list(frames(film)))
    assert np.all(np.diff(film.time_s) > 0)


def test_a_film_whose_times_run_backward_keeps_all_its_frames(tmp_path: Path) -> None:
    forward = write_film(tmp_path / "forward.mkv", [3000 * n for n in range(20)])
    with (
        av.open(str(forward)) as source,
        av.open(str(tmp_path / "backward.mkv"), "w") as target,
    ):
        stream = target.add_stream_from_template(source.streams.video[0])
        packets = [packet for packet in source.demux(video=0) if packet.size]
        for number, packet in enumerate(packets):
            packet.stream = stream
            # Matroska keeps no decoding times: these let the others be in any order.
            packet.dts, packet.pts = number - 90_000, 9_000 - packet.pts
            target.mux(packet)
    film = read_film(tmp_path / "backward.mkv")
    assert film.times_repaired
    assert film.frames == len(list(frames(film))) == 20
    assert "missing or disordered frame times were replaced by regular ones" in film.warnings


def test_times_that_stand_still_or_run_back_are_dead_reckoned() -> None:
    times, replaced = repaired_times([0.0, 0.1, 0.2, 0.2, None, 0.05, 0.6], 1 / 30)
    assert replaced
    assert times == pytest.approx([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6])


def test_times_in_order_stay() -> None:
    times, replaced = repaired_times([-0.2, 0.0, 0.1, 0.9], 1 / 30)
    assert not replaced
    assert list(times) == [-0.2, 0.0, 0.1, 0.9]


def test_frames_without_any_time_follow_the_declared_rate() -> None:
    times, replaced = repaired_times([None, None, None], 0.04)
    assert replaced
    assert times == pytest.approx([0.0, 0.04, 0.08])
