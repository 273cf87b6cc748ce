"""How far the still background has moved since a reference frame.

Corners of the background are followed by optical flow from the reference picture straight into
each frame, so that nothing accumulates; the turn and shift that most of them share is the
camera's, what moves otherwise are people and bars.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
GreyPicture = npt.NDArray[np.uint8]
Box = tuple[float, float, float, float]

CORNERS: Final = 120
"""Points of the background that are followed at most."""
LEAST_CORNERS: Final = 12
"""Of which so many have to be found again: three numbers are sought."""
_AGREE_PX: Final = 0.7
"""Off the common motion, up to which a point agrees with it: flow is read to a fraction of a
pixel."""
_LEAST_SHARE: Final = 0.4
"""Of the points have to agree, or it is no background that moves. All of these are chosen, not
measured."""
STEADY_PX: Final = 0.4
"""Distance of the picture's edge from the line between two times up to which the camera went evenly
or stood: about 2 mm at the athlete, where landmarks scatter by a few centimetres."""


@dataclass(frozen=True, slots=True)
class Shift:
    """Movement of the background since the reference frame.

    Attributes
    ----------
    right_px, down_px
        Of the background at the picture's centre.
    roll_rad
        Turn about the picture's centre, positive clockwise as seen.
    """

    right_px: float
    down_px: float
    roll_rad: float


class Background:
    """The still background of a reference frame.

    Parameters
    ----------
    picture
        (height, width) grey reference picture.
    people
        Boxes (left, top, right, bottom) of people in it, pixels, whose corners are not used.
    """

    def __init__(self, picture: GreyPicture, people: Sequence[Box] = ()) -> None:
        self._picture = picture
        mask = np.full(picture.shape, 255, dtype=np.uint8)
        for left, top, right, bottom in people:
            mask[max(0, int(top)) : max(0, int(bottom)), max(0, int(left)) : max(0, int(right))] = 0
        found = cv2.goodFeaturesToTrack(picture, CORNERS, 0.01, 8, mask=mask)
        self._corners = np.empty((0, 1, 2), np.float32) if found is None else found
        height, width = picture.shape
        self._centre = np.array([(width - 1) / 2, (height - 1) / 2])

    @property
    def edge_px(self) -> float:
        """Distance of the picture's corners from its centre."""
        return float(np.hypot(*self._centre))

    def shift_in(self, picture: GreyPicture, near: Shift | None = None) -> Shift | None:
        """Return how far the background has moved in a grey picture of the same size.

        None where fewer than 12 corners, or less than 40 % of them, agree: the camera was carried
        away, covered, or there is too little to hold on to.

        Parameters
        ----------
        picture
            The later picture.
        near
            A shift near the one sought, say that of the frame before.
        """
        if len(self._corners) < LEAST_CORNERS:
            return None
        guess = self._corners.copy()
        if near is not None:
            guess += np.array([near.right_px, near.down_px], dtype=np.float32)
        moved, status, _ = cv2.calcOpticalFlowPyrLK(
            self._picture,
            picture,
            self._corners,
            guess,
            winSize=(15, 15),
            maxLevel=2,
            flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        )
        kept = status[:, 0] == 1
        if kept.sum() < LEAST_CORNERS:
            return None
        before = self._corners[kept, 0].astype(np.float64) - self._centre
        after = moved[kept, 0].astype(np.float64) - self._centre
        return _common_motion(before, after, _LEAST_SHARE * len(self._corners))


def shifts_between(
    measure: Callable[[int, Shift | None], Shift | None],
    time_s: Sequence[float],
    before: tuple[float, Shift] | None,
    edge_px: float,
) -> list[Shift | None]:
    """Say how far the background has moved at some times, measured at as few as tell it.

    Where the shift midway between two known ones lies on the line between them, so does the rest.

    Parameters
    ----------
    measure
        The shift in the picture of one of the times, given its place among them and a shift near
        it; None where it cannot be told.
    time_s
        Ascending times.
    before
        Time before these and the shift then, where known. Without it, or where a shift cannot be
        told, each is measured.
    edge_px
        Distance of the picture's edge from its centre.
    """
    shifts: list[Shift | None] = [None] * len(time_s)
    near = None if before is None else before[1]
    last = measure(len(time_s) - 1, near) if before is not None and len(time_s) > 1 else None
    if before is None or last is None:
        for place in range(len(time_s)):
            shifts[place] = measure(place, near)
            near = shifts[place]
        return shifts
    shifts[-1] = last
    ahead = [(-1, len(time_s) - 1)]
    while ahead:
        start, end = ahead.pop()
        if end - start < 2:
            continue
        one = before if start < 0 else (time_s[start], shifts[start])
        other = (time_s[end], shifts[end])
        middle = (start + end) // 2
        line = _on_line(one, other, time_s[middle])
        shifts[middle] = measure(middle, line or one[1] or other[1])
        if _apart_px(shifts[middle], line, edge_px) > STEADY_PX:
            ahead += [(start, middle), (middle, end)]
            continue
        known = (time_s[middle], shifts[middle])
        for place in range(start + 1, end):
            if place != middle:
                side = (one, known) if place < middle else (known, other)
                shifts[place] = _on_line(*side, time_s[place])
    return shifts


def _on_line(
    one: tuple[float, Shift | None], other: tuple[float, Shift | None], time_s: float
) -> Shift | None:
    if one[1] is None or other[1] is None:
        return None
    share = (time_s - one[0]) / (other[0] - one[0])
    return Shift(
        one[1].right_px + share * (other[1].right_px - one[1].right_px),
        one[1].down_px + share * (other[1].down_px - one[1].down_px),
        one[1].roll_rad + share * (other[1].roll_rad - one[1].roll_rad),
    )


def _apart_px(one: Shift | None, other: Shift | None, edge_px: float) -> float:
    """Furthest distance between where two shifts put a point of the picture."""
    if one is None or other is None:
        return math.inf
    shift_px = math.hypot(one.right_px - other.right_px, one.down_px - other.down_px)
    return shift_px + abs(one.roll_rad - other.roll_rad) * edge_px


def _common_motion(before: FloatArray, after: FloatArray, least: float) -> Shift | None:
    """Turn and shift shared by most points: from the medians, refined on who agrees."""
    moved = after - before
    inlier = np.hypot(*(moved - np.median(moved, axis=0)).T) < 4 * _AGREE_PX
    shift = None
    for _ in range(3):
        if inlier.sum() < max(least, LEAST_CORNERS):
            return None
        shift = _rigid(before[inlier], after[inlier])
        cos, sin = math.cos(shift.roll_rad), math.sin(shift.roll_rad)
        x = before[:, 0] * cos - before[:, 1] * sin + shift.right_px
        y = before[:, 0] * sin + before[:, 1] * cos + shift.down_px
        inlier = np.hypot(after[:, 0] - x, after[:, 1] - y) < _AGREE_PX
    return shift if inlier.sum() >= max(least, LEAST_CORNERS) else None


def _rigid(before: FloatArray, after: FloatArray) -> Shift:
    """Least-squares turn and shift (Arun, Huang & Blostein 1987, in the plane)."""
    mean_before, mean_after = before.mean(axis=0), after.mean(axis=0)
    b, a = before - mean_before, after - mean_after
    roll = math.atan2(float(np.sum(b[:, 0] * a[:, 1] - b[:, 1] * a[:, 0])), float(np.sum(b * a)))
    cos, sin = math.cos(roll), math.sin(roll)
    return Shift(
        right_px=float(mean_after[0] - (mean_before[0] * cos - mean_before[1] * sin)),
        down_px=float(mean_after[1] - (mean_before[0] * sin + mean_before[1] * cos)),
        roll_rad=roll,
    )
