"""How one small grey picture follows from the picture before."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

Grey = npt.NDArray[np.uint8]
FloatPicture = npt.NDArray[np.float32]

LONG_SIDE_PX: Final = 160
"""Of the small pictures that cuts are seen in: an athlete half as tall is 80 pixels."""
TOP_SHARE: Final = 0.02
"""The athlete's moving parts fill about this share of the picture."""
_SAMPLE_EVERY: Final = 16
"""Pixels of which one is sorted first: time, not the result, depends on it."""
_BLUR_PX: Final = 1.0
"""Standard deviation of the blur that takes the noise off."""
_PATCH_PX: Final = 5
"""Side of the patches that motion is told of (chosen, not measured)."""
SLACK_PX: Final = 2.0
"""How far a body may be from where its motion before or after a step puts it. Near 5 g (landing
from a jump, from memory) are 5 cm in a thirtieth of a second, two pixels of an athlete who is half
as tall as the picture's long side."""
_SHIFTS_PX: Final = tuple(
    (x * SLACK_PX / 2, y * SLACK_PX / 2)
    for x in range(-2, 3)
    for y in range(-2, 3)
    if x * x + y * y <= 4
)
"""Places within that distance at which a picture is looked for."""


def small_grey(picture: npt.NDArray[np.uint8]) -> Grey:
    """Scale an RGB (h, w, 3) or grey (h, w) picture to a long side of `LONG_SIDE_PX`, grey."""
    height, width = picture.shape[:2]
    scale = min(1.0, LONG_SIDE_PX / max(height, width))
    size = (max(8, round(width * scale)), max(8, round(height * scale)))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return np.asarray(
        small if small.ndim == 2 else cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), dtype=np.uint8
    )


def smooth(grey: Grey) -> FloatPicture:
    """Take the noise off a small picture."""
    blurred = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), _BLUR_PX)
    return np.asarray(blurred, dtype=np.float32)


@dataclass(frozen=True, slots=True)
class Step:
    """Grey levels (0 to 255) by which a picture differs from what came before.

    Each is the mean over the `TOP_SHARE` of the picture that differs most.

    Attributes
    ----------
    change
        From the picture before.
    unexplained
        What no motion that a body can make explains.
    """

    change: float
    unexplained: float


class Flow:
    """Dense optical flow between small pictures (Kroeger et al. 2016, inverse search)."""

    def __init__(self) -> None:
        self._search = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_ULTRAFAST)
        self._search.setFinestScale(0)
        self._grid: FloatPicture = np.zeros((0, 0, 2), dtype=np.float32)

    def back(self, picture: Grey, before: Grey) -> FloatPicture:
        """(h, w, 2) pixels from each point of ``picture`` to the same point in ``before``."""
        return np.asarray(
            self._search.calc(picture, before, np.zeros((*picture.shape, 2), np.float32)),
            dtype=np.float32,
        )

    def moved(self, before: FloatPicture, flow: FloatPicture) -> FloatPicture:
        """Return ``before`` as it would look after moving along ``flow``."""
        if self._grid.shape != flow.shape:
            height, width = flow.shape[:2]
            columns, rows = np.meshgrid(np.arange(width), np.arange(height))
            self._grid = np.stack([columns, rows], axis=-1).astype(np.float32)
        warped = cv2.remap(
            before, self._grid + flow, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        return np.asarray(warped, dtype=np.float32)

    def unexplained(
        self, before: FloatPicture, picture: FloatPicture, expected: Sequence[FloatPicture]
    ) -> FloatPicture:
        """Difference of two pictures that is left after the best motion near an expected one.

        Parameters
        ----------
        before, picture
            (h, w) smooth pictures.
        expected
            Flows (h, w, 2) back from ``picture``, as the motion before or after the step has it.
            Each patch may be `SLACK_PX` off any of them.
        """
        height, width = picture.shape
        left = np.full_like(picture, np.inf)
        for flow in expected:
            moved = self.moved(before, flow)
            for x, y in _SHIFTS_PX:
                shift = np.array([[1, 0, x], [0, 1, y]], dtype=np.float32)
                there = np.asarray(
                    cv2.warpAffine(moved, shift, (width, height), borderMode=cv2.BORDER_REPLICATE),
                    dtype=np.float32,
                )
                np.minimum(left, differences(there, picture), out=left)
        return left


def differences(first: FloatPicture, second: FloatPicture) -> FloatPicture:
    """Absolute difference, averaged over small patches."""
    return np.asarray(
        cv2.blur(cv2.absdiff(first, second), (_PATCH_PX, _PATCH_PX)), dtype=np.float32
    )


def largest(values: npt.NDArray[np.float32]) -> float:
    """Mean of the largest `TOP_SHARE` of the values."""
    flat = values.ravel()
    count = flat.size - int((1.0 - TOP_SHARE) * flat.size)
    # Most of a picture hardly changes: what is far below a sample's largest need not be sorted.
    sample = np.sort(flat[::_SAMPLE_EVERY])
    likely = flat[flat > 0.5 * sample[int((1.0 - TOP_SHARE) * sample.size)]]
    if likely.size >= count:
        flat = likely
    start = flat.size - count
    return float(np.partition(flat, start)[start:].mean())
