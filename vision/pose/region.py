"""The square, turned piece of a picture that a pose network looks at."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

Picture = npt.NDArray[np.uint8]
FloatArray = npt.NDArray[np.float64]

MARGIN = 1.25
"""The networks were trained on squares this much wider than the circle around the body."""


@dataclass(frozen=True, slots=True)
class Region:
    """A square in picture coordinates.

    Attributes
    ----------
    x_px, y_px
        Centre.
    side_px
        Length of a side.
    turn_rad
        Angle by which the square is turned, positive clockwise as seen, so that the body inside
        stands upright.
    """

    x_px: float
    y_px: float
    side_px: float
    turn_rad: float = 0.0

    def scaled(self, factor: float) -> "Region":
        """Return the region in a picture whose sides are ``factor`` times as long."""
        return Region(self.x_px * factor, self.y_px * factor, self.side_px * factor, self.turn_rad)

    def shifted(self, x_px: float, y_px: float) -> "Region":
        """Return the region moved right and down."""
        return Region(self.x_px + x_px, self.y_px + y_px, self.side_px, self.turn_rad)

    def widened(self, factor: float) -> "Region":
        """Return a region with the same centre and a side ``factor`` times as long."""
        return Region(self.x_px, self.y_px, self.side_px * factor, self.turn_rad)

    def to_picture(self, unit: FloatArray) -> FloatArray:
        """Map (..., 2) points of the unit square of the region to picture coordinates, pixels."""
        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        centred = (unit - 0.5) * self.side_px
        x = centred[..., 0] * cos - centred[..., 1] * sin + self.x_px
        y = centred[..., 0] * sin + centred[..., 1] * cos + self.y_px
        return np.stack([x, y], axis=-1)

    def to_unit(self, picture_px: FloatArray) -> FloatArray:
        """Map (..., 2) points of the picture to the unit square of the region."""
        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        centred = (picture_px - (self.x_px, self.y_px)) / self.side_px
        x = centred[..., 0] * cos + centred[..., 1] * sin
        y = centred[..., 1] * cos - centred[..., 0] * sin
        return np.stack([x, y], axis=-1) + 0.5

    def cut(self, picture: Picture, size_px: int) -> Picture:
        """Cut the region out as an upright ``size_px`` square; black outside the picture."""
        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        step = self.side_px / size_px
        half = (size_px - 1) / 2
        to_picture = np.array(
            [
                [cos * step, -sin * step, self.x_px - 0.5 - (cos - sin) * step * half],
                [sin * step, cos * step, self.y_px - 0.5 - (sin + cos) * step * half],
            ]
        )
        return cv2.warpAffine(  # type: ignore[return-value]
            picture,
            to_picture,
            (size_px, size_px),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(0, 0, 0),
        )


def region_around(
    centre_px: tuple[float, float], rim_px: tuple[float, float], margin: float = MARGIN
) -> Region:
    """Return the region of a body whose enclosing circle has a centre and a point on its rim.

    The rim point lies above the head of a standing body, so the direction to it is the body's
    upward direction.
    """
    dx, dy = rim_px[0] - centre_px[0], rim_px[1] - centre_px[1]
    turn = math.pi / 2 - math.atan2(-dy, dx)
    turn -= 2 * math.pi * math.floor((turn + math.pi) / (2 * math.pi))
    return Region(centre_px[0], centre_px[1], 2 * margin * math.hypot(dx, dy), turn)
