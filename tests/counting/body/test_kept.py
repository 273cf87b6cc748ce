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

from counting.body.motion import BodyMotion, find_body
from vision.track import PoseTrack

Arrays = Mapping[str, npt.NDArray[Any]]


class Fits:
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


def fitted(track: PoseTrack, fits: Fits | None, rows: slice = slice(None)) -> BodyMotion:
    chosen = np.zeros(track.frames, dtype=np.bool_)
    chosen[8:14] = True
    body = find_body(track, np.arange(track.frames)[rows], "standing", fits)
    return body.fitted(chosen)


def same(one: BodyMotion, other: BodyMotion) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True)
        for name in ("joints_m", "joint_misfit", "shared", "hands_up_m", "yaw_u_deg")
    )


def test_a_kept_fit_is_the_one_that_would_be_made(track: PoseTrack) -> None:
    fits = Fits()
    plain, first, again = fitted(track, None), fitted(track, fits), fitted(track, fits)
    assert fits.puts == 2
    assert same(plain, first)
    assert same(plain, again)


@pytest.mark.parametrize("name", ["image_px", "world_m", "visibility", "camera_shift_px"])
def test_other_landmarks_are_fitted_anew(track: PoseTrack, name: str) -> None:
    fits = Fits()
    fitted(track, fits)
    moved = getattr(track, name).copy()
    moved[10] += 0.01
    fitted(replace(track, **{name: moved}), fits)
    assert fits.puts == 4


def test_other_rows_and_another_base_are_fitted_anew(track: PoseTrack) -> None:
    fits = Fits()
    fitted(track, fits)
    fitted(track, fits, slice(1, None))
    assert fits.puts == 4
    find_body(track, np.arange(track.frames), "floor", fits)
    assert fits.puts == 5


def test_where_other_frames_decide_only_these_are_fitted_anew(track: PoseTrack) -> None:
    fits = Fits()
    body = find_body(track, np.arange(track.frames), "standing", fits)
    for row in (10, 20):
        chosen = np.zeros(track.frames, dtype=np.bool_)
        chosen[row] = True
        body.fitted(chosen)
    assert fits.puts == 3


@pytest.mark.parametrize(
    "damage",
    [
        lambda array: array[..., :0] if array.ndim else array[None],
        lambda array: array.astype(np.float32),
        lambda _array: None,
    ],
)
def test_what_is_damaged_is_no_fit(track: PoseTrack, damage: Any) -> None:
    fits = Fits()
    whole = fitted(track, fits)
    for key, arrays in fits.kept.items():
        broken = {name: damage(array) for name, array in arrays.items()}
        fits.kept[key] = {name: array for name, array in broken.items() if array is not None}
    assert same(whole, fitted(track, fits))
    assert fits.puts == 4
