"""Fits that are kept are those that would be made, and nothing else is taken for one."""

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.body import kept
from counting.body.motion import BodyMotion, find_body
from vision.track import PoseTrack

Arrays = Mapping[str, npt.NDArray[Any]]


class Shelf:
    """Arrays under keys, and how often something was put there."""

    def __init__(self) -> None:
        self.kept: dict[str, Arrays] = {}
        self.puts = 0

    def take(self, key: str, names: Collection[str]) -> Arrays | None:
        arrays = self.kept.get(key)
        return None if arrays is None else {name: arrays[name] for name in names if name in arrays}

    def put(self, key: str, arrays: Arrays) -> None:
        self.kept[key] = dict(arrays)
        self.puts += 1


@pytest.fixture(scope="module")
def track() -> PoseTrack:
    script = Script(standing())
    script.hold(0.4).move(squat(1.0), 0.8).hold(0.2).move(standing(), 0.8).hold(0.3)
    return play_in_metres(script, Camera(view_deg=30.0), rate_hz=10.0, noise=0.003)


def fitted(track: PoseTrack, shelf: Shelf | None, rows: slice = slice(None)) -> BodyMotion:
    chosen = np.zeros(track.frames, dtype=np.bool_)
    chosen[8:14] = True
    body = find_body(track, np.arange(track.frames)[rows], "standing", shelf)
    return body.fitted(chosen)


def same(one: BodyMotion, other: BodyMotion) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)
        for name in ("joints_m", "joint_misfit", "shared", "hands_up_m", "yaw_u_deg")
    )


def test_a_kept_fit_is_the_one_that_would_be_made(track: PoseTrack) -> None:
    shelf = Shelf()
    plain, first, again = fitted(track, None), fitted(track, shelf), fitted(track, shelf)
    assert shelf.puts == 2
    assert same(plain, first)
    assert same(plain, again)


@pytest.mark.parametrize("name", ["image_px", "world_m", "visibility", "camera_shift_px"])
def test_other_landmarks_are_fitted_anew(track: PoseTrack, name: str) -> None:
    shelf = Shelf()
    fitted(track, shelf)
    moved = getattr(track, name).copy()
    moved[10] += 0.01
    fitted(replace(track, **{name: moved}), shelf)
    assert shelf.puts == 4


def test_other_rows_another_base_and_other_code_are_fitted_anew(
    track: PoseTrack, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf()
    fitted(track, shelf)
    fitted(track, shelf, slice(1, None))
    assert shelf.puts == 4
    find_body(track, np.arange(track.frames), "floor", shelf)
    assert shelf.puts == 5
    monkeypatch.setattr(kept, "_code", lambda: b"another day's")
    fitted(track, shelf)
    assert shelf.puts == 7


def test_where_other_frames_decide_only_these_are_fitted_anew(track: PoseTrack) -> None:
    shelf = Shelf()
    body = find_body(track, np.arange(track.frames), "standing", shelf)
    for row in (10, 20):
        chosen = np.zeros(track.frames, dtype=np.bool_)
        chosen[row] = True
        body.fitted(chosen)
    assert shelf.puts == 3


@pytest.mark.parametrize(
    "damage",
    [
        lambda array: array[..., :0] if array.ndim else array[None],
        lambda array: array.astype(np.float32),
        lambda _array: None,
    ],
)
def test_what_is_damaged_is_no_fit(track: PoseTrack, damage: Any) -> None:
    shelf = Shelf()
    whole = fitted(track, shelf)
    for key, arrays in shelf.kept.items():
        broken = {name: damage(array) for name, array in arrays.items()}
        shelf.kept[key] = {name: array for name, array in broken.items() if array is not None}
    assert same(whole, fitted(track, shelf))
    assert shelf.puts == 4
