"""A film's facts come from its packets and frames."""

import json
import shutil
import subprocess
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import av
import numpy as np
import pytest

from tests.vision.film import facts
from tests.vision.film.films import picture, write_film, write_with_sound
from vision.film.errors import FilmError
from vision.film.frames import frames
from vision.film.limits import FilmLimits
from vision.film.opening import open_film
from vision.film.reading import read_film

FFPROBE = ["ffprobe", "-v", "error", "-select_streams", "v:0"]
FFPROBE += ["-show_entries", "frame=pts_time,key_frame", "-of", "json"]
REGULAR = [3000 * n for n in range(20)]
UNEVEN = [0, 3000, 6100, 8900, 15000, 18000, 30000, 33003, 36000, 41000, 44000]


def test_times_are_the_packets_own(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.mp4", UNEVEN))
    assert film.time_s == pytest.approx(np.array(UNEVEN) / 90000, abs=1e-9)
    assert film.variable_frame_rate
    assert film.frames == len(UNEVEN)
    assert film.clock == "stored"


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
    listed_frames = json.loads(listed.stdout)["frames"]
    expected = [float(frame["pts_time"]) for frame in listed_frames]
    film = read_film(path)
    assert film.time_s == pytest.approx(expected, abs=1e-6)
    assert film.key.tolist() == [frame["key_frame"] == 1 for frame in listed_frames]
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


def _one_byte(path: Path) -> None:
    path.write_bytes(b"\0")


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (Path.touch, "is empty"),
        (_one_byte, "not a readable film"),
        (Path.mkdir, "is a folder"),
        (_text, "not a readable film"),
        (_playlist, "not a readable film"),
        (_image, "holds piped png sequence, not a film"),
        (_sound_only, "has no video stream"),
        (_head_only, "has no video stream"),
    ],
    ids=["empty", "one byte", "folder", "text", "playlist", "picture", "sound", "head only"],
)
def test_what_is_no_film_is_refused_in_one_line(
    tmp_path: Path, make: Callable[[Path], None], words: str
) -> None:
    path = tmp_path / "attempt.mp4"
    make(path)
    with pytest.raises(FilmError) as refusal:
        read_film(path)
    assert str(refusal.value).startswith(f"{path}: ")
    assert words in str(refusal.value)
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
    assert not film.times_known
    assert film.key.size == 0
    assert film.frames == len(list(frames(film))) == 20
    assert "no time, split or score is told" in film.warnings[0]


def test_a_film_lasts_from_its_first_picture_to_the_end_of_its_last(tmp_path: Path) -> None:
    late = read_film(write_film(tmp_path / "late.mp4", [45_000 + tick for tick in REGULAR]))
    assert late.time_s[0] == pytest.approx(0.5)
    assert late.duration_s == pytest.approx(20 / 30, abs=1e-6)
    assert late.broken_at_s is None
    single = read_film(write_film(tmp_path / "single.mp4", [0]))
    assert (single.frames, single.variable_frame_rate) == (1, False)
    assert single.duration_s > 0


@pytest.mark.parametrize("suffix", [".mp4", ".mkv", ".ts"])
def test_a_whole_film_that_starts_late_does_not_break_off(tmp_path: Path, suffix: str) -> None:
    ticks = [5 * 90_000 + tick for tick in REGULAR]
    late = read_film(write_film(tmp_path / f"film{suffix}", ticks))
    assert late.time_s[0] == pytest.approx(5.0, abs=1e-3)
    assert late.broken_at_s is None
    assert late.warnings == ()


def test_the_last_picture_lasts_as_long_as_the_container_says(tmp_path: Path) -> None:
    plain = write_film(tmp_path / "plain.mp4", REGULAR)
    with av.open(str(plain)) as source, av.open(str(tmp_path / "held.mp4"), "w") as target:
        stream = target.add_stream_from_template(source.streams.video[0])
        packets = [packet for packet in source.demux(video=0) if packet.size]
        last = max(packets, key=lambda packet: packet.pts)
        for packet in packets:
            packet.stream = stream
            if packet is last:
                packet.duration = 9 * packet.duration
            target.mux(packet)
    held = read_film(tmp_path / "held.mp4")
    assert held.duration_s == pytest.approx(19 / 30 + 9 / 30, abs=1e-6)
    assert held.frames == 20
    assert held.broken_at_s is None
    assert held.warnings == ()


@pytest.mark.parametrize(("uneven_ms", "variable"), [(35, False), (36, True), (30, True)])
def test_steps_may_differ_by_two_ticks_of_the_container_s_clock(
    tmp_path: Path, uneven_ms: int, variable: bool
) -> None:
    ticks = [0, 33, 66, 99, 99 + uneven_ms, 132 + uneven_ms]
    film = read_film(write_film(tmp_path / "film.mkv", ticks, tick=Fraction(1, 1000)))
    assert film.variable_frame_rate == variable


EXACT = FilmLimits(
    picture_px=64 * 48, frames=20, duration_s=19 / 30 + 1e-6, frame_rate_hz=30.0 + 1e-6
)
"""What twenty pictures of 64 by 48, thirty a second, just meet."""


def test_a_film_may_have_as_much_as_its_limits_say(tmp_path: Path) -> None:
    path = write_film(tmp_path / "film.mp4", [3000 * n + 3000 for n in range(20)])
    assert read_film(path, EXACT).frames == 20


@pytest.mark.parametrize(
    ("less", "words"),
    [
        ({"picture_px": 64 * 48 - 1}, "3,072"),
        ({"frames": 19}, "is 20, the most allowed is 19"),
        ({"duration_s": 0.6}, "0.633"),
        ({"frame_rate_hz": 29.9}, "is 30.0, the most allowed is 29.9"),
    ],
)
def test_a_film_over_a_limit_is_refused_by_both_numbers(
    tmp_path: Path, less: dict[str, float], words: str
) -> None:
    path = write_film(tmp_path / "film.mp4", [3000 * n + 90_000 for n in range(20)])
    with pytest.raises(FilmError) as refused:
        read_film(path, replace(EXACT, **less))
    assert words in str(refused.value)


def test_the_length_of_the_sound_is_counted_from_its_packets(tmp_path: Path) -> None:
    path = write_film(tmp_path / "film.mp4", REGULAR, sound=True)
    read_film(path, FilmLimits(sound_s=0.1))
    with pytest.raises(FilmError, match="--limit sound_s="):
        read_film(path, FilmLimits(sound_s=0.01))


def _with_cover(path: Path, film: Path | None) -> Path:
    """A cover of 320 by 240 beside the pictures of a film, or beside sound alone."""
    with av.open(str(path), "w", format="mp4") as output:
        cover = output.add_stream("mjpeg", rate=1)
        cover.width, cover.height, cover.pix_fmt = 320, 240, "yuvj420p"
        cover.disposition = av.stream.Disposition.attached_pic
        image = av.VideoFrame.from_ndarray(picture(128, 320, 240), format="rgb24")
        image.pts = 0
        covers = [*cover.encode(image), *cover.encode()]
        if film is None:
            audio = output.add_stream("aac", rate=48000)
            silence = np.zeros((1, 1024), np.float32)
            samples = av.AudioFrame.from_ndarray(silence, format="fltp", layout="mono")
            samples.sample_rate = 48000
            for packet in [*covers, *audio.encode(samples), *audio.encode()]:
                output.mux(packet)
            return path
        with av.open(str(film)) as source:
            video = output.add_stream_from_template(source.streams.video[0])
            for packet in covers:
                output.mux(packet)
            for packet in source.demux(video=0):
                if packet.size:
                    packet.stream = video
                    output.mux(packet)
    return path


def test_a_cover_picture_is_no_film_and_no_second_video(tmp_path: Path) -> None:
    plain = write_film(tmp_path / "plain.mp4", REGULAR)
    film = read_film(_with_cover(tmp_path / "film.mp4", plain))
    assert (film.width_px, film.height_px, film.frames) == (64, 48, 20)
    assert film.warnings == ()
    with pytest.raises(FilmError, match="has no video stream"):
        read_film(_with_cover(tmp_path / "music.mp4", None))


def test_broad_pixels_and_turned_pictures_have_their_upright_size(tmp_path: Path) -> None:
    with av.open(str(tmp_path / "broad.mp4"), "w") as output:
        stream = output.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        stream.codec_context.sample_aspect_ratio = Fraction(2, 1)
        for number in range(5):
            frame = av.VideoFrame.from_ndarray(picture(60 + number), format="rgb24")
            frame.pts, frame.time_base = number, Fraction(1, 30)
            output.mux(stream.encode(frame))
        output.mux(stream.encode())
    broad = read_film(tmp_path / "broad.mp4")
    assert (broad.width_px, broad.height_px) == (128, 48)
    turned = read_film(write_film(tmp_path / "turned.mp4", REGULAR, matrix=(0, 1, -1, 0)))
    assert (turned.width_px, turned.height_px) == (48, 64)


def test_a_film_whose_end_is_damaged_for_long_breaks_off_before(tmp_path: Path) -> None:
    """Longer than the stretch that is tried at first: the search goes on further back."""
    path = write_film(tmp_path / "film.mp4", [3000 * n for n in range(300)])
    content = bytearray(path.read_bytes())
    start = content.index(b"mdat") + 4
    good = start + int((len(content) - start) * 0.3)
    content[good:] = bytes(len(content) - good)
    path.write_bytes(content)
    film = read_film(path)
    assert film.broken_at_s is not None
    assert 1.5 < film.broken_at_s < 5.0
    assert film.duration_s == pytest.approx(film.broken_at_s + 1 / 30, abs=1e-6)


@pytest.mark.parametrize(("longer_s", "broken"), [(0.8, False), (1.3, True)])
def test_sound_may_outlast_the_pictures_by_a_second(
    tmp_path: Path, longer_s: float, broken: bool
) -> None:
    """The header of a Matroska file tells the length of its longest stream."""
    video = write_film(tmp_path / "video.mkv", [3000 * n for n in range(30)])
    begins_s = np.arange(0.0, 0.95 + longer_s, 0.1)
    film = read_film(write_with_sound(tmp_path / "film.mkv", video, begins_s, 0.1))
    assert film.has_sound
    assert (film.broken_at_s is not None) == broken


def test_two_times_that_changed_places_are_put_in_order(
    tmp_path: Path,
) -> None:
    forward = write_film(tmp_path / "forward.mkv", REGULAR, codec="libvpx")
    with av.open(str(forward)) as source, av.open(str(tmp_path / "back.mkv"), "w") as target:
        stream = target.add_stream_from_template(source.streams.video[0])
        packets = [packet for packet in source.demux(video=0) if packet.size]
        times = [packet.pts for packet in packets]
        times[7], times[8] = times[8], times[7]
        for number, (packet, time) in enumerate(zip(packets, times, strict=True)):
            packet.stream = stream
            packet.dts, packet.pts = number - 90_000, time
            target.mux(packet)
    film = read_film(tmp_path / "back.mkv")
    assert film.clock == "sorted"
    assert film.time_s == pytest.approx(np.arange(20) / 30, abs=1e-3)


def _moved(path: Path, film: Path, times: list[int]) -> Path:
    """The packets of a film in their order, each with another time in ticks of its stream."""
    with av.open(str(film)) as source, av.open(str(path), "w") as target:
        stream = target.add_stream_from_template(source.streams.video[0])
        packets = [packet for packet in source.demux(video=0) if packet.size]
        for number, (packet, time) in enumerate(zip(packets, times, strict=True)):
            packet.stream = stream
            packet.dts, packet.pts = number - 90_000, time
            target.mux(packet)
    return path


@pytest.mark.parametrize(("before", "known"), [(16, True), (17, False)])
def test_sixteen_later_pictures_may_be_stored_before_one(
    tmp_path: Path, before: int, known: bool
) -> None:
    """As many as a decoder of H.264 or HEVC can hold back; more is a clock in disorder."""
    ticks = [3000 * n for n in range(before + 2)]
    forward = write_film(tmp_path / "forward.mkv", ticks)
    order = [0, *range(2, before + 2), 1]
    film = read_film(_moved(tmp_path / "film.mkv", forward, [40 * place for place in order]))
    assert film.times_known == known
    assert film.frames == before + 2
    if known:
        assert film.time_s == pytest.approx([0.04 * n for n in range(before + 2)])


def test_the_second_of_two_pictures_of_one_time_comes_between(
    tmp_path: Path,
) -> None:
    forward = write_film(tmp_path / "forward.mkv", REGULAR)
    with av.open(str(forward)) as source:
        times = [packet.pts for packet in source.demux(video=0) if packet.size]
    times[times.index(267)] = 233
    film = read_film(_moved(tmp_path / "twice.mkv", forward, times))
    assert film.clock == "sorted"
    assert film.time_s == pytest.approx(np.arange(20) / 30, abs=0.02)


def test_the_last_picture_lasts_a_usual_step_where_the_container_tells_no_length(
    tmp_path: Path,
) -> None:
    film = read_film(write_film(tmp_path / "film.ts", REGULAR))
    assert film.duration_s == pytest.approx(20 / 30, abs=1e-6)


def test_a_single_picture_of_no_stated_length_lasts_a_tick_of_the_clock(tmp_path: Path) -> None:
    film = read_film(write_film(tmp_path / "film.ts", [0]))
    assert film.frames == 1
    assert film.duration_s == pytest.approx(1 / 90_000)


def test_times_are_exact_where_the_clock_ticks_in_no_whole_part_of_a_second(
    tmp_path: Path,
) -> None:
    tick = Fraction(1001, 30_000)
    path = write_film(tmp_path / "film.avi", list(range(20)), codec="ffv1", tick=tick)
    film = read_film(path, FilmLimits(duration_s=float(19 * tick) + 1e-9, frame_rate_hz=30.0))
    assert film.time_s == pytest.approx([float(n * tick) for n in range(20)], abs=1e-12)
    assert film.duration_s == pytest.approx(float(20 * tick), abs=1e-12)
    assert film.clock == "stored"


def _packets(path: Path) -> list[tuple[int, int]]:
    """Where each packet of a film's pictures lies in its file, and how long it is."""
    with av.open(str(path)) as source:
        return [(packet.pos, packet.size) for packet in source.demux(video=0) if packet.size]


def _vp9(path: Path, frames: int) -> Path:
    """A film that stores its pictures in the order in which they are shown."""
    return write_film(path, [3000 * n for n in range(frames)], codec="libvpx-vp9")


def _damaged(path: Path, numbers: Iterable[int]) -> Path:
    """Overwrite pictures of a film with zeros, which do not decode."""
    content = bytearray(path.read_bytes())
    places = _packets(path)
    for number in numbers:
        start, size = places[number]
        content[start : start + size] = bytes(size)
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(("lost", "broken_at_s"), [(1, None), (2, 17 / 30)])
def test_an_mp4_breaks_off_where_it_lacks_two_pictures_of_those_it_announced(
    tmp_path: Path, lost: int, broken_at_s: float | None
) -> None:
    path = _vp9(tmp_path / "film.mp4", 20)
    path.write_bytes(path.read_bytes()[: _packets(path)[-lost][0]])
    film = read_film(path)
    assert film.frames == 20 - lost
    assert film.broken_at_s == pytest.approx(broken_at_s)


@pytest.mark.parametrize(("lost", "broken_at_s"), [(2, None), (3, 16 / 30)])
def test_an_mp4_breaks_off_where_its_last_three_pictures_do_not_decode(
    tmp_path: Path, lost: int, broken_at_s: float | None
) -> None:
    film = read_film(_damaged(_vp9(tmp_path / "film.mp4", 20), range(20 - lost, 20)))
    assert film.frames == 20 - lost
    assert film.duration_s == pytest.approx(film.frames / 30)
    assert film.broken_at_s == pytest.approx(broken_at_s)


@pytest.mark.parametrize(("number", "frames_read"), [(120, 149), (75, 150)])
def test_pictures_are_tried_in_the_last_two_seconds_and_listed_before(
    tmp_path: Path, number: int, frames_read: int
) -> None:
    """A picture that does not decode is left out of the end; earlier it keeps its place."""
    film = read_film(_damaged(_vp9(tmp_path / "film.mp4", 150), [number]))
    assert film.frames == frames_read
    assert film.broken_at_s is None


def test_the_search_for_the_end_goes_back_to_the_start(tmp_path: Path) -> None:
    film = read_film(_damaged(_vp9(tmp_path / "film.mp4", 90), range(20, 90)))
    assert film.time_s == pytest.approx(np.arange(20) / 30, abs=1e-6)
    assert film.broken_at_s == pytest.approx(19 / 30)


def test_each_further_look_for_the_end_goes_four_times_as_far_back(tmp_path: Path) -> None:
    """Nothing decodes in the last two seconds: eight are tried, and what lies before is listed."""
    film = read_film(_damaged(_vp9(tmp_path / "film.mp4", 360), [73, *range(280, 360)]))
    assert film.frames == 280
    assert film.broken_at_s == pytest.approx(279 / 30)


def test_a_picture_of_one_byte_keeps_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stream = facts.video()
    packets = [facts.shown(stream, n, size=1 if n == 2 else 9) for n in range(5)]
    film = read_film(facts.stating(monkeypatch, tmp_path / "film", packets))
    assert film.time_s == pytest.approx([0.0, 0.04, 0.08, 0.12, 0.16])


def test_sound_a_whole_second_longer_than_the_pictures_is_no_break(tmp_path: Path) -> None:
    video_path = write_film(tmp_path / "video.mkv", [3000 * n for n in range(31)])
    begins_s = np.arange(20) / 10
    film = read_film(write_with_sound(tmp_path / "film.mkv", video_path, begins_s, 0.1))
    assert film.time_s[-1] == 1.0
    assert film.broken_at_s is None


def test_a_film_whose_header_tells_no_length_does_not_break_off(tmp_path: Path) -> None:
    path = tmp_path / "film.mkv"
    with av.open(str(path), "w", options={"live": "1"}) as output:
        stream = output.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for number in range(5):
            output.mux(stream.encode(av.VideoFrame.from_ndarray(picture(60 + number))))
        output.mux(stream.encode())
    with av.open(str(path)) as film:
        assert film.duration is None
    assert read_film(path).broken_at_s is None


STATED_LENGTH = [
    ("mov,mp4", {}, {}, None),
    ("mov,mp4", {"duration": 11}, {}, None),
    ("mov,mp4", {"duration": 12}, {}, 9 / 25),
    ("mov,mp4", {"duration": 8, "start_time": 3}, {}, None),
    ("mov,mp4", {"duration": 8, "start_time": 4}, {}, 9 / 25),
    ("flv", {}, {"duration": 1_360_000}, None),
    ("flv", {}, {"duration": 1_360_001}, 9 / 25),
    ("flv", {}, {"duration": 1_000_000, "start_time": 360_000}, None),
    ("flv", {}, {"duration": 1_000_000, "start_time": 360_001}, 9 / 25),
    ("matroska,webm", {}, {"duration": 1_360_000, "start_time": 9_000_000}, None),
    ("matroska,webm", {}, {"duration": 1_360_001, "start_time": 0}, 9 / 25),
    ("matroska,webm", {}, {}, None),
]
"""What is stated of ten pictures, 25 a second: the stream in ticks, the container in microseconds.

An MP4 may lack one more picture; the others may end a second after the last picture's time.
"""


@pytest.mark.parametrize(("kind", "of_stream", "of_container", "broken_at_s"), STATED_LENGTH)
def test_a_film_breaks_off_that_is_shorter_than_its_header_says(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    kind: str,
    of_stream: dict[str, int],
    of_container: dict[str, int],
    broken_at_s: float | None,
) -> None:
    stream = facts.video(**of_stream)
    packets = [facts.shown(stream, tick) for tick in range(10)]
    path = facts.stating(monkeypatch, tmp_path / "film", packets, kind=kind, **of_container)
    film = read_film(path)
    assert film.frames == 10
    assert film.broken_at_s == pytest.approx(broken_at_s)


@pytest.mark.parametrize(("length", "broken_at_s"), [(15, None), (16, 9 / 25)])
def test_a_picture_that_is_held_at_the_end_is_no_gap(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, length: int, broken_at_s: float | None
) -> None:
    """Its five steps and one lacking picture make the ten pictures a film of fifteen."""
    stream = facts.video(duration=length)
    packets = [facts.shown(stream, tick, duration=5 if tick == 9 else 1) for tick in range(10)]
    film = read_film(facts.stating(monkeypatch, tmp_path / "film", packets, kind="mov,mp4"))
    assert film.duration_s == pytest.approx(14 / 25)
    assert film.broken_at_s == pytest.approx(broken_at_s)


@pytest.mark.parametrize("fault", [OSError(5, "Input/output error"), IndexError("stream")])
def test_a_film_that_cannot_be_read_on_breaks_off_whatever_its_header_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    stream = facts.video(duration=10)
    packets = [facts.shown(stream, tick) for tick in range(10)]
    film = read_film(facts.stating(monkeypatch, tmp_path / "film", packets, fault=fault))
    assert film.frames == 10
    assert film.broken_at_s == pytest.approx(9 / 25)


def test_pictures_that_the_decoder_still_holds_at_a_break_run_by_the_stream_s_clock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = av.VideoFrame(64, 48, "yuv420p")
    held.pts = 3
    assert held.time_base is None
    stream = facts.video()
    stream.codec_context.decode = lambda _: [held]
    packets = [facts.shown(stream, tick) for tick in range(4)]
    packets[3].decode = list
    fault = IndexError("stream")
    film = read_film(facts.stating(monkeypatch, tmp_path / "film", packets, fault=fault))
    assert film.time_s == pytest.approx([0.0, 0.04, 0.08, 0.12])


@pytest.mark.parametrize(
    ("at", "length", "lasts"),
    [([0], 3, 3), ([0], None, 1), ([0, 2, 4], 3, 7), ([0, 2, 4], None, 6)],
)
def test_the_last_picture_lasts_as_stated_or_a_usual_step_or_a_tick(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: list[int], length: int | None, lasts: int
) -> None:
    stream = facts.video(time_base=Fraction(1001, 30_000))
    packets = [facts.shown(stream, tick, duration=length) for tick in at]
    film = read_film(facts.stating(monkeypatch, tmp_path / "film", packets))
    assert film.duration_s == pytest.approx(lasts * 1001 / 30_000)


@pytest.mark.parametrize(
    ("rates", "step_s"),
    [
        ({"average_rate": Fraction(50), "guessed_rate": Fraction(25)}, 1 / 25),
        ({"average_rate": Fraction(50)}, 1 / 50),
        ({}, 1 / 30),
    ],
    ids=["guessed", "average", "none"],
)
def test_the_pictures_of_a_film_without_times_are_counted_at_its_stated_rate(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rates: dict[str, Fraction], step_s: float
) -> None:
    stream = facts.video(**rates)
    packets = [facts.shown(stream, None) for _ in range(4)]
    film = read_film(facts.stating(monkeypatch, tmp_path / "film", packets))
    assert not film.times_known
    assert film.time_s == pytest.approx([0.0, step_s, 2 * step_s, 3 * step_s])
    assert film.duration_s == pytest.approx(4 * step_s)


def test_one_packet_without_a_time_is_enough_to_look_at_every_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Decoders may know the time of a picture whose packet has none."""
    stream = facts.video()
    packets = [facts.shown(stream, None if n == 2 else n, frame_tick=n) for n in range(5)]
    film = read_film(facts.stating(monkeypatch, tmp_path / "film", packets))
    assert film.time_s == pytest.approx([0.0, 0.04, 0.08, 0.12, 0.16])
    assert film.clock == "stored"


def test_pictures_that_the_container_leaves_out_are_not_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stream = facts.video()
    packets = [facts.shown(stream, n, is_discard=n >= 4) for n in range(6)]
    for packet in packets[4:]:
        packet.decode = list
    film = read_film(facts.stating(monkeypatch, tmp_path / "film", packets))
    assert film.time_s == pytest.approx([0.0, 0.04, 0.08, 0.12])


def test_only_the_first_sound_is_measured_and_only_where_it_tells_its_length(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stream, first, second = facts.video(), facts.sound(), facts.sound()
    lengths = [(first, 4000), (first, None), (first, 4000), (second, 8000)]
    packets = [facts.shown(stream, n) for n in range(5)]
    packets += [facts.heard(track, length) for track, length in lengths]
    path = facts.stating(monkeypatch, tmp_path / "film", packets, sounds=(first, second))
    assert read_film(path, FilmLimits(sound_s=1.0)).has_sound
    with pytest.raises(FilmError, match=r"--limit sound_s=1\.0"):
        read_film(path, FilmLimits(sound_s=0.9999))


def test_sound_that_cannot_be_decoded_is_no_sound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stream, mute = facts.video(), SimpleNamespace(codec_context=None)
    packets = [facts.shown(stream, n) for n in range(5)]
    path = tmp_path / "film"
    assert not read_film(facts.stating(monkeypatch, path, packets, sounds=(mute,))).has_sound
    both = facts.stating(monkeypatch, path, packets, sounds=(mute, facts.sound()))
    assert read_film(both).has_sound


def test_the_video_that_the_container_calls_best_is_used_unless_it_is_a_cover(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cover, first, second = facts.video(cover=True), facts.video(), facts.video()
    packets = [facts.shown(first, n) for n in range(5)]
    for best, used in [(second, second), (first, first), (cover, first)]:
        videos = [cover, first, second]
        path = facts.stating(monkeypatch, tmp_path / "film", packets, videos=videos, best=best)
        with open_film(path) as (_, stream):
            assert stream is used
