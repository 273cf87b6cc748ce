"""Landmark files from strangers: read whole, or refused with a reason; never run, never a bomb."""

import contextlib
import io
import pickle
import zipfile
from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from synthetic.labelled import landmark_file

from vision.pose.landmarks import LANDMARK_COUNT
from vision.track import PoseTrack, TrackError, load_track


def small_track(frames: int = 4) -> PoseTrack:
    rng = np.random.default_rng(1)
    points = rng.uniform(0, 300, (frames, LANDMARK_COUNT, 2))
    points[1] = np.nan
    return PoseTrack(
        time_s=np.arange(frames) / 30.0,
        image_px=points,
        depth_px=rng.normal(0, 10, (frames, LANDMARK_COUNT)),
        world_m=rng.normal(0, 1, (frames, LANDMARK_COUNT, 3)),
        visibility=rng.uniform(0, 1, (frames, LANDMARK_COUNT)),
        filled=np.zeros(frames, dtype=bool),
        identity=np.zeros(frames, dtype=np.int64),
        camera_shift_px=np.zeros((frames, 2)),
        camera_roll_rad=np.zeros(frames),
        width_px=300,
        height_px=400,
    )


BYTES = landmark_file(small_track())


def written(tmp_path: Path, content: bytes) -> Path:
    path = tmp_path / "landmarks.npz"
    path.write_bytes(content)
    return path


def with_entry(name: str, data: bytes) -> bytes:
    """The good file with one entry replaced."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BYTES)) as old, zipfile.ZipFile(buffer, "w") as new:
        for info in old.infolist():
            if info.filename != name:
                new.writestr(info, old.read(info))
        new.writestr(name, data)
    return buffer.getvalue()


def npy(array: Any) -> bytes:
    buffer = io.BytesIO()
    np.save(buffer, array, allow_pickle=True)
    return buffer.getvalue()


def test_what_was_written_is_read(tmp_path: Path) -> None:
    track, read = small_track(), load_track(written(tmp_path, BYTES))
    for field in fields(PoseTrack):
        np.testing.assert_array_equal(getattr(read, field.name), getattr(track, field.name))
    assert landmark_file(read) == BYTES


class Trap:
    def __reduce__(self) -> tuple[Callable[..., Any], tuple[str]]:
        return (pytest.fail, ("a pickled object was run",))


@pytest.mark.parametrize(
    ("entry", "data", "reason"),
    [
        ("time_s.npy", npy(np.array([Trap()], dtype=object)), "not numbers"),
        ("time_s.npy", pickle.dumps(Trap()), "no readable header"),
        ("time_s.npy", b"", "no readable header"),
        ("time_s.npy", npy(np.arange(4) / 30.0)[:-3], "not of the size"),
        ("time_s.npy", npy(np.arange(4) / 30.0) + b"more", "not of the size"),
        ("time_s.npy", npy(np.array(["a", "b", "c", "d"])), "expected float64"),
        ("time_s.npy", npy(np.float64(1.0)), "has shape"),
        ("time_s.npy", npy(np.array([0.0, 0.1, 0.1, 0.2])), "increase strictly"),
        ("time_s.npy", npy(np.array([0.0, 0.1, 0.2, np.inf])), "not a number"),
        ("image_px.npy", npy(np.zeros((4, 3, 2))), "expected"),
        ("image_px.npy", npy(np.asfortranarray(np.zeros((4, 33, 2)))), "by columns"),
        ("width_px.npy", npy(np.array([1, 2])), "has shape"),
        ("width_px.npy", npy(np.int64(-4)), "not positive"),
        ("width_px.npy", npy(np.int64(0)), "0 x 400 is not positive"),
        ("height_px.npy", npy(np.int64(0)), "300 x 0 is not positive"),
        ("format.npy", npy(np.array("another/9")), "another/9"),
        (
            "time_s.npy",
            b"\x93NUMPY\x01\x00v\x00"
            + b"{'descr': '<f8', 'fortran_order': False, 'shape': (1000000000000,), }".ljust(117)
            + b"\n",
            "unpacks to",
        ),
    ],
)
def test_a_file_that_holds_something_else_is_refused(
    tmp_path: Path, entry: str, data: bytes, reason: str
) -> None:
    with pytest.raises(TrackError, match=reason) as refused:
        load_track(written(tmp_path, with_entry(entry, data)))
    assert str(tmp_path) in str(refused.value)


@pytest.mark.slow
def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    header = npy(np.zeros(0))[:10]
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("format.npy", header + b" " * 200_000_000)
    assert len(bomb.getvalue()) < 1_000_000
    with pytest.raises(TrackError):
        load_track(written(tmp_path, bomb.getvalue()))


def test_a_missing_file_or_array_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TrackError, match="No such file"):
        load_track(tmp_path / "nowhere.npz")
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BYTES)) as old, zipfile.ZipFile(buffer, "w") as new:
        for info in old.infolist():
            if info.filename != "world_m.npy":
                new.writestr(info, old.read(info))
    with pytest.raises(TrackError, match="world_m is missing"):
        load_track(written(tmp_path, buffer.getvalue()))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.data())
def test_damaged_files_are_read_or_refused(tmp_path: Path, data: st.DataObject) -> None:
    content = bytearray(BYTES)
    for _ in range(data.draw(st.integers(1, 8))):
        place = data.draw(st.integers(0, len(content) - 1))
        content[place] ^= 1 << data.draw(st.integers(0, 7))
    content = (
        content[: data.draw(st.integers(0, len(content)))] if data.draw(st.booleans()) else content
    )
    with contextlib.suppress(TrackError):
        assert load_track(written(tmp_path, bytes(content))).frames < 1000


def test_a_picture_of_one_pixel_is_one() -> None:
    assert PoseTrack.unobserved(np.arange(3) / 30.0, 1, 1).width_px == 1


def test_nobody_is_seen_in_a_film_that_nobody_was_looked_for_in() -> None:
    track = PoseTrack.unobserved(np.arange(3) / 30.0, 300, 400)
    assert (track.frames, track.seen.tolist()) == (3, [False] * 3)
    assert track.identity.tolist() == [-1] * 3


def test_what_was_bridged_is_not_seen() -> None:
    track = small_track()
    bridged = replace(track, filled=np.array([True, False, False, False]))
    assert track.seen.tolist() == [True, False, True, True]
    assert bridged.seen.tolist() == [False, False, True, True]


def test_files_without_covariances_and_looks_are_read(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BYTES)) as old, zipfile.ZipFile(buffer, "w") as new:
        for info in old.infolist():
            if info.filename not in ("covariance_px2.npy", "looked.npy"):
                new.writestr(info, old.read(info))
    track = load_track(written(tmp_path, buffer.getvalue()))
    assert np.isnan(track.covariance_px2).all()
    assert track.looked.all()
