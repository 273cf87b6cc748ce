"""The outline that is kept is the one that was drawn."""

import math

import numpy as np
import pytest

from vision.pose.outline import Outline
from vision.pose.region import Region

SIDE = 64
SHADE = 1 / 15


def disc(region: Region, *, radius: float = 20.0, edge: float = 2.0) -> Outline:
    """A disc in the middle of the square, its edge ``edge`` pixels of the drawing wide."""
    y, x = np.mgrid[:SIDE, :SIDE] + 0.5 - SIDE / 2
    return Outline.of(((radius - np.hypot(x, y)) / edge * 4).astype(np.float32), region)


def test_the_body_is_covered_and_the_rest_is_not() -> None:
    outline = disc(Region(100.0, 200.0, 128.0))
    places = np.array([[100.0, 200.0], [130.0, 200.0], [150.0, 200.0], [40.0, 140.0], [900.0, 5.0]])
    assert outline.at(places) == pytest.approx([1.0, 1.0, 0.0, 0.0, 0.0], abs=SHADE)


def test_an_edge_lies_where_it_was_drawn() -> None:
    outline = disc(Region(100.0, 200.0, 128.0))  # two pixels of the picture a pixel of the drawing
    across = np.linspace(100.0, 160.0, 241)
    covered = outline.at(np.stack([across, np.full(241, 200.0)], axis=1))
    assert across[np.abs(covered - 0.5).argmin()] == pytest.approx(140.0, abs=0.5)


def test_a_turned_square_is_drawn_turned() -> None:
    odds = np.full((SIDE, SIDE), -20.0, np.float32)
    odds[: SIDE // 2] = 20.0  # the upper half of the square
    quarter = Outline.of(odds, Region(0.0, 0.0, 100.0, math.pi / 2))  # clockwise: up is right
    assert quarter.at(np.array([[30.0, 0.0], [-30.0, 0.0]])) == pytest.approx([1.0, 0.0])


def test_shades_between_are_kept_to_a_fifteenth() -> None:
    odds = np.linspace(-6.0, 6.0, SIDE, dtype=np.float32)[None].repeat(SIDE, axis=0)
    outline = Outline.of(odds, Region(SIDE / 2, SIDE / 2, SIDE))
    centres = np.stack([np.arange(SIDE) + 0.5, np.full(SIDE, 9.5)], axis=1)
    drawn = 1.0 / (1.0 + np.exp(-odds[0].astype(np.float64)))
    assert np.abs(outline.at(centres) - drawn).max() <= SHADE / 2 + 1e-9


def test_a_drawing_of_the_networks_size_takes_a_few_kilobytes() -> None:
    y, x = np.mgrid[:256, :256] - 127.5
    body = Outline.of((60.0 - np.hypot(x, y / 2)).astype(np.float32), Region(0, 0, 256))
    assert len(body.packed) < 4096
