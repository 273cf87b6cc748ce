"""An onlooker stands there while others move; an athlete who rests does not."""

import math
from dataclasses import replace

import numpy as np

from tests.vision.athlete.people_in_pictures import person
from vision.athlete.people import told_apart
from vision.athlete.sightings import JOINTS
from vision.athlete.standing import FEWEST, are_of, standing, still_there
from vision.pose.network import Pose

TIMES = [0.5 * n for n in range(80)]


def _squatting(time_s: float, x_px: float = 200.0) -> Pose:
    return person(x_px, squat=0.5 - 0.5 * math.cos(2 * math.pi * time_s / 2.6))


def _works(time_s: float) -> bool:
    """Ten seconds of work, ten of rest at the very same place."""
    return time_s % 20.0 < 10.0


def _athlete(time_s: float) -> Pose:
    return _squatting(time_s) if _works(time_s) else person(200.0)


def _who_stands(seen: list[list[Pose]]) -> list[Pose]:
    answers = standing(seen)
    return [
        pose
        for people, stands in zip(seen, answers, strict=True)
        for pose, stays in zip(people, stands, strict=True)
        if stays
    ]


def test_an_onlooker_stands_there_and_a_resting_athlete_does_not() -> None:
    onlooker = [person(300.0 + math.sin(t), 380.0) for t in TIMES]
    seen = [[here, _athlete(t)] for here, t in zip(onlooker, TIMES, strict=True)]
    assert _who_stands(seen) == onlooker


def test_an_onlooker_is_known_also_where_the_athlete_is_not_seen() -> None:
    onlooker = [person(300.0, 380.0) for _ in TIMES]
    seen = [
        [here] if 12 <= t < 18 else [here, _athlete(t)]
        for here, t in zip(onlooker, TIMES, strict=True)
    ]
    assert _who_stands(seen) == onlooker


def test_an_athlete_alone_never_only_stands_there() -> None:
    assert _who_stands([[_athlete(t)] for t in TIMES]) == []


def test_who_moves_as_much_as_the_others_does_not_only_stand_there() -> None:
    seen = [[_squatting(t + 0.7, 320.0), _squatting(t)] for t in TIMES]
    assert _who_stands(seen) == []


def test_who_walks_past_a_resting_athlete_makes_no_onlooker_of_them() -> None:
    seen = [[_athlete(t)] + ([] if _works(t) else [person(20 + 20 * (t % 20))]) for t in TIMES]
    assert _who_stands(seen) == []


def test_a_plate_that_goes_up_and_down_makes_no_onlooker_of_who_lifts_it() -> None:
    """Who presses a bar stands; the plate before them is read as somebody small and unclear."""

    def plate(time_s: float, sharpness: float) -> Pose:
        up = 0.5 - 0.5 * math.cos(2 * math.pi * time_s / 2.6)
        return person(200.0, 330.0 - 60.0 * up, 100.0, squat=up, sharpness=sharpness)

    athlete = [_squatting(t) if t < 6.0 else person(200.0) for t in TIMES]
    unclear = [[here, plate(t, 0.35)] for here, t in zip(athlete, TIMES, strict=True)]
    assert _who_stands(unclear) == []
    clear = [[here, plate(t, 0.7)] for here, t in zip(athlete, TIMES, strict=True)]
    assert athlete[-1] in _who_stands(clear)


def test_half_a_body_read_besides_makes_no_onlooker_of_the_whole() -> None:
    """As of somebody at the top of a push-up, of whom the trunk is read as one more person."""
    whole = [_squatting(t) if t < 6.0 else person(200.0) for t in TIMES]
    half = [
        person(215.0, 350.0 + 30.0 * math.sin(2 * math.pi * t / 2.6), 130.0, sharpness=0.5)
        for t in TIMES
    ]
    seen = [[here, other] for here, other in zip(whole, half, strict=True)]
    assert not [pose for pose in _who_stands(seen) if pose in whole]


def test_a_few_sightings_are_too_few() -> None:
    short = TIMES[: FEWEST - 1]
    assert _who_stands([[person(300.0), _squatting(t)] for t in short]) == []


def test_nobody_is_nobody() -> None:
    assert standing([]) == []
    assert standing([[], []]) == [[], []]


def test_one_person_across_the_crossing_stays_the_athlete() -> None:
    """The athlete works left of the onlooker, rests before them hidden, and works right of them."""
    onlooker = person(300.0, 390.0)
    seen: list[list[Pose]] = []
    athlete: list[Pose | None] = []
    for t in TIMES:
        here = None if 18 <= t < 22 else _squatting(t, 260.0 if t < 20 else 340.0)
        athlete.append(here)
        seen.append([onlooker] if here is None else [onlooker, here])
    assert [there.athlete for there in told_apart(TIMES, seen)] == athlete


def test_an_onlooker_is_there_also_while_not_seen() -> None:
    here, later = person(500), person(502)
    seen = [[here], [_athlete(0.5)], [], [later, _athlete(1.5)]]
    stays = [[True], [False], [], [True, False]]
    assert still_there(seen, stays) == [(here,), (here,), (later,), (later,)]


def test_two_onlookers_are_two() -> None:
    seen = [[person(500), person(700)], [person(700)]]
    (first, second), (_, still_second) = still_there(seen, [[True, True], [True]])
    assert (first, second) == tuple(seen[0])
    assert still_second is seen[1][0]


def test_a_pose_is_an_onlookers_at_their_place_alone_and_mirrored_too() -> None:
    onlooker = person(500)
    flipped = replace(onlooker, image_px=onlooker.image_px * [-1.0, 1.0] + [1000.0, 0.0])
    poses = [person(503), flipped, person(540), person(500, squat=0.8)]
    joints = np.array([pose.image_px[JOINTS] for pose in poses])
    sides = np.array([pose.region.side_px for pose in poses])
    assert are_of(joints, sides, [person(900), onlooker]).tolist() == [True, True, False, False]
    assert not are_of(joints, sides, []).any()
