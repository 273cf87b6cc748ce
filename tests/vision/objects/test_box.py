"""The edge of a box is found where feet stand on it, and nothing else is taken for one."""

import cv2
import numpy as np
import numpy.typing as npt
import pytest

from vision.objects.box import box_edge

STATURE_PX = 320.0
SOLES = np.array([180.0, 400.0])
Picture = npt.NDArray[np.uint8]


def room(seed: int = 3) -> Picture:
    """A wall with joints over a speckled floor."""
    rng = np.random.default_rng(seed)
    coarse = rng.uniform(130, 165, (80, 45, 1)).repeat(3, axis=2)
    picture = cv2.resize(coarse, (360, 640), interpolation=cv2.INTER_CUBIC)
    picture[480:] *= 0.55
    for x in range(20, 360, 70):
        cv2.line(picture, (x, 0), (x, 480), (95.0, 95.0, 90.0), 2)
    noise = rng.normal(0, 2.0, picture.shape)
    return np.clip(picture + noise, 0, 255).astype(np.uint8)


def with_box(turned_px: int = 0, looked_down_px: int = 14, shade: int = 70) -> Picture:
    """A box with its upper edge at the soles; its top shows where the camera looks down on it."""
    picture = room()
    left, right, edge = 110, 250, 404
    front = np.array(
        [(left, edge), (right, edge + turned_px), (right, 515), (left, 515)], dtype=np.int32
    )
    top = np.array(
        [
            (left, edge),
            (right, edge + turned_px),
            (right - 12, edge + turned_px - looked_down_px),
            (left + 12, edge - looked_down_px),
        ],
        dtype=np.int32,
    )
    cv2.fillPoly(picture, [front], (shade, shade, shade + 20))
    cv2.fillPoly(picture, [top], (shade + 50, shade + 50, shade + 60))
    return picture


@pytest.mark.parametrize("shade", [40, 90])
@pytest.mark.parametrize("looked_down_px", [2, 14, 24])
@pytest.mark.parametrize("turned_px", [0, 20, -25])
def test_the_edge_of_a_box_is_found_below_the_soles(
    turned_px: int, looked_down_px: int, shade: int
) -> None:
    edge = box_edge(with_box(turned_px, looked_down_px, shade), SOLES, STATURE_PX)
    assert edge is not None
    at_soles = np.interp(SOLES[0], edge[:, 0], edge[:, 1])
    front = 404 + turned_px / 2
    assert min(abs(at_soles - front), abs(at_soles - front + looked_down_px)) < 3.0
    assert np.ptp(edge[:, 0]) > 60


@pytest.mark.parametrize("seed", range(10))
def test_a_room_without_a_box_has_none(seed: int) -> None:
    assert box_edge(room(seed), SOLES, STATURE_PX) is None


@pytest.mark.parametrize("soles", [(180.0, 330.0), (180.0, 470.0), (330.0, 400.0)])
def test_a_box_elsewhere_is_not_the_one_under_the_feet(soles: tuple[float, float]) -> None:
    assert box_edge(with_box(), np.array(soles), STATURE_PX) is None


def test_feet_at_the_pictures_edge_stand_on_nothing() -> None:
    assert box_edge(with_box(), np.array([180.0, 900.0]), STATURE_PX) is None
