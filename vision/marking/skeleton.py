"""The athlete's pose as lines over the picture."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from vision.marking.planes import Colour, Planes, disc, line, yuv
from vision.pose.landmarks import Landmark
from vision.track import FloatArray, PoseTrack

_LEFT: Final = yuv(120, 214, 255)
_RIGHT: Final = yuv(255, 196, 110)
_MIDDLE: Final = yuv(240, 240, 240)
_EDGE: Final = yuv(18, 22, 26)

_LIMBS: Final[Sequence[tuple[Landmark, Landmark, Colour]]] = (
    (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER, _MIDDLE),
    (Landmark.LEFT_HIP, Landmark.RIGHT_HIP, _MIDDLE),
    (Landmark.LEFT_SHOULDER, Landmark.LEFT_HIP, _MIDDLE),
    (Landmark.RIGHT_SHOULDER, Landmark.RIGHT_HIP, _MIDDLE),
    (Landmark.LEFT_SHOULDER, Landmark.LEFT_ELBOW, _LEFT),
    (Landmark.LEFT_ELBOW, Landmark.LEFT_WRIST, _LEFT),
    (Landmark.LEFT_HIP, Landmark.LEFT_KNEE, _LEFT),
    (Landmark.LEFT_KNEE, Landmark.LEFT_ANKLE, _LEFT),
    (Landmark.LEFT_HEEL, Landmark.LEFT_FOOT_INDEX, _LEFT),
    (Landmark.RIGHT_SHOULDER, Landmark.RIGHT_ELBOW, _RIGHT),
    (Landmark.RIGHT_ELBOW, Landmark.RIGHT_WRIST, _RIGHT),
    (Landmark.RIGHT_HIP, Landmark.RIGHT_KNEE, _RIGHT),
    (Landmark.RIGHT_KNEE, Landmark.RIGHT_ANKLE, _RIGHT),
    (Landmark.RIGHT_HEEL, Landmark.RIGHT_FOOT_INDEX, _RIGHT),
)
_JOINTS: Final = tuple(
    landmark
    for landmark in Landmark
    if landmark.name.split("_")[-1] in {"SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE", "ANKLE"}
)
HIDDEN_BELOW: Final = 0.5
NEAREST_S: Final = 0.06


def row_at(track: PoseTrack, time_s: float) -> int | None:
    """Find the track's row for a film time; None where no row lies within two frames."""
    if not track.frames:
        return None
    after = int(np.searchsorted(track.time_s, time_s))
    rows = [row for row in (after - 1, after) if 0 <= row < track.frames]
    nearest = min(rows, key=lambda row: abs(float(track.time_s[row]) - time_s))
    return nearest if abs(float(track.time_s[nearest]) - time_s) <= NEAREST_S else None


def draw_skeleton(planes: Planes, image_px: FloatArray, visibility: FloatArray) -> None:
    """Draw one pose, the athlete's left and right in two colours, hidden limbs as thin lines.

    Parameters
    ----------
    planes
        The picture, drawn on in place.
    image_px, visibility
        (33, 2) and (33,) of one row of a track, in this picture's pixels. NaN is not drawn.
    """
    scale = max(planes.height_px, planes.width_px) / 1280.0
    drawn = [
        (
            _point(image_px, start),
            _point(image_px, end),
            colour,
            bool(min(visibility[start], visibility[end]) >= HIDDEN_BELOW),
        )
        for start, end, colour in _LIMBS
        if np.isfinite(image_px[[start, end]]).all()
    ]
    for start_px, end_px, _, visible in drawn:
        if visible:
            line(planes, start_px, end_px, _EDGE, 7.0 * scale)
    for start_px, end_px, colour, visible in drawn:
        line(planes, start_px, end_px, colour, (4.0 if visible else 1.5) * scale)
    for joint in _JOINTS:
        if np.isfinite(image_px[joint]).all() and visibility[joint] >= HIDDEN_BELOW:
            disc(planes, _point(image_px, joint), 4.5 * scale, _EDGE)
            disc(planes, _point(image_px, joint), 3.0 * scale, _MIDDLE)


def _point(image_px: FloatArray, landmark: int) -> tuple[float, float]:
    return float(image_px[landmark, 0]), float(image_px[landmark, 1])
