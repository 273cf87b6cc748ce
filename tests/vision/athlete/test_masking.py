"""Others are painted over, the athlete never."""

import numpy as np

from tests.vision.athlete.people_in_pictures import joints
from vision.athlete.masking import without_others

PICTURE = np.random.default_rng(0).integers(0, 255, (360, 640, 3), dtype=np.uint8)


def changed(athlete: np.ndarray, others: list[np.ndarray]) -> np.ndarray:
    return np.any(without_others(PICTURE, athlete, 200.0, others) != PICTURE, axis=2)


def at(mask: np.ndarray, places: np.ndarray) -> np.ndarray:
    x, y = np.round(places).astype(int).T
    return mask[y, x]


def test_alone_in_the_picture_nothing_is_painted() -> None:
    assert not changed(joints(320.0), []).any()


def test_a_bystander_disappears() -> None:
    painted = changed(joints(200.0), [joints(450.0)])
    assert at(painted, joints(450.0)).all()
    assert not at(painted, joints(200.0)).any()


def test_behind_the_athlete_only_what_sticks_out_is_painted() -> None:
    painted = changed(joints(320.0), [joints(345.0)])
    assert not at(painted, joints(320.0)).any()
    assert painted.any()


def test_the_picture_given_is_left_as_it_is() -> None:
    before = PICTURE.copy()
    without_others(PICTURE, joints(200.0), 200.0, [joints(450.0)])
    assert np.array_equal(PICTURE, before)
