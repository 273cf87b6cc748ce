"""Films over a limit are refused before a picture is decoded, with a line that says what to do."""

from dataclasses import fields, replace
from pathlib import Path

import av
import numpy as np
import pytest

from tests.vision.film.films import write_film
from vision.film.errors import FilmError
from vision.film.frames import frames
from vision.film.limits import DEFAULT_LIMITS, WORDS, FilmLimits, changed_limits
from vision.film.reading import read_film

SECOND = [n * 3000 for n in range(30)]


@pytest.mark.parametrize(
    ("limit", "shown"),
    [
        ({"file_bytes": 100}, "file_bytes="),
        ({"picture_px": 64 * 48 - 1}, "picture_px=3072"),
        ({"duration_s": 0.9}, "duration_s=0.967"),
        ({"frames": 29}, "frames=30"),
        ({"frame_rate_hz": 29.9}, "frame_rate_hz=30.0"),
        ({"sound_s": 0.02}, "sound_s=0.0"),
    ],
)
def test_each_limit_refuses_what_is_over_it(
    tmp_path: Path, limit: dict[str, float], shown: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_film(tmp_path / "film.mp4", SECOND, width=64, height=48, sound=True)
    read_film(path)
    with monkeypatch.context() as undecodable:
        undecodable.setattr("vision.film.opening.decoded", None)
        with pytest.raises(FilmError) as refused:
            read_film(path, replace(DEFAULT_LIMITS, **limit))
    message = str(refused.value)
    assert message.startswith(f"{path}: {WORDS[next(iter(limit))]} is ")
    assert f"--limit {shown}" in message
    assert "\n" not in message


def test_what_the_message_proposes_lets_the_film_through(tmp_path: Path) -> None:
    path = write_film(tmp_path / "film.mp4", SECOND, width=64, height=48)
    with pytest.raises(FilmError) as refused:
        read_film(path, replace(DEFAULT_LIMITS, frames=10))
    assert "--limit frames=11" in str(refused.value), "counting stops at the first too many"
    assert read_film(path, changed_limits(["frames=30"])).frames == 30


def test_a_picture_larger_than_announced_is_not_decoded(tmp_path: Path) -> None:
    path = tmp_path / "grows.ts"
    small, large = tmp_path / "small.ts", tmp_path / "large.ts"
    for part, width in ((small, 64), (large, 640)):
        with av.open(str(part), "w", format="mpegts") as container:
            stream = container.add_stream("libx264", rate=30)
            stream.width, stream.height, stream.pix_fmt = width, 48, "yuv420p"
            for _ in range(10):
                picture = np.zeros((48, width, 3), dtype=np.uint8)
                container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
            container.mux(stream.encode(None))
    path.write_bytes(small.read_bytes() + large.read_bytes())
    free = read_film(path)
    held = read_film(path, replace(DEFAULT_LIMITS, picture_px=64 * 48))
    assert held.frames < free.frames
    assert all(frame.picture.shape == (48, 64, 3) for frame in frames(held))


def test_defaults_let_through_what_cameras_make() -> None:
    limits = FilmLimits()
    assert limits.picture_px >= 8192 * 4320
    assert limits.frames >= 3 * 3600 * 240
    assert set(WORDS) == {field.name for field in fields(FilmLimits)}


@pytest.mark.parametrize(
    "text", ["frames", "frames=", "frames=-1", "frames=0", "frames=1.5", "x=1"]
)
def test_limits_that_make_no_sense_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="limit"):
        changed_limits([text])


@pytest.mark.parametrize("text", ["duration_s=inf", "duration_s=nan"])
def test_limits_must_be_finite(text: str) -> None:
    with pytest.raises(ValueError, match="not a positive number"):
        changed_limits([text])


def test_the_defaults_are_those_that_are_documented() -> None:
    """64 GiB, a picture of 8192 x 4608, three hours, three million frames, 1000 a second."""
    assert FilmLimits() == FilmLimits(
        file_bytes=68_719_476_736,
        picture_px=37_748_736,
        duration_s=10_800.0,
        frames=3_000_000,
        frame_rate_hz=1000.0,
        sound_s=10_800.0,
    )


def test_the_smallest_limit_is_one() -> None:
    assert changed_limits(["frames=1", "duration_s=0.5"]).frames == 1
    assert changed_limits(["frames=1", "duration_s=0.5"]).duration_s == 0.5
