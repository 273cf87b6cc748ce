"""Whoever moves in the second film as the athlete of the first does is that athlete."""

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import BLUE, RED, WIDTH_PX, detection, joints, samples
from tests.vision.synchrony.test_clock import as_sound, heard, room
from vision.athlete.detection import Sample
from vision.pose.landmarks import Landmark
from vision.synchrony.fit import fit_clock
from vision.synchrony.people import lane_among
from vision.synchrony.types import ClockFit, TwoAthletesError
from vision.track import PoseTrack

CLOCK = ClockFit(2.0, 30.0, 0.002, 5.0, "sound")
COCO = [
    *("NOSE", "LEFT_EYE", "RIGHT_EYE", "LEFT_EAR", "RIGHT_EAR"),
    *("LEFT_SHOULDER", "RIGHT_SHOULDER", "LEFT_ELBOW", "RIGHT_ELBOW", "LEFT_WRIST", "RIGHT_WRIST"),
    *("LEFT_HIP", "RIGHT_HIP", "LEFT_KNEE", "RIGHT_KNEE", "LEFT_ANKLE", "RIGHT_ANKLE"),
]


def depth(time_s: np.ndarray, seed: int) -> np.ndarray:
    """How deep somebody squats: reps of uneven length, with pauses."""
    rng = np.random.default_rng(seed)
    squat, at = np.zeros(len(time_s)), 1.0
    while at < 40.0:
        length = rng.uniform(1.2, 2.4)
        inside = (time_s >= at) & (time_s < at + length)
        squat[inside] = np.sin(np.pi * (time_s[inside] - at) / length) ** 2
        at += length + rng.uniform(0.1, 1.5)
    return squat


def first_film(seed: int) -> PoseTrack:
    time_s = np.arange(0.0, 32.0, 1 / 30)
    track = PoseTrack.unobserved(time_s, 640, 360)
    bodies = [joints(squat=squat) for squat in depth(time_s, seed)]
    track.image_px[:] = np.mean(bodies, axis=1)[:, None]
    for index, name in enumerate(COCO):
        track.image_px[:, Landmark[name]] = [body[index] for body in bodies]
    track.world_m[:] = 0.0
    track.visibility[:] = 1.0
    track.identity[:] = 0
    return track


def second_film(people: dict[float, int], clock: ClockFit) -> list[Sample]:
    """Everybody at their places, each doing their own squats; the clock is the second film's."""
    time_s = np.arange(0.0, 28.0, 0.2)
    there = clock.first_s(time_s)
    pictures = [
        [
            detection(joints(x_px=x, squat=depth(there[i : i + 1], seed)[0]), clothes=colour)
            for (x, seed), colour in zip(people.items(), (RED, BLUE), strict=False)
        ]
        for i in range(len(time_s))
    ]
    return samples(pictures)


@pytest.mark.parametrize("place", [160.0, 480.0])
def test_the_athlete_is_found_beside_somebody_who_exercises_nearer_the_middle(place):
    lane = lane_among(second_film({place: 1, 320.0: 2}, CLOCK), WIDTH_PX, first_film(1), CLOCK)
    assert lane is not None
    assert lane[0] < place / WIDTH_PX < lane[1]
    assert not lane[0] < 0.5 < lane[1]


def test_nobody_is_taken_who_does_not_move_alike():
    others = second_film({160.0: 3, 320.0: 2}, CLOCK)
    assert lane_among(others, WIDTH_PX, first_film(1), CLOCK) is None


def test_a_film_of_nobody_has_no_lane():
    assert lane_among(samples([[]] * 20), WIDTH_PX, first_film(1), CLOCK) is None


def test_two_athletes_in_one_room_are_told_with_the_clock_of_its_sound():
    sound = room(1, 32.0)
    first, second = as_sound(heard(sound, 2)), as_sound(heard(sound, 3))
    with pytest.raises(TwoAthletesError, match="two athletes") as told:
        fit_clock((first_film(1), first_film(2)), (first, second))
    assert told.value.clock.offset_s == pytest.approx(0.0, abs=0.002)
