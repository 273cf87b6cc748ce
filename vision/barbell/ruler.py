"""How large the plates of a barbell look: they are made to measure, so they tell how far all is.

A plate stands across the bar. Where that plane is in the picture is known from the body that holds
the bar, up to scale; a picture warped onto it shows the plate round from wherever it is filmed. The
rim is where edges run along a circle.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
Picture = npt.NDArray[np.uint8]

PLATE_RADIUS_M: Final = 0.225
"""Half the diameter of the largest discs, 450 mm (IWF TCRR); bumpers of other weights have it, too.
Worn or cheap ones are up to a centimetre off: `_MADE`."""
_MADE: Final = 0.01
SLEEVE_M: Final = 0.72
"""Where plates stand, from the bar's middle: half of 1310 mm between the collars (IWF TCRR), and
half of some plates."""

RADII_M: Final = np.linspace(0.185, 0.275, 37)
"""Radii that are tried, in a body of assumed stature: of people of 1.42 to 2.10 m."""
_REACH_M: Final = 0.11
"""How far a bar's middle is from a wrist, at most."""
_CELL_M: Final = 0.004
"""Side of a cell in which a picture of the plate is drawn: about a pixel at five metres."""
_STEP_CELLS: Final = 4
"""Between centres that are tried at first; then each cell about the best."""
_ANGLES: Final = 48
"""Points of a rim that are asked: one every three centimetres of the largest disc."""
_HALF_CELLS: Final = int((_REACH_M + RADII_M[-1]) / _CELL_M) + 3 + _STEP_CELLS
_NOISE: Final = 10.0
"""A change of brightness from cell to cell that is as likely noise as an edge, of 255."""
_FEWEST: Final = 6
"""Pictures of a plate from which it is measured (chosen, not measured)."""
_ROUND: Final = 0.1
"""How much more of the best circle's rim is an edge than of a usual one's where there is one."""
_PATCH_SPREAD: Final = 0.025
"""Error of what one plate tells in one film: in three labelled pairs all plates together were off
by 0.7, 1.4 and 3.5 %."""


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """What one picture shows of one plate: by radius, how much of a circle's rim is an edge.

    Attributes
    ----------
    plate
        Which plate of which film it is.
    share
        (radii,) of the best circle of each of `RADII_M`, 0 to 1.
    """

    plate: tuple[int, int]
    share: FloatArray


def rim_of(picture: Picture, plate: tuple[int, int], to_px: FloatArray, hand_m: FloatArray) -> Rim:
    """Look for circles about a hand in the plane of a plate.

    Parameters
    ----------
    picture
        (height, width, 3) RGB.
    plate
        Which plate of which film it is.
    to_px
        (3, 3) from the plane, metres ahead and up, to the picture.
    hand_m
        (2,) place of the hand in that plane.
    """
    ahead_m, up_m = hand_m
    half = _HALF_CELLS * _CELL_M
    from_cells = np.array([[_CELL_M, 0, ahead_m - half], [0, -_CELL_M, up_m + half], [0, 0, 1.0]])
    size = 2 * _HALF_CELLS + 1
    seen = cv2.warpPerspective(
        cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY),
        to_px @ from_cells,
        (size, size),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    grey = np.asarray(cv2.GaussianBlur(seen.astype(np.float32), (5, 5), 0), np.float64)
    rise = np.stack([np.gradient(grey, axis=1), np.gradient(grey, axis=0)])
    across, down = rise / (np.hypot(*rise) + _NOISE)
    reach = int(_REACH_M / _CELL_M)
    every = np.arange(-reach, reach + 1, _STEP_CELLS) + _HALF_CELLS
    rough = _shares(across, down, every, every)
    _, row, column = np.unravel_index(rough.argmax(), rough.shape)
    near = np.arange(1 - _STEP_CELLS, _STEP_CELLS)
    fine = _shares(across, down, every[row] + near, every[column] + near)
    return Rim(plate, fine.max(axis=(1, 2)))


def _shares(across: FloatArray, down: FloatArray, rows: IntArray, columns: IntArray) -> FloatArray:
    """How much of each circle's rim is an edge, (radii, rows, columns) of its centre."""
    turns = 2 * np.pi * np.arange(_ANGLES) / _ANGLES
    sight = np.stack([np.cos(turns), np.sin(turns)])
    shares = np.zeros((len(RADII_M), len(rows), len(columns)))
    for index, radius in enumerate(RADII_M / _CELL_M):
        x, y = (np.rint(radius * one).astype(int) for one in sight)
        here = rows[:, None, None] + y, columns[None, :, None] + x
        along = np.abs(across[here] * sight[0] + down[here] * sight[1])
        shares[index] = along.mean(axis=2)
    return shares


def plates_scale(rims: Sequence[Rim]) -> tuple[float, float] | None:
    """Size of a plate over its size in the body's measure.

    Returns
    -------
    scale, spread
        And its standard uncertainty as a share of itself; None where plates were not seen well
        enough, or say different things.
    """
    found = []
    for plate in sorted({rim.plate for rim in rims}):
        shares = np.array([rim.share for rim in rims if rim.plate == plate])
        if len(shares) >= _FEWEST:
            radius = _peak_m(shares.mean(axis=0))
            if radius is not None:
                found.append(np.log(PLATE_RADIUS_M / radius))
    if not found:
        return None
    spread = float(np.hypot(max(_PATCH_SPREAD, np.std(found)) / np.sqrt(len(found)), _MADE))
    return float(np.exp(np.median(found))), spread


def _peak_m(share: FloatArray) -> float | None:
    """Radius of the circle that shows most of a rim; None where none stands out."""
    best = int(share.argmax())
    if best in (0, len(share) - 1) or share[best] - np.median(share) < _ROUND:
        return None
    before, here, after = share[best - 1 : best + 2]
    bend = before - 2 * here + after
    part = 0.0 if bend == 0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
    return float(RADII_M[best] + part * (RADII_M[1] - RADII_M[0]))
