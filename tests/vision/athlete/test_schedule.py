"""Which pictures are read: those that the others do not tell."""

from collections.abc import Callable

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import joints, readings
from vision.athlete.reading import Body
from vision.athlete.schedule import ON_LINE, read_where_needed
from vision.pose.landmarks import LANDMARK_COUNT
from vision.pose.movenet import JOINTS

STATURE_PX = 200.0
TIMES = [n / 30 for n in range(61)]
MARKS = list(range(0, 61, 6))


def body(image_px: np.ndarray, error_px: float = 2.0) -> Body:
    landmarks = np.zeros((LANDMARK_COUNT, 2))
    landmarks[list(JOINTS)] = image_px
    return Body(
        image_px=landmarks,
        covariance_px2=np.broadcast_to(error_px**2 * np.eye(2), (LANDMARK_COUNT, 2, 2)).copy(),
        read=readings(landmarks, image_px),
    )


def places_read(squat: Callable[[float], float], *, every: bool = False) -> set[int]:
    read: list[int] = []

    def look(place: int, _: tuple[Body, Body] | None) -> Body:
        read.append(place)
        return body(joints(squat=squat(TIMES[place])))

    known = read_where_needed(look, MARKS, TIMES, STATURE_PX, every=every)
    assert sorted(read) == sorted(known), "no picture is read twice"
    return set(known)


@pytest.mark.parametrize("squat", [lambda _: 0.3, lambda t: 0.4 * t])
def test_of_rest_and_even_motion_the_picture_midway_is_read(
    squat: Callable[[float], float],
) -> None:
    assert places_read(squat) == {*MARKS, *range(3, 61, 6)}


def test_joints_that_wander_as_far_as_their_readings_may_be_off_call_for_no_more() -> None:
    rng = np.random.default_rng(7)

    def looked(error_px: float, stated_px: float) -> int:
        def look(_place: int, _: tuple[Body, Body] | None) -> Body:
            off = rng.normal(0.0, error_px, (17, 2))
            return body(joints() + off, error_px=stated_px)

        return len(read_where_needed(look, MARKS, TIMES, STATURE_PX))

    at_least = len(MARKS) + len(MARKS) - 1
    assert looked(3.0, 6.0) == at_least
    assert looked(9.0, 1.0) == len(TIMES)


@pytest.mark.parametrize("turns_s", [0.7, 1.0, 1.6])
def test_lines_between_the_pictures_read_follow_the_body_through_its_turns(turns_s: float) -> None:
    def squat(time_s: float) -> float:
        return 1.0 - abs(float(np.sin(np.pi * time_s / turns_s)))

    places = sorted(places_read(squat))
    depths = [squat(TIMES[place]) for place in places]
    on_lines = np.interp(TIMES, [TIMES[place] for place in places], depths)
    off = 0.25 * np.abs(on_lines - [squat(time_s) for time_s in TIMES])
    assert off.max() < 2 * ON_LINE
    assert len(places) < 50


def test_a_bounce_between_two_marks_that_look_alike_is_seen() -> None:
    assert 33 in places_read(lambda time_s: 0.3 * max(0.0, 1.0 - 4.0 * abs(time_s - 1.1)))


@pytest.mark.parametrize("squat", [lambda _: 0.0, lambda t: 0.5 * t])
def test_every_picture_is_read_when_asked(squat: Callable[[float], float]) -> None:
    assert places_read(squat, every=True) == set(range(61))


def test_around_a_picture_without_the_athlete_all_are_tried() -> None:
    def look(place: int, _: tuple[Body, Body] | None) -> Body | None:
        return None if 14 <= place <= 30 else body(joints())

    known = read_where_needed(look, MARKS, TIMES, STATURE_PX)
    assert known.keys() >= set(range(13, 32))
