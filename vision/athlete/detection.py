"""Everybody in a picture, with what tells them apart: place, size and colour of clothes."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from vision.pose.movenet import PeopleFinder, Person, separation
from vision.pose.region import Picture

FloatArray = npt.NDArray[np.float64]

EVEN_SCORE: Final = 0.25
"""Score at which a detection is as likely nobody as somebody. On rendered films people score 0.69
to 0.95, plates, posts and shadows up to 0.3."""

_TRUNK: Final = [5, 6, 12, 11]
_LEAST_TRUNK_PX: Final = 12
"""Pixels of a trunk, or of a picture's side, below which nothing can be told of it (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Detection:
    """One person in one picture.

    Attributes
    ----------
    score
        How surely there is a person, 0 to 1.
    image_px
        (17, 2) joints, pixels of the picture looked at.
    peak
        (17,) height of each joint's heat map, 0 to 1.
    clothes
        (3,) median colour of the trunk, CIE L*a*b* in steps of 1 to 255 of OpenCV; NaN where the
        trunk is too small to tell.
    """

    score: float
    image_px: FloatArray
    peak: FloatArray
    clothes: FloatArray

    @property
    def size_px(self) -> float:
        """Longer side of the box around the joints."""
        return max(float(np.ptp(self.image_px, axis=0).max()), 1.0)

    @property
    def hips_px(self) -> FloatArray:
        """(2,) middle of the hips."""
        middle: FloatArray = self.image_px[11:13].mean(axis=0)
        return middle


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """Everybody in one picture of a film.

    Attributes
    ----------
    row
        The picture's row in the film's times.
    time_s
        Its presentation time.
    people
        Everybody found.
    """

    row: int
    time_s: float
    people: tuple[Detection, ...]


def detect(finder: PeopleFinder, picture: Picture) -> tuple[Detection, ...]:
    """Find everybody in an RGB picture."""
    return tuple(
        Detection(person.score, person.image_px, person.peak, _clothes(picture, person))
        for person in finder.find(picture)
    )


def found_near(
    finder: PeopleFinder, picture: Picture, expected_px: FloatArray, side_px: float
) -> FloatArray:
    """Look for one person in a square of the picture around where they are expected.

    A body that hangs over a bar or lies folded, and is small in the picture, is found in the
    square though not in the whole.

    Parameters
    ----------
    finder
        Finds people.
    picture
        RGB picture in which everybody else is painted over.
    expected_px
        (17, 2) where the joints are expected.
    side_px
        Side of the square.

    Returns
    -------
    (17, 2) joints of whoever is found nearest to it; the expected ones where nobody is.
    """
    middle = (expected_px.min(axis=0) + expected_px.max(axis=0)) / 2
    low = np.maximum(np.floor(middle - side_px / 2).astype(int), 0)
    high = np.minimum(np.ceil(middle + side_px / 2).astype(int), picture.shape[1::-1])
    if (high - low < _LEAST_TRUNK_PX).any():
        return expected_px
    part = np.ascontiguousarray(picture[low[1] : high[1], low[0] : high[0]])
    found = [person.image_px + low for person in finder.find(part) if person.score > EVEN_SCORE]
    return min(found, key=lambda joints: separation(joints, expected_px), default=expected_px)


def _clothes(picture: Picture, person: Person) -> FloatArray:
    """Colour of the trunk: seen from the side it is narrow, so at least its middle line counts."""
    corners = person.image_px[_TRUNK]
    low = np.floor(corners.min(axis=0) - 2).astype(int)
    high = np.ceil(corners.max(axis=0) + 3).astype(int)
    low, high = np.maximum(low, 0), np.minimum(high, picture.shape[1::-1])
    if (high - low < 2).any():
        return np.full(3, np.nan)
    part = picture[low[1] : high[1], low[0] : high[0]]
    mask = np.zeros(part.shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, np.round(corners - low).astype(np.int32), 255)
    top, bottom = corners[:2].mean(axis=0) - low, corners[2:].mean(axis=0) - low
    ends = [tuple(np.round(end).astype(int).tolist()) for end in (top, bottom)]
    cv2.line(mask, ends[0], ends[1], 255, 3)
    inside = part[mask > 0]
    if len(inside) < _LEAST_TRUNK_PX:
        return np.full(3, np.nan)
    colours = cv2.cvtColor(inside[None], cv2.COLOR_RGB2LAB)[0]
    middle: FloatArray = np.median(colours, axis=0).astype(np.float64)
    return middle
