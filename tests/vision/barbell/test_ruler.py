"""How large a plate looks, in pictures in which one is drawn."""

from functools import cache

import numpy as np
import pytest

from vision.barbell.ruler import PLATE_RADIUS_M, RADII_M, Rim, plates_scale, rim_of

CELL_M = 0.005
"""About a pixel in the plane."""
SIDE_PX = 320
LENS = np.array([[900.0, 0, 160], [0, 900, 260], [0, 0, 1]])


def plane(turn_deg: float, distance_m: float = 4.5) -> np.ndarray:
    """From metres ahead and up in a plane that faces the camera at 90 degrees to the picture."""
    turn = np.radians(turn_deg)
    ahead = np.array([np.sin(turn), 0.0, np.cos(turn)])
    return LENS @ np.stack([ahead, [0.0, -1.0, 0.0], [0.0, 1.0, distance_m]], axis=1)


def picture(to_px: np.ndarray, radius_m: float, centre_m: tuple[float, float], seed: int):
    """A dark plate with a lighter hub before a wall, in noise."""
    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.arange(float(SIDE_PX)), np.arange(float(SIDE_PX)))
    ahead, up, one = np.linalg.inv(to_px) @ np.stack([x.ravel(), y.ravel(), np.ones(x.size)])
    apart = np.hypot(ahead / one - centre_m[0], up / one - centre_m[1])
    drawn = np.full(x.size, 150.0)
    for radius, shade in ((radius_m, 40.0), (0.45 * radius_m, 90.0)):
        share = np.clip((radius - apart) / CELL_M + 0.5, 0.0, 1.0)
        drawn += share * (shade - drawn)
    noisy = drawn.reshape(SIDE_PX, SIDE_PX, 1) + rng.normal(0, 4.0, (SIDE_PX, SIDE_PX, 3))
    return np.clip(noisy, 0, 255).astype(np.uint8)


@cache
def seen(turn_deg: float, scale: float, plate: tuple[int, int]) -> list[Rim]:
    """What eight pictures show of a plate that is `scale` times as large as the body's measure."""
    to_px = plane(turn_deg)
    rims = []
    for frame in range(8):
        hand = np.array([0.02 * frame - 0.05, 1.2 + 0.03 * frame])
        drawn = picture(to_px, PLATE_RADIUS_M / scale, (hand[0] + 0.04, hand[1] - 0.03), frame)
        rims.append(rim_of(drawn, plate, to_px, hand))
    return rims


@pytest.mark.parametrize("turn_deg", [90.0, 60.0, 30.0])
@pytest.mark.parametrize("scale", [0.92, 1.06])
def test_a_plate_tells_the_scale_from_wherever_it_is_filmed(turn_deg, scale):
    found = plates_scale(seen(turn_deg, scale, (0, 1)))
    assert found is not None
    told, spread = found
    assert told == pytest.approx(scale, rel=0.015)
    assert abs(np.log(told / scale)) < 2 * spread


def test_two_plates_say_it_more_surely_than_one():
    one = seen(70.0, 1.03, (0, 1))
    two = [*one, *seen(40.0, 1.03, (1, -1))]
    assert plates_scale(two)[1] < plates_scale(one)[1]


def test_plates_that_say_different_things_are_less_sure():
    alike = [*seen(70.0, 1.0, (0, 1)), *seen(40.0, 1.0, (1, -1))]
    apart = [*seen(70.0, 0.94, (0, 1)), *seen(40.0, 1.06, (1, -1))]
    assert plates_scale(apart)[1] > 2 * plates_scale(alike)[1]


def test_where_no_plate_is_seen_nothing_is_told():
    to_px = plane(70.0)
    blank = [
        rim_of(picture(to_px, 0.02, (0.0, 1.2), frame), (0, 1), to_px, np.array([0.0, 1.2]))
        for frame in range(8)
    ]
    assert plates_scale(blank) is None


def test_a_few_pictures_are_not_enough():
    assert plates_scale(seen(70.0, 1.0, (0, 1))[:3]) is None


def rims(count: int, stands_out: float = 0.5) -> list[Rim]:
    """Pictures of which one circle's rim is so much more of an edge than the others'."""
    share = np.full(len(RADII_M), 0.2)
    share[len(RADII_M) // 2] += stands_out
    return [Rim((0, 1), share)] * count


@pytest.mark.parametrize(("stands_out", "is_told"), [(0.08, False), (0.12, True)])
def test_a_rim_that_hardly_stands_out_is_none(stands_out, is_told):
    assert (plates_scale(rims(8, stands_out)) is not None) == is_told


@pytest.mark.parametrize(("count", "is_told"), [(5, False), (7, True)])
def test_six_pictures_of_a_plate_are_enough(count, is_told):
    assert (plates_scale(rims(count)) is not None) == is_told


def test_what_one_plate_tells_is_off_by_two_and_a_half_per_cent_and_how_it_was_made_by_one():
    told, spread = plates_scale(rims(8))
    assert told == pytest.approx(PLATE_RADIUS_M / RADII_M[len(RADII_M) // 2])
    assert spread == pytest.approx(np.hypot(0.025, 0.01), abs=1e-3)
