"""Left and right over a film: known exchanges are found and put right, nothing else is touched."""

import itertools

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import joints, readings
from vision.athlete.reading import Body, Readings, body_of
from vision.athlete.sides import _likeliest, exchanged_sides, with_sides_settled
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.pose.movenet import JOINTS

STATURE_PX = 200.0
FRAMES = 60
TIME_S = np.arange(FRAMES) / 30
ARMS, LEGS = range(5, 11), range(11, 17)
BODY = (*range(1, 5), *ARMS, *LEGS)
HEAD_AND_ARMS = (*range(1, 5), *ARMS)


def true_px() -> np.ndarray:
    """(N, 17, 2) joints of somebody who squats."""
    depth = 0.5 - 0.5 * np.cos(2 * np.pi * TIME_S)
    return np.array([joints(squat=float(d)) for d in depth])


def exchanged(image_px: np.ndarray, rows: range, which: tuple[int, ...] | range) -> np.ndarray:
    """The same, left and right exchanged in some rows."""
    image_px = image_px.copy()
    other = [joint + (1 if joint % 2 else -1) for joint in which]
    kept = image_px.copy()
    for row in rows:
        image_px[row, list(which)] = kept[row, other]
    return image_px


def film(first_px: np.ndarray, second_px: np.ndarray) -> list[Readings]:
    rng = np.random.default_rng(3)
    read = []
    for one, other in zip(first_px, second_px, strict=True):
        landmarks = np.zeros((LANDMARK_COUNT, 2))
        landmarks[list(JOINTS)] = one + rng.normal(0, 2, one.shape)
        read.append(readings(landmarks, other + rng.normal(0, 2, other.shape)))
    return read


def settled_px(read: list[Readings]) -> np.ndarray:
    """(N, 17, 2) joints after sides have been settled."""
    bodies: dict[int, Body | None] = {n: body_of(r, STATURE_PX) for n, r in enumerate(read)}
    settled = with_sides_settled(bodies, TIME_S, STATURE_PX)
    return np.array([body.joints_px for body in settled.values() if body is not None])


@pytest.mark.parametrize("rows", [range(20, 24), range(10, 50), range(FRAMES - 20, FRAMES)])
@pytest.mark.parametrize("network", [0, 1])
def test_one_network_that_takes_left_for_right_is_put_right(rows: range, network: int) -> None:
    read_px = [true_px(), true_px()]
    read_px[network] = exchanged(read_px[network], rows, BODY)
    read = film(*read_px)
    off = np.abs([body_of(one, STATURE_PX).joints_px for one in read] - true_px())
    assert off[list(rows)][:, [*ARMS, *LEGS]].max() > 15.0, "as read the two meet in the middle"
    assert np.abs(settled_px(read) - true_px())[:, [*ARMS, *LEGS]].max() < 10.0


def test_both_networks_are_put_right_where_they_agree_on_the_wrong_sides_for_a_while() -> None:
    """Nothing in one picture shows it."""
    wrong_px = exchanged(true_px(), range(20, 30), BODY)
    found = exchanged_sides(TIME_S, film(wrong_px, wrong_px), STATURE_PX)
    assert found[20:30].all()
    assert not found[:20].any()
    assert not found[30:].any()


def test_arms_and_legs_are_decided_one_by_one() -> None:
    legs_px = exchanged(true_px(), range(15, 40), LEGS)
    found = exchanged_sides(TIME_S, film(legs_px, true_px()), STATURE_PX)
    assert found[15:40, 0, 1].all()
    assert not found[:, :, 0].any()
    assert not found[:, 1].any()


def test_all_that_a_network_says_of_a_side_goes_along() -> None:
    wrong_px = exchanged(true_px(), range(20, 40), HEAD_AND_ARMS)
    read = film(wrong_px, true_px())
    left, right = Landmark.LEFT_INDEX, Landmark.RIGHT_INDEX
    for one in read:
        one.visibility[left], one.depth_px[left] = 0.25, -30.0
    bodies: dict[int, Body | None] = {n: body_of(r, STATURE_PX) for n, r in enumerate(read)}
    settled = with_sides_settled(bodies, TIME_S, STATURE_PX)[30]
    assert settled is not None
    assert settled.read.visibility[[left, right]].tolist() == [1.0, 0.25]
    assert settled.read.depth_px[[left, right]].tolist() == [0.0, -30.0]
    assert bodies[30] is not None
    assert bodies[30].read.visibility[left] == 0.25


def test_what_is_right_stays_as_it_is() -> None:
    read = film(true_px(), true_px())
    bodies: dict[int, Body | None] = {n: body_of(r, STATURE_PX) for n, r in enumerate(read)}
    bodies[7] = None
    settled = with_sides_settled(bodies, TIME_S, STATURE_PX)
    assert all(settled[row] is body for row, body in bodies.items())


def test_a_film_without_the_athlete_has_no_sides() -> None:
    assert with_sides_settled({0: None, 4: None}, TIME_S, STATURE_PX) == {0: None, 4: None}


def test_no_other_sequence_is_likelier() -> None:
    """Against all sequences of three states in five pictures."""
    rng = np.random.default_rng(8)
    here, step = rng.normal(size=(5, 3)), rng.normal(size=(4, 3, 3))

    def total(states: tuple[int, ...]) -> float:
        moves = sum(step[n, a, b] for n, (a, b) in enumerate(itertools.pairwise(states)))
        return float(here[range(5), states].sum() + moves)

    best = max(itertools.product(range(3), repeat=5), key=total)
    assert tuple(_likeliest(here, lambda number: step[number])) == best
