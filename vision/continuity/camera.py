"""Bumps and moves of the camera, told from cuts by the background that goes along."""

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from vision.continuity.steps import FloatPicture

_EVERY_S: Final = 0.5
"""Between pictures that are compared."""
_AGREE_PX: Final = 1.0
"""Small pixels by which quarters of a picture that show one background may differ."""
_SURE: Final = 0.2
"""Height of the peak of a phase correlation (1 for equal pictures) from which its place is read."""
_QUARTERS: Final = 3
"""Quarters of the picture that have to show the same shift: in the fourth somebody may move."""
_EVENT_PX: Final = 1.6
"""A hundredth of the picture's long side."""
_OVER_USUAL: Final = 4.0
"""Times the film's usual shift in half a second: a camera in the hand sways all the time."""
_BACK_WITHIN_S: Final = 2.0
"""A bump is over, and the camera back, by then (by eye, no source)."""


@dataclass(frozen=True, slots=True)
class CameraEvent:
    """The camera moved between two times.

    Attributes
    ----------
    start_s, end_s
        Presentation times it happened between.
    shift_px
        Largest shift of the background on the way, small pixels.
    stayed_px
        Shift that was left afterwards.
    """

    start_s: float
    end_s: float
    shift_px: float
    stayed_px: float

    @property
    def is_bump(self) -> bool:
        """Whether the camera came back to where it was."""
        return self.stayed_px < 0.5 * self.shift_px


def background_shift(before: FloatPicture, after: FloatPicture) -> tuple[float, float] | None:
    """Shift (x, y) in pixels that most quarters of the picture agree on.

    The athlete rarely covers more than two quarters; three that agree are the background. None
    where they do not agree, as in plain walls, or after a cut to another scene.
    """
    height, width = (_unpadded(side // 2) for side in before.shape)
    window = np.asarray(cv2.createHanningWindow((width, height), cv2.CV_32F), dtype=np.float32)
    shifts = []
    for row in (0, before.shape[0] - height):
        for column in (0, before.shape[1] - width):
            part = np.s_[row : row + height, column : column + width]
            shift, response = cv2.phaseCorrelate(
                np.ascontiguousarray(before[part]), np.ascontiguousarray(after[part]), window
            )
            if response > _SURE:
                shifts.append(shift)
    if len(shifts) < _QUARTERS:
        return None
    found = np.array(shifts)
    middle = np.median(found, axis=0)
    agreeing = np.hypot(*(found - middle).T) < _AGREE_PX
    if int(agreeing.sum()) < _QUARTERS:
        return None
    x, y = found[agreeing].mean(axis=0)
    return float(x), float(y)


def _unpadded(length: int) -> int:
    """Give the longest even length within one that OpenCV transforms as it is.

    Others it fills up, and where that makes an odd length all shifts are half a pixel off.
    """
    even = range(length - length % 2, 0, -2)
    return next((side for side in even if cv2.getOptimalDFTSize(side) == side), length)


class CameraWatch:
    """Follows the background twice a second."""

    def __init__(self) -> None:
        self._last: FloatPicture | None = None
        self._times: list[float] = []
        self._shifts: list[tuple[float, float]] = []

    def push(self, time_s: float, picture: FloatPicture) -> None:
        """Take the next picture, smooth."""
        if self._last is not None and time_s < self._times[-1] + _EVERY_S:
            return
        if self._last is not None:
            self._shifts.append(background_shift(self._last, picture) or (0.0, 0.0))
        self._last = picture
        self._times.append(time_s)

    def finish(self) -> list[CameraEvent]:
        """Return the events; a hand-held camera's constant sway is none."""
        if len(self._shifts) < 2:
            return []
        shifts = np.array(self._shifts)
        length = np.hypot(shifts[:, 0], shifts[:, 1])
        limit = max(_EVENT_PX, _OVER_USUAL * float(np.median(length)))
        return self._grouped(shifts, length > limit)

    def _grouped(
        self, shifts: npt.NDArray[np.float64], moved: npt.NDArray[np.bool_]
    ) -> list[CameraEvent]:
        events: list[CameraEvent] = []
        index = 0
        while index < len(moved):
            if not moved[index]:
                index += 1
                continue
            last = index
            while (
                later := [
                    n
                    for n in range(last + 1, len(moved))
                    if moved[n] and self._times[n] - self._times[last + 1] <= _BACK_WITHIN_S
                ]
            ) and last < later[-1]:
                last = later[-1]
            way = np.cumsum(shifts[index : last + 1], axis=0)
            events.append(
                CameraEvent(
                    start_s=self._times[index],
                    end_s=self._times[last + 1],
                    shift_px=float(np.hypot(way[:, 0], way[:, 1]).max()),
                    stayed_px=math.hypot(*way[-1]),
                )
            )
            index = last + 1
        return events
