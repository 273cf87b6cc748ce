"""Bumps and moves of a camera before a wall, at the limits that decide them."""

import cv2
import numpy as np
import pytest

from vision.continuity.camera import CameraEvent, CameraWatch, background_shift
from vision.continuity.steps import smooth

FINER = 5
"""The wall is drawn so many times as fine as it is seen: shifts are fifths of a pixel."""


def wall(shift_px: float, seed: int = 1) -> np.ndarray:
    """The same blotches, 160 by 90 pixels, as seen by a camera that is so far to the left."""
    random = np.random.default_rng(seed)
    blotches = np.kron(random.uniform(60.0, 190.0, (30, 60)), np.ones((18, 18)))
    left = 100 - round(FINER * shift_px)
    seen = np.ascontiguousarray(blotches[20 : 20 + 90 * FINER, left : left + 160 * FINER])
    return smooth(np.rint(cv2.resize(seen, (160, 90), interpolation=cv2.INTER_AREA)))


def watched(*places_px: float) -> list[CameraEvent]:
    """Watch a camera that is at these places, one each half second."""
    watch = CameraWatch()
    for number, place in enumerate(places_px):
        watch.push(0.5 * number, wall(place))
        watch.push(0.5 * number + 0.2, wall(place + 10.0))  # not looked at: too soon
    return watch.finish()


def test_a_shifted_wall_is_shifted_by_so_much() -> None:
    found = background_shift(wall(0.0), wall(3.0))
    assert found == pytest.approx((3.0, 0.0), abs=0.15)
    assert background_shift(wall(0.0).T, wall(3.0).T) == pytest.approx((0.0, 3.0), abs=0.15)
    assert background_shift(wall(0.0), wall(0.0)) == pytest.approx((0.0, 0.0), abs=0.01)
    assert background_shift(wall(0.0), wall(0.0, seed=2)) is None


def test_two_quarters_are_no_background_and_three_are() -> None:
    for quarters, is_told in ((2, False), (3, True)):
        after = wall(3.0)
        for place in [np.s_[:45, :80], np.s_[:45, 80:], np.s_[45:, :80]][: 4 - quarters]:
            after[place] = wall(0.0, seed=2)[place]
        assert (background_shift(wall(0.0), after) is not None) == is_told


@pytest.mark.parametrize(("shift_px", "count"), [(1.2, 0), (2.0, 1)])
def test_a_hundredth_of_the_picture_is_a_move(shift_px: float, count: int) -> None:
    found = watched(0.0, 0.0, 0.0, 0.0, shift_px, shift_px, shift_px, shift_px, shift_px)
    assert len(found) == count
    assert all(not one.is_bump for one in found)


@pytest.mark.parametrize(("leap_px", "count"), [(2.2, 0), (4.0, 1)])
def test_a_hand_that_sways_makes_no_events(leap_px: float, count: int) -> None:
    """It sways by 0.8 pixels each half second: four times that is a move."""
    sway = [0.4 * (-1.0) ** n for n in range(9)]
    found = watched(*sway, *(place + leap_px for place in sway))
    assert len(found) == count


@pytest.mark.parametrize(("away", "count"), [(2, 1), (6, 2)])
def test_who_is_back_within_two_seconds_was_bumped(away: int, count: int) -> None:
    """So many half seconds at another place."""
    found = watched(*[0.0] * 6, *[4.0] * away, *[0.0] * 9)
    assert len(found) == count
    assert found[0].is_bump == (count == 1)
    assert found[0].shift_px == pytest.approx(4.0, abs=0.3)
