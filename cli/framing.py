"""The part of a picture that shows the athlete, for stills and for the desk's film."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.marking.skeleton import NEAREST_S
from vision.track import FloatArray, PoseTrack

AROUND_BODY: Final = 1.35
"""Side of the part over the body's longer reach."""
TALLEST: Final = 1.1
"""Height over width at most."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a picture, in whole pixels."""

    left: int
    top: int
    right: int
    bottom: int


def part_around(track: PoseTrack, from_s: float, to_s: float) -> Part:
    """Choose the part that holds the body between two times; all of the picture without one."""
    rows = (track.time_s >= from_s - NEAREST_S) & (track.time_s <= to_s + NEAREST_S)
    return _around(track.image_px[rows].reshape(-1, 2), track.width_px, track.height_px)


def _around(points: FloatArray, width_px: int, height_px: int) -> Part:
    known = points[np.isfinite(points).all(axis=1)]
    if not len(known):
        middle_x, middle_y, reach = width_px / 2, height_px / 2, float(min(width_px, height_px))
    else:
        low, high = known.min(axis=0), known.max(axis=0)
        middle_x, middle_y = (float(value) for value in (low + high) / 2)
        reach = AROUND_BODY * float(np.max(high - low))
    height = min(reach, float(height_px), TALLEST * width_px)
    width = min(max(height / TALLEST, reach * 0.75), float(width_px))
    left = min(max(middle_x - width / 2, 0.0), width_px - width)
    top = min(max(middle_y - height / 2, 0.0), height_px - height)
    return Part(round(left), round(top), round(left + width), round(top + height))
