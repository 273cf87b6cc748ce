"""The athlete is the one who moves through a movement's range, over the whole film."""

import math

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import person
from vision.athlete.people import Tracklet, told_apart, tracklets
from vision.athlete.sightings import separation
from vision.pose.network import Pose

TIMES = [0.5 * n for n in range(60)]


def _squatting(time_s: float, x_px: float = 200.0) -> Pose:
    return person(x_px, squat=0.5 - 0.5 * math.cos(2 * math.pi * time_s / 2.6))


def _path(seen: list[list[Pose]], lane: tuple[float, float] | None = None) -> list[Pose | None]:
    return [there.athlete for there in told_apart(TIMES, seen, lane, width_px=640.0)]


def test_who_squats_is_chosen_over_a_nearer_and_larger_bystander() -> None:
    seen = [[person(450, 460, 300), _squatting(t)] for t in TIMES]
    assert all(chosen is people[1] for chosen, people in zip(_path(seen), seen, strict=True))


def test_a_walker_through_the_picture_is_nobodys_athlete() -> None:
    seen = [[_squatting(t), person(20 + 20 * t, 440, 260)] for t in TIMES]
    assert all(chosen is people[0] for chosen, people in zip(_path(seen), seen, strict=True))


def test_the_order_of_the_sightings_does_not_matter() -> None:
    seen = [[person(450), _squatting(t)][:: 1 if k % 2 else -1] for k, t in enumerate(TIMES)]
    assert all(abs(chosen.region.x_px - 200) < 1 for chosen in _path(seen) if chosen)


def test_an_athlete_who_rests_is_not_swapped_for_the_bystander() -> None:
    seen = [[person(450), _squatting(t) if t < 10 or t > 20 else person(200)] for t in TIMES]
    assert all(chosen is people[1] for chosen, people in zip(_path(seen), seen, strict=True))


def test_pressing_overhead_counts_as_movement() -> None:
    seen = [
        [person(450), person(200, raise_hands=0.5 - 0.5 * math.cos(2 * math.pi * t / 2.3))]
        for t in TIMES
    ]
    assert all(chosen is people[1] for chosen, people in zip(_path(seen), seen, strict=True))


def test_where_only_the_bystander_is_seen_there_is_no_athlete() -> None:
    seen = [[person(450)] if 10 < t < 20 else [person(450), _squatting(t)] for t in TIMES]
    for chosen, people, t in zip(_path(seen), seen, TIMES, strict=True):
        assert chosen is (None if 10 < t < 20 else people[1])


def test_an_athlete_who_comes_back_elsewhere_is_found_again() -> None:
    seen = [
        [_squatting(t, 200)] if t < 10 else [] if t < 14 else [_squatting(t, 420)] for t in TIMES
    ]
    path = _path(seen)
    assert sum(chosen is not None for chosen in path) == sum(bool(people) for people in seen)


def test_a_lane_leaves_out_who_moves_outside() -> None:
    seen = [[_squatting(t, 200), _squatting(t + 0.8, 450)] for t in TIMES]
    chosen = _path(seen, lane=(0.5, 1.0))
    assert all(pose is people[1] for pose, people in zip(chosen, seen, strict=True))


def test_nobody_seen_means_no_athlete() -> None:
    assert _path([[] for _ in TIMES]) == [None] * len(TIMES)


def test_everybody_else_is_told_as_such() -> None:
    seen = [[person(450), _squatting(t)] for t in TIMES]
    told = told_apart(TIMES, seen)
    assert all(there.others == (people[0],) for there, people in zip(told, seen, strict=True))


def test_of_two_readings_of_the_athlete_the_sharper_is_taken() -> None:
    seen = [[_squatting(t), person(215, squat=0.3, sharpness=0.4)] for t in TIMES]
    told = told_apart(TIMES, seen)
    assert all(there.athlete is people[0] for there, people in zip(told, seen, strict=True))


def test_people_who_stand_apart_have_a_tracklet_each() -> None:
    seen = [[_squatting(t), person(450)] for t in TIMES]
    everyone, numbers = tracklets(TIMES, seen)
    assert len(everyone) == 2
    assert numbers == [[0, 1]] * len(TIMES)


def test_activity_grows_with_range_and_time_and_is_nil_at_rest() -> None:
    def activity(depth: float, seconds: float) -> float:
        one = Tracklet()
        for t in np.arange(0, seconds, 0.5):
            one.add(float(t), person(squat=depth * (0.5 - 0.5 * math.cos(2.4 * t))))
        return one.activity()

    assert activity(0.0, 20) == 0.0
    assert activity(1.0, 20) > activity(0.5, 20) > 0
    assert activity(1.0, 40) == pytest.approx(2 * activity(1.0, 20), rel=0.1)


def test_separation_is_nil_for_the_same_and_large_for_others() -> None:
    assert separation(person(200), person(200)) == 0.0
    assert separation(person(200), person(460)) == pytest.approx(1.0)
