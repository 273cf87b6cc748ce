"""How the stored picture must be turned or mirrored to stand upright."""

import math
import struct
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from av.sidedata.sidedata import Type

Picture = npt.NDArray[np.uint8]

_ONE: Final = 65536  # 16.16 fixed point


@dataclass(frozen=True, slots=True)
class Orientation:
    """A quarter turn with or without mirroring, from a container's display matrix.

    A stored point (column p, row q) is shown at column ``a p + c q``, row ``b p + d q``.

    Attributes
    ----------
    a, b, c, d
        Each -1, 0 or 1.
    """

    a: int = 1
    b: int = 0
    c: int = 0
    d: int = 1

    @property
    def swaps_sides(self) -> bool:
        """Whether width and height change places."""
        return self.a == 0

    @property
    def mirrored(self) -> bool:
        """Whether left and right are exchanged, besides the turn."""
        return self.a * self.d - self.b * self.c < 0

    @property
    def rotation_deg(self) -> int:
        """Anticlockwise turn, after mirroring the stored picture left to right if mirrored."""
        right = -1 if self.mirrored else 1
        angles = {(1, 0): 0, (0, -1): 90, (-1, 0): 180, (0, 1): 270}
        return angles[self.a * right, self.b * right]

    @classmethod
    def of(cls, rotation_deg: int, mirrored: bool) -> "Orientation":
        """Return the orientation with this anticlockwise turn and mirroring."""
        right, turned = (-1 if mirrored else 1), math.radians(rotation_deg)
        cos, sin = round(math.cos(turned)), round(math.sin(turned))
        return cls(a=cos * right, b=-sin * right, c=sin, d=cos)

    def upright(self, picture: Picture) -> Picture:
        """Return the stored (height, width, ...) picture as it is to be shown."""
        if self.swaps_sides:
            picture = np.swapaxes(picture, 0, 1)
        column, row = (self.c, self.b) if self.swaps_sides else (self.a, self.d)
        return np.ascontiguousarray(picture[::row, ::column])


def orientation_of(frame: Any) -> Orientation:
    """Read the orientation from the side data of a decoded frame; upright where there is none.

    A turn that is no quarter turn is taken as the nearest one. Reading side data ties a frame into
    a reference cycle, which keeps its picture in memory for long: ask one frame of a film only.
    """
    matrix = frame.side_data.get(Type.DISPLAYMATRIX)
    if matrix is None:
        return Orientation()
    a, b, _, c, d = (value / _ONE for value in struct.unpack("=9i", bytes(matrix))[:5])
    if a == b == c == d == 0:
        return Orientation()
    if abs(a) + abs(d) >= abs(b) + abs(c):
        return Orientation(a=_sign(a), b=0, c=0, d=_sign(d))
    return Orientation(a=0, b=_sign(b), c=_sign(c), d=0)


def _sign(value: float) -> int:
    return -1 if value < 0 else 1
