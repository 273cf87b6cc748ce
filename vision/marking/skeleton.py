"""The athlete's pose as bars over the picture.

The left is pale yellow and full, the right violet with a dark core, so that they are told apart by
form and, yellow against violet, in all common kinds of colour blindness. One spine joins hips and
shoulders. A limb that is hidden, or that the track places only roughly, is faint.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from vision.marking.planes import Colour, Planes, blend, line, taper, yuv
from vision.pose.landmarks import Landmark
from vision.track import FloatArray, PoseTrack

LEFT_RGB: Final = (250, 226, 96)
RIGHT_RGB: Final = (136, 78, 214)
"""Yellow against violet, which all common kinds of colour blindness tell apart."""

_LEFT: Final = yuv(*LEFT_RGB)
_RIGHT: Final = yuv(*RIGHT_RGB)
_SPINE: Final = yuv(120, 206, 176)
_CORE: Final = yuv(34, 20, 52)
_EDGE: Final = yuv(18, 22, 26)
"""Colours of what belongs to neither side."""

HIDDEN_BELOW: Final = 0.5
ROUGH_FROM: Final = 0.1
"""Standard error, in lengths of the trunk, from which a limb is faint: about five centimetres, half
an upper arm's breadth, so that the joint may well lie beside the bar."""
FAINT: Final = 0.3
NEAREST_S: Final = 0.06
"""A pose is drawn on pictures this near to its own in time: at 30 Hz, with one picture left out."""

_THICK: Final = 0.1
"""Breadth of a bar where it begins, in lengths of the trunk; it ends at half of that."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Limb:
    start: Landmark
    end: Landmark
    colour: Colour
    hollow: bool


def _side(side: str, colour: Colour, *, hollow: bool) -> list[_Limb]:
    chains = (
        ("SHOULDER", "ELBOW", "WRIST"),
        ("HIP", "KNEE", "ANKLE"),
        ("HEEL", "FOOT_INDEX"),
    )
    return [
        _Limb(Landmark[f"{side}_{start}"], Landmark[f"{side}_{end}"], colour, hollow)
        for chain in chains
        for start, end in pairwise(chain)
    ]


_LIMBS: Final[Sequence[_Limb]] = (
    *_side("LEFT", _LEFT, hollow=False),
    *_side("RIGHT", _RIGHT, hollow=True),
)
_SHOULDERS: Final = (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
_HIPS: Final = (Landmark.LEFT_HIP, Landmark.RIGHT_HIP)


def row_at(track: PoseTrack, time_s: float) -> int | None:
    """Find the track's row for a film time; None where no row lies within two frames."""
    if not track.frames:
        return None
    after = int(np.searchsorted(track.time_s, time_s))
    rows = [row for row in (after - 1, after) if 0 <= row < track.frames]
    nearest = min(rows, key=lambda row: abs(float(track.time_s[row]) - time_s))
    return nearest if abs(float(track.time_s[nearest]) - time_s) <= NEAREST_S else None


def draw_skeleton(
    planes: Planes,
    image_px: FloatArray,
    visibility: FloatArray,
    error_px: FloatArray | None = None,
) -> None:
    """Draw one pose, its limbs faint where they are hidden or placed only roughly.

    Parameters
    ----------
    planes
        The picture, drawn on in place.
    image_px, visibility
        (33, 2) and (33,) of one row of a track, in this picture's pixels. NaN is not drawn.
    error_px
        (33,) standard error of each landmark, pixels; NaN, or None for all, where not known.
    """
    errors = np.full(len(image_px), np.nan) if error_px is None else error_px
    trunk_px = _trunk_px(image_px, planes)
    rough = (visibility < HIDDEN_BELOW) | (errors > ROUGH_FROM * trunk_px)
    thick_px = max(_THICK * trunk_px, 2.5)
    sure: list[_Limb] = []
    faint: list[_Limb] = []
    for limb in _LIMBS:
        ends = [limb.start, limb.end]
        if np.isfinite(image_px[ends]).all():
            (faint if rough[ends].any() else sure).append(limb)
    if faint:
        over = Planes(planes.y.copy(), planes.u.copy(), planes.v.copy())
        for limb in faint:
            _draw(over, limb, image_px, thick_px)
        blend(planes, over, FAINT)
    _draw_spine(planes, image_px, thick_px)
    for limb in sure:
        _draw(planes, limb, image_px, thick_px)


def _draw(planes: Planes, limb: _Limb, image_px: FloatArray, thick_px: float) -> None:
    start, end = _point(image_px[limb.start]), _point(image_px[limb.end])
    edge_px = max(0.25 * thick_px, 1.0)
    taper(planes, start, end, _EDGE, thick_px + edge_px, 0.5 * thick_px + edge_px)
    taper(planes, start, end, limb.colour, thick_px, 0.5 * thick_px)
    if limb.hollow:
        taper(planes, start, end, _CORE, 0.35 * thick_px, 0.18 * thick_px)


def _draw_spine(planes: Planes, image_px: FloatArray, thick_px: float) -> None:
    """Draw shoulders, hips and the line between their middles."""
    middles = [image_px[list(pair)].mean(axis=0) for pair in (_SHOULDERS, _HIPS)]
    bars = [(image_px[left], image_px[right]) for left, right in (_SHOULDERS, _HIPS)]
    for start, end in [*bars, (middles[0], middles[1])]:
        if np.isfinite([start, end]).all():
            line(planes, _point(start), _point(end), _EDGE, 0.55 * thick_px)
            line(planes, _point(start), _point(end), _SPINE, 0.35 * thick_px)


def _trunk_px(image_px: FloatArray, planes: Planes) -> float:
    """Length from the middle of the hips to that of the shoulders, held within reason."""
    size = max(planes.height_px, planes.width_px)
    trunk = image_px[list(_SHOULDERS)].mean(axis=0) - image_px[list(_HIPS)].mean(axis=0)
    breadth = image_px[_SHOULDERS[0]] - image_px[_SHOULDERS[1]]
    # Seen from above or below the trunk is short: the shoulders' breadth is two thirds of it.
    lengths = np.array([np.hypot(*trunk), 1.5 * np.hypot(*breadth), 0.03 * size])
    return float(min(np.nanmax(lengths), 0.3 * size))


def _point(place_px: FloatArray) -> Point:
    return float(place_px[0]), float(place_px[1])
