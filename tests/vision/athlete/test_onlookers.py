"""Whoever stands behind the athlete and shows when the athlete goes down is no part of the way."""

import math

import numpy as np

from tests.vision.athlete.people_in_pictures import person, pose_at
from vision.athlete.onlookers import onlookers
from vision.athlete.people import told_apart
from vision.pose.network import Pose

TIMES = [0.5 * n for n in range(80)]
REP_S = 5.0


def _lying(lift_px: float) -> Pose:
    """Somebody on the floor, seen from the head: all joints within a small height."""
    image = person(200.0).image_px.copy()
    image[:, 1] = 385.0 - lift_px - 0.3 * (image[:, 1].max() - image[:, 1])
    return pose_at(image, sharpness=0.5)


def _burpees(time_s: float) -> tuple[Pose, bool]:
    """The athlete, and whether they are on the floor."""
    share = time_s % REP_S / REP_S
    if share < 0.5:
        return person(200.0), False
    return _lying(20.0 * math.sin(2 * math.pi * share) ** 2), True


def _behind(x_px: float = 235.0) -> Pose:
    return person(x_px, floor_px=370.0, stature_px=190.0)


def _film() -> tuple[list[list[Pose]], list[Pose]]:
    """Sightings, and the athlete in each: whoever is behind shows only above a lying athlete."""
    seen, athlete = [], []
    for time_s in TIMES:
        here, down = _burpees(time_s)
        athlete.append(here)
        seen.append([_behind(), here] if down else [here])
    return seen, athlete


def test_the_athlete_is_who_goes_to_the_floor_not_who_then_stands_there() -> None:
    seen, athlete = _film()
    told = told_apart(TIMES, seen)
    assert [there.athlete for there in told] == athlete
    behind = [[pose for pose in people if pose not in athlete] for people in seen]
    assert [list(there.others) for there in told] == behind


def test_onlookers_are_found_only_where_they_show() -> None:
    seen, athlete = _film()
    assert onlookers(seen) == [[pose not in athlete for pose in people] for people in seen]


def test_an_onlooker_stays_one_while_nobody_else_is_seen() -> None:
    seen, _ = _film()
    seen[-3:] = [[_behind()]] * 3
    assert [there.athlete for there in told_apart(TIMES, seen)][-3:] == [None] * 3


def test_an_athlete_who_rests_while_somebody_bends_once_beside_them_is_no_onlooker() -> None:
    bent = [person(260.0, squat=0.0, stature_px=80.0 + 5.0 * k) for k in range(6)]
    seen = [[_burpees(time_s)[0]] for time_s in TIMES]
    seen[40:46] = [[person(200.0), other] for other in bent]
    assert not any(answer for people in onlookers(seen) for answer in people)


def test_a_thing_on_the_floor_makes_no_onlooker_of_who_stands_beside_it() -> None:
    thing = _lying(0.0)
    seen = [[person(200.0), thing] if k // 6 % 2 else [person(200.0)] for k in range(len(TIMES))]
    assert not any(answer for people in onlookers(seen) for answer in people)


def test_somebody_who_sways_between_the_times_is_no_onlooker() -> None:
    seen, _ = _film()
    for place, people in enumerate(seen):
        if len(people) == 2:
            people[0] = _behind(235.0 + 12.0 * (place % 5))
    assert not any(answer for people in onlookers(seen) for answer in people)


def test_neighbours_who_work_side_by_side_are_no_onlookers() -> None:
    seen = []
    for time_s in TIMES:
        beside, down = _burpees(time_s + REP_S / 2)
        image = beside.image_px + np.array([100.0, 0.0])
        seen.append([_burpees(time_s)[0], pose_at(image) if down else person(300.0)])
    assert not any(answer for people in onlookers(seen) for answer in people)


def test_nobody_seen_means_no_onlooker() -> None:
    assert onlookers([[], []]) == [[], []]
