"""Regions map between a picture and the square that the network sees."""

import math

import numpy as np
import pytest

from vision.pose.region import Region, region_around


def _ramps(height: int = 200, width: int = 300) -> np.ndarray:
    """A picture whose red tells the column and whose green tells the row."""
    rows, columns = np.mgrid[0:height, 0:width]
    return np.stack([columns * 0.8, rows * 0.8, 0 * rows], axis=2).astype(np.uint8)


@pytest.mark.parametrize("turn_deg", [0, 30, 90, -120, 180])
def test_what_is_cut_out_is_what_the_map_says(turn_deg: float) -> None:
    region = Region(150.0, 100.0, 80.0, math.radians(turn_deg))
    cut = region.cut(_ramps(), 64)
    for row, column in ((5, 5), (5, 58), (32, 32), (50, 20)):
        x, y = region.to_picture(np.array([(column + 0.5) / 64, (row + 0.5) / 64]))
        assert cut[row, column, 0] == pytest.approx((x - 0.5) * 0.8, abs=1.5)
        assert cut[row, column, 1] == pytest.approx((y - 0.5) * 0.8, abs=1.5)


def test_outside_the_picture_is_black() -> None:
    cut = Region(0.0, 0.0, 100.0).cut(np.full((200, 300, 3), 200, np.uint8), 50)
    assert cut[:20, :20].max() == 0
    assert cut[30:, 30:].min() == 200


@pytest.mark.parametrize(
    ("rim", "turn_deg"),
    [((50, 10), 0), ((90, 50), 90), ((50, 90), 180), ((10, 50), -90)],
    ids=["upright", "to the right", "upside down", "to the left"],
)
def test_a_body_stands_upright_in_its_region(rim: tuple[float, float], turn_deg: float) -> None:
    region = region_around((50, 50), rim, margin=1.25)
    assert region.side_px == pytest.approx(100.0)
    assert math.cos(region.turn_rad) == pytest.approx(math.cos(math.radians(turn_deg)), abs=1e-9)
    assert math.sin(region.turn_rad) == pytest.approx(math.sin(math.radians(turn_deg)), abs=1e-9)
    top_middle = region.to_picture(np.array([0.5, 0.1]))
    assert top_middle == pytest.approx(np.array(rim, float), abs=1e-6)


def test_a_region_scales_with_its_picture() -> None:
    region = Region(100.0, 60.0, 40.0, 0.3).scaled(0.5)
    assert region == Region(50.0, 30.0, 20.0, 0.3)
