"""BlazePose: the 33 landmarks of one person in a region of a picture.

The network is that of MediaPipe's pose landmarker bundles, run directly. MediaPipe's own
pipeline around them chooses the region by itself and smooths landmarks causally, which rounds off
the turning points that decide a rep; here the caller chooses each region, and nothing is smoothed.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.pose.bundle import Bundle
from vision.pose.interpreter import Interpreter
from vision.pose.landmarks import LANDMARK_COUNT
from vision.pose.outline import Outline
from vision.pose.region import Picture, Region, region_around

FloatArray = npt.NDArray[np.float64]

LANDMARK_PX: Final = 256
_POINTS: Final = LANDMARK_COUNT + 6  # the body's circle (2) and four more that are not used
_CIRCLE: Final = (33, 34)
_WHITE: Final = np.float32(255.0)
"""The networks take colours from 0 to 1."""
_DEPTH_SCALE: Final = 0.4
"""Of the network's depth to pixels: as the published graph of these networks scales it."""
_REFINE_RADIUS: Final = 3
_SURE: Final = 0.5
"""Cells of a heat map beside a landmark that pull at it, and the height from which they do
(the published graph of these networks)."""


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """Landmarks of one person in one picture.

    Attributes
    ----------
    image_px
        (33, 2) positions in the picture, x right, y down, pixels.
    depth_px
        (33,) depth relative to the hips in the picture's scale, positive away from the camera.
    world_m
        (33, 3) the model's metric guess, origin between the hips, metres.
    visibility
        (33,) probability that a landmark is in the picture and not hidden.
    sharpness
        (33,) height of the landmark's peak in the network's heat map, 0 to 1. Measured on 700
        looks at side views with plates: the median error is 11 % of stature below 0.3, 3.7 % at
        0.5 to 0.6, 1.7 % from 0.8 on; `visibility` tells hardly anything of it (9 % to 3.8 %).
    confidence
        Probability that the region shows a person at all.
    outline
        Which part of the square the body covers.
    region
        Where to look for this person in the next picture.
    """

    image_px: FloatArray
    depth_px: FloatArray
    world_m: FloatArray
    visibility: FloatArray
    sharpness: FloatArray
    confidence: float
    outline: Outline
    region: Region


class BlazePose:
    """One loaded model; not to be shared between threads."""

    def __init__(self, bundle: Bundle) -> None:
        self._landmarks = Interpreter(bundle.landmarks)

    def look(self, picture: Picture, region: Region) -> Pose:
        """Read the landmarks of the person in a region of an RGB picture."""
        crop = region.cut(picture, LANDMARK_PX)
        heads = self._landmarks.run(np.divide(crop, _WHITE, dtype=np.float32)[None])
        raw, flag, drawn, heat, world = heads.values()
        values = raw.reshape(_POINTS, 5).astype(np.float64)
        unit, peaks = _refined(values[:, :2] / LANDMARK_PX, heat[0])
        placed = region.to_picture(unit)
        metric = world.reshape(_POINTS, 3)[:LANDMARK_COUNT].astype(np.float64)
        cos, sin = math.cos(region.turn_rad), math.sin(region.turn_rad)
        turned = metric.copy()
        turned[:, 0] = metric[:, 0] * cos - metric[:, 1] * sin
        turned[:, 1] = metric[:, 0] * sin + metric[:, 1] * cos
        centre, rim = placed[_CIRCLE[0]], placed[_CIRCLE[1]]
        depth = values[:LANDMARK_COUNT, 2] / LANDMARK_PX * region.side_px
        return Pose(
            image_px=placed[:LANDMARK_COUNT],
            depth_px=depth * _DEPTH_SCALE,
            world_m=turned,
            visibility=_sigmoid(values[:LANDMARK_COUNT, 3]),
            sharpness=peaks[:LANDMARK_COUNT],
            confidence=float(flag[0, 0]),
            outline=Outline.of(drawn[0, ..., 0], region),
            region=region_around((centre[0], centre[1]), (rim[0], rim[1])),
        )


def _sigmoid(x: FloatArray) -> FloatArray:
    result: FloatArray = 1.0 / (1.0 + np.exp(-x))
    return result


def _refined(unit: FloatArray, heat: npt.NDArray[np.float32]) -> tuple[FloatArray, FloatArray]:
    """Pull each point to the centre of gravity of its heat map around it, where that is sure.

    Returns the (points, 2) pulled points and the (points,) peaks of the heat maps.
    """
    rows, columns, points = heat.shape
    peaks = _sigmoid(heat.reshape(-1, points).max(axis=0).astype(np.float64))
    cell = np.trunc(unit * (columns, rows)).astype(np.int64)
    inside = np.all((cell >= 0) & (cell < (columns, rows)), axis=1)
    reach = np.arange(-_REFINE_RADIUS, _REFINE_RADIUS + 1)
    column = cell[:, 0, None] + reach
    row = cell[:, 1, None] + reach
    column_in = (column >= 0) & (column < columns)
    row_in = (row >= 0) & (row < rows)
    window = heat[
        np.clip(row, 0, rows - 1)[:, :, None],
        np.clip(column, 0, columns - 1)[:, None, :],
        np.arange(points)[:, None, None],
    ]
    weight = _sigmoid(window.astype(np.float64))
    weight *= row_in[:, :, None] & column_in[:, None, :]
    total = np.maximum(weight.sum(axis=(1, 2)), 1e-12)
    sure = inside & (weight.max(axis=(1, 2)) >= _SURE)
    x = (weight.sum(axis=1) * column).sum(axis=1) / columns / total
    y = (weight.sum(axis=2) * row).sum(axis=1) / rows / total
    return np.where(sure[:, None], np.stack([x, y], axis=1), unit), peaks
