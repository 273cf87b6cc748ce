"""The body's outline as the first network draws it, kept small."""

import zlib
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.pose.region import Region

FloatArray = npt.NDArray[np.float64]

_LEVELS: Final = 15
"""Shades that are kept: two pixels a byte."""


@dataclass(frozen=True, slots=True)
class Outline:
    """Which part of a square the body covers.

    A long film is thousands of pictures, so the drawing is kept in sixteen shades, compressed.

    Attributes
    ----------
    packed
        The shades, row by row.
    side
        Pixels along a side of the drawing, even.
    region
        The square in the picture.
    """

    packed: bytes
    side: int
    region: Region

    @classmethod
    def of(cls, odds: npt.NDArray[np.float32], region: Region) -> "Outline":
        """Keep (side, side) log odds that a pixel is part of the body."""
        covered = 1.0 / (1.0 + np.exp(-np.clip(odds, -30.0, 30.0)))
        shades = np.round(covered * _LEVELS).astype(np.uint8)
        pairs = shades[:, ::2] << 4 | shades[:, 1::2]
        return cls(zlib.compress(pairs.tobytes(), 1), len(odds), region)

    def at(self, points_px: FloatArray) -> FloatArray:
        """How far (..., 2) points of the picture are covered by the body, 0 to 1; 0 outside."""
        pairs = np.frombuffer(zlib.decompress(self.packed), np.uint8).reshape(self.side, -1)
        framed = np.zeros((self.side + 2, self.side + 2))
        framed[1:-1, 1:-1:2], framed[1:-1, 2:-1:2] = pairs >> 4, pairs & 15
        place = self.region.to_unit(points_px) * self.side + 0.5
        place = np.clip(place, 0.0, self.side + 1.0)
        cell = np.minimum(place.astype(np.int64), self.side)
        x, y = cell[..., 0], cell[..., 1]
        right, down = np.moveaxis(place - cell, -1, 0)
        upper = framed[y, x] * (1.0 - right) + framed[y, x + 1] * right
        lower = framed[y + 1, x] * (1.0 - right) + framed[y + 1, x + 1] * right
        covered: FloatArray = (upper * (1.0 - down) + lower * down) / _LEVELS
        return covered
