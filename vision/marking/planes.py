"""Drawing straight on the brightness and colour planes that films are stored in.

A film's picture is stored as one full-size plane of brightness and two half-size planes of
colour (4:2:0). Drawing there spares two conversions of every picture to and from red, green and
blue, which would cost more than all drawing together.
"""

from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
import numpy.typing as npt

Plane = npt.NDArray[np.uint8]
Colour = tuple[int, int, int]

_SUB_PIXEL_BITS: Final = 4
"""Lines are placed to a sixteenth of a pixel, so that they do not jump from picture to picture."""


@dataclass(frozen=True, slots=True, eq=False)
class Planes:
    """One upright picture: ``y`` (height, width), ``u`` and ``v`` (height / 2, width / 2).

    All three are writable; sides of ``y`` are even.
    """

    y: Plane
    u: Plane
    v: Plane

    @property
    def width_px(self) -> int:
        """Width of the picture."""
        return int(self.y.shape[1])

    @property
    def height_px(self) -> int:
        """Height of the picture."""
        return int(self.y.shape[0])


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """A small see-through picture that is laid over a film: planes and how opaque each is.

    ``alpha`` and ``alpha_half`` hold 0 (clear) to 256 (opaque) at full and half size.
    """

    y: npt.NDArray[np.uint16]
    u: npt.NDArray[np.uint16]
    v: npt.NDArray[np.uint16]
    alpha: npt.NDArray[np.uint16]
    alpha_half: npt.NDArray[np.uint16]


def yuv(red: int, green: int, blue: int) -> Colour:
    """Convert a colour to limited-range BT.709, the coding of high-definition film."""
    luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    return (
        round(16 + luma * 219 / 255),
        round(128 + (blue - luma) / 1.8556 * 224 / 255),
        round(128 + (red - luma) / 1.5748 * 224 / 255),
    )


def line(
    planes: Planes,
    start_px: tuple[float, float],
    end_px: tuple[float, float],
    colour: Colour,
    width_px: float,
) -> None:
    """Draw a straight line; ends outside the picture are cut off."""
    for plane, value, scale in _each(planes, colour):
        cv2.line(
            plane,
            _fixed(start_px, scale),
            _fixed(end_px, scale),
            (value,),
            max(1, round(width_px * scale)),
            cv2.LINE_AA,
            _SUB_PIXEL_BITS,
        )


def taper(
    planes: Planes,
    start_px: tuple[float, float],
    end_px: tuple[float, float],
    colour: Colour,
    start_width_px: float,
    end_width_px: float,
) -> None:
    """Draw a bar that narrows from one end to the other; shorter than a pixel it is left out."""
    along = np.subtract(end_px, start_px)
    length = float(np.hypot(*along))
    if length < 1.0:
        return
    across = np.array([-along[1], along[0]]) / (2.0 * length)
    corners = np.array(
        [
            start_px + across * start_width_px,
            end_px + across * end_width_px,
            end_px - across * end_width_px,
            start_px - across * start_width_px,
        ]
    )
    for plane, value, scale in _each(planes, colour):
        fixed = np.round(corners * scale * (1 << _SUB_PIXEL_BITS)).astype(np.int32)
        cv2.fillConvexPoly(plane, fixed, (value,), cv2.LINE_AA, _SUB_PIXEL_BITS)


def blend(planes: Planes, over: Planes, share: float) -> None:
    """Mix another picture of the same size into this one."""
    for plane, other in ((planes.y, over.y), (planes.u, over.u), (planes.v, over.v)):
        cv2.addWeighted(other, share, plane, 1.0 - share, 0.0, plane)


def patch_of(rgba: Plane) -> Patch:
    """Convert a (height, width, 4) picture with even sides to a patch."""
    alpha = (rgba[:, :, 3].astype(np.uint32) * 256 // 255).astype(np.uint16)
    red, green, blue = (rgba[:, :, channel].astype(np.float32) for channel in range(3))
    luma = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    scale = 224 / 255
    return Patch(
        y=np.round(16 + luma * 219 / 255).astype(np.uint16),
        u=_halved(128 + (blue - luma) / 1.8556 * scale),
        v=_halved(128 + (red - luma) / 1.5748 * scale),
        alpha=alpha,
        alpha_half=_halved(alpha.astype(np.float32)),
    )


def lay(planes: Planes, patch: Patch, left_px: int, top_px: int) -> None:
    """Lay a patch over a picture, its corner at even coordinates; what juts out is cut off."""
    left, top = left_px & ~1, top_px & ~1
    width = min(patch.y.shape[1], planes.width_px - left)
    height = min(patch.y.shape[0], planes.height_px - top)
    if width <= 1 or height <= 1 or left < 0 or top < 0:
        return
    _mix(planes.y[top : top + height, left : left + width], patch.y, patch.alpha)
    rows = slice(top // 2, (top + height) // 2)
    columns = slice(left // 2, (left + width) // 2)
    _mix(planes.u[rows, columns], patch.u, patch.alpha_half)
    _mix(planes.v[rows, columns], patch.v, patch.alpha_half)


def pixelate(planes: Planes, left: float, top: float, right: float, bottom: float) -> None:
    """Replace an ellipse inside a box by coarse squares, so that no face can be made out."""
    for plane, scale in ((planes.y, 1.0), (planes.u, 0.5), (planes.v, 0.5)):
        height, width = plane.shape
        x0, x1 = max(int(left * scale), 0), min(int(np.ceil(right * scale)), width)
        y0, y1 = max(int(top * scale), 0), min(int(np.ceil(bottom * scale)), height)
        if x1 <= x0 or y1 <= y0:
            continue
        region = plane[y0:y1, x0:x1]
        coarse = cv2.resize(region, (_SQUARES, _SQUARES), interpolation=cv2.INTER_AREA)
        blocks = cv2.resize(coarse, (x1 - x0, y1 - y0), interpolation=cv2.INTER_NEAREST)
        inside = np.zeros(region.shape, np.uint8)
        centre = (
            round(((left + right) / 2 * scale - x0) * 16),
            round(((top + bottom) / 2 * scale - y0) * 16),
        )
        reach = (round((right - left) / 2 * scale * 16), round((bottom - top) / 2 * scale * 16))
        cv2.ellipse(inside, centre, reach, 0.0, 0.0, 360.0, (255,), -1, cv2.LINE_8, 4)
        cv2.copyTo(blocks, inside, region)


_SQUARES: Final = 5
"""A side of what is left of a hidden face: by eye, no source."""


def _each(planes: Planes, colour: Colour) -> tuple[tuple[Any, int, float], ...]:
    return (
        (planes.y, colour[0], 1.0),
        (planes.u, colour[1], 0.5),
        (planes.v, colour[2], 0.5),
    )


def _fixed(point_px: tuple[float, float], scale: float) -> tuple[int, int]:
    factor = scale * (1 << _SUB_PIXEL_BITS)
    return round(point_px[0] * factor), round(point_px[1] * factor)


def _mix(under: Plane, over: npt.NDArray[np.uint16], alpha: npt.NDArray[np.uint16]) -> None:
    height, width = under.shape
    share = alpha[:height, :width]
    mixed = under.astype(np.uint16) * (256 - share) + over[:height, :width] * share
    under[...] = mixed >> 8


def _halved(values: npt.NDArray[np.float32]) -> npt.NDArray[np.uint16]:
    height, width = values.shape
    blocks = values.reshape(height // 2, 2, width // 2, 2)
    halved: npt.NDArray[np.uint16] = np.round(blocks.mean(axis=(1, 3))).astype(np.uint16)
    return halved
