"""A body whose place at each moment is known exactly, looked at by a network that never errs."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from vision.athlete.attention import STRAIGHT, THINNEST_S, look_between
from vision.athlete.following import Look
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.pose.network import Pose
from vision.pose.region import Picture, Region

RATE_HZ = 30.0
SIZE_PX = 200.0

BODY = np.zeros((LANDMARK_COUNT, 2))
for _name, _height in (("SHOULDER", 200.0), ("HIP", 120.0), ("KNEE", 60.0), ("ANKLE", 0.0)):
    for _side, _x in (("LEFT", 20.0), ("RIGHT", -20.0)):
        BODY[Landmark[f"{_side}_{_name}"]] = (_x, -_height)
for _name, _height in (("ELBOW", 150.0), ("WRIST", 110.0)):
    for _side, _x in (("LEFT", 25.0), ("RIGHT", -25.0)):
        BODY[Landmark[f"{_side}_{_name}"]] = (_x, -_height)


def pose_at(height_px: float) -> Pose:
    return Pose(
        image_px=BODY + np.array([300.0, 400.0 - height_px]),
        depth_px=np.zeros(LANDMARK_COUNT),
        world_m=np.zeros((LANDMARK_COUNT, 3)),
        visibility=np.ones(LANDMARK_COUNT),
        sharpness=np.ones(LANDMARK_COUNT),
        confidence=1.0,
        region=Region(300.0, 280.0, 400.0),
    )


class Film:
    """Pictures that hold their own number, and a record of where each was looked at."""

    def __init__(self, height_px: Callable[[float], float], seconds: float = 1.6) -> None:
        count = round(seconds * RATE_HZ) + 1
        self.time_s = [index / RATE_HZ for index in range(count)]
        self.poses = [pose_at(height_px(time_s)) for time_s in self.time_s]
        self.pictures: list[Picture] = [
            np.full((1, 1, 3), index, dtype=np.uint8) for index in range(count)
        ]
        self.regions: dict[int, Region] = {}

    def look(self, picture: Picture, region: Region) -> Pose:
        index = int(picture[0, 0, 0])
        self.regions[index] = region
        return self.poses[index]

    def between(self, *, thorough: bool = False, look: Look | None = None) -> list[int] | None:
        found = look_between(
            look or self.look,
            self.pictures,
            self.time_s,
            self.poses[0],
            self.poses[-1],
            SIZE_PX,
            thorough=thorough,
        )
        return None if found is None else sorted(found)


def widest_gap_s(film: Film, rows: list[int]) -> float:
    return float(np.max(np.diff(np.array(film.time_s)[rows])))


@pytest.mark.parametrize("speed_px_s", [0.0, 60.0])
def test_rest_and_even_motion_are_sampled_thinly(speed_px_s: float) -> None:
    film = Film(lambda time_s: speed_px_s * time_s)
    rows = film.between()
    assert rows is not None
    assert widest_gap_s(film, rows) <= THINNEST_S + 1e-6
    assert len(rows) <= 1.6 / (THINNEST_S / 2) + 1


def test_every_frame_around_a_turn_is_looked_at() -> None:
    """The bottom of a squat: 6 m/s² upward, on a body of 1.4 m from ankle to shoulder."""
    turn_s = 0.3
    film = Film(lambda time_s: 0.5 * 860.0 * (time_s - turn_s) ** 2, seconds=0.6)
    rows = film.between()
    assert rows is not None
    around = [i for i, time_s in enumerate(film.time_s) if abs(time_s - turn_s) < 0.1]
    assert set(around) <= set(rows)


def test_between_looks_the_line_holds_within_what_was_promised() -> None:
    film = Film(lambda time_s: 30.0 * np.cos(2 * np.pi * time_s / 1.5))
    rows = film.between()
    assert rows is not None
    height = np.array([pose.image_px[Landmark.LEFT_HIP, 1] for pose in film.poses])
    line = np.interp(film.time_s, np.array(film.time_s)[rows], height[rows])
    # Halving an interval of a smooth motion quarters its distance from the line.
    assert np.abs(line - height).max() <= STRAIGHT * SIZE_PX


def test_thorough_looks_at_every_frame_and_at_each_just_as_the_default_does() -> None:
    film = Film(lambda time_s: 150.0 * abs(time_s - 0.9))
    assert film.between() is not None
    looked_at = dict(film.regions)
    film.regions.clear()
    assert film.between(thorough=True) == list(range(len(film.pictures)))
    assert {index: film.regions[index] for index in looked_at} == looked_at


@pytest.mark.parametrize("what", ["blurred", "not a person", "elsewhere"])
def test_a_look_that_is_unsure_calls_for_more_care(what: str) -> None:
    film = Film(lambda time_s: 150.0 * abs(time_s - 0.9))

    def look(picture: Picture, region: Region) -> Pose:
        pose = film.look(picture, region)
        if int(picture[0, 0, 0]) != 24:
            return pose
        if what == "blurred":
            return replace(pose, sharpness=np.full(LANDMARK_COUNT, 0.1))
        if what == "not a person":
            return replace(pose, confidence=0.2)
        return replace(pose, image_px=pose.image_px + 250.0)

    assert film.between(look=look) is None


def test_an_end_that_leaps_from_the_frame_before_calls_for_more_care() -> None:
    """As where a sighting is of somebody else beside the athlete."""
    film = Film(lambda time_s: 150.0 * abs(time_s - 0.9))
    assert film.between(thorough=True) is not None
    film.poses[-1] = replace(film.poses[-1], image_px=film.poses[-1].image_px + 120.0)
    assert film.between(thorough=True) is None


def test_an_unsure_end_calls_for_more_care() -> None:
    film = Film(lambda _: 0.0)
    film.poses[-1] = replace(film.poses[-1], sharpness=np.full(LANDMARK_COUNT, 0.1))
    assert film.between() is None
    assert film.regions == {}


@pytest.mark.parametrize("end", ["start", "end"])
def test_frames_at_an_end_where_the_body_turns_are_looked_at(end: str) -> None:
    film = Film(lambda _: 0.0, seconds=0.5)
    found = look_between(
        film.look,
        film.pictures,
        film.time_s,
        film.poses[0],
        film.poses[-1],
        SIZE_PX,
        turning=(end == "start", end == "end"),
        thorough=False,
    )
    assert found is not None
    near = [0, 1, 2, 3] if end == "start" else [12, 13, 14, 15]
    assert set(near) <= set(found)
    assert len(found) < len(film.pictures)


def test_neighbouring_frames_need_no_look() -> None:
    assert Film(lambda _: 0.0, seconds=1 / RATE_HZ).between() == [0, 1]
