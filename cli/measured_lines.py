"""Where the measured line and its limit lie in the picture of the frame that decides a check.

Heights are two level lines: one at the mark that was measured, one where the limit would have put
that mark. Angles are the limb itself and a ray where the limit would have put it. They show where
to look; the value comes from the fitted body, not from the drawing.
"""

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from counting.body.evidence import STATURE_M
from counting.record.types import CheckPart, RepPart
from vision.marking.skeleton import row_at
from vision.pose.landmarks import Landmark
from vision.track import FloatArray, PoseTrack

_STATURES_SEEN: Final = 0.246 + 0.245
"""Hip to ankle in statures (Drillis and Contini 1966, in Winter 2009, fig. 4.1)."""

_MARKS: Final[dict[str, tuple[str, ...]]] = {
    "hip crease above knee top": ("HIP",),
    "chin above bar": ("MOUTH",),
    "chest to bar gap": ("SHOULDER",),
    "shoulders above bar": ("SHOULDER",),
    "chest above floor": ("SHOULDER",),
    "feet clear of floor": ("HEEL",),
    "wrists above shoulders": ("WRIST",),
    "wrists above crown": ("WRIST",),
    "plates on floor": ("WRIST",),
}
_JOINTS: Final[dict[str, tuple[str, str, str]]] = {
    "knee angle": ("HIP", "KNEE", "ANKLE"),
    "hip angle": ("SHOULDER", "HIP", "KNEE"),
    "elbow angle": ("SHOULDER", "ELBOW", "WRIST"),
    "body straightness": ("SHOULDER", "HIP", "ANKLE"),
}
_REACH: Final = 0.6
"""Half the length of a level line, over the length of the leg."""
_RAY: Final = 1.15
"""Length of the limit's ray over that of the limb, so that its end is seen beside the limb's."""


@dataclass(frozen=True, slots=True)
class MeasuredLine:
    """A line in picture pixels: ``limit`` is where the standard lies, ``measured`` the body."""

    kind: Literal["limit", "measured"]
    x1: float
    y1: float
    x2: float
    y2: float


def measured_lines(track: PoseTrack, rep: RepPart, check: CheckPart) -> list[MeasuredLine]:
    """Place a check's lines, the limit first; none where it has no picture or nobody was seen."""
    row = None if check.at_s is None or check.value is None else row_at(track, check.at_s)
    if row is None:
        return []
    points, visibility = track.image_px[row], track.visibility[row]
    if check.quantity in _JOINTS:
        return _angle(points, visibility, check)
    if check.quantity in _MARKS:
        return _height(points, check, _leg_px(track, rep))
    return []


def _angle(points: FloatArray, visibility: FloatArray, check: CheckPart) -> list[MeasuredLine]:
    joints = _JOINTS[check.quantity]
    side = _side(visibility, joints)
    a, b, c = (points[Landmark[f"{side}_{joint}"]] for joint in joints)
    if check.value is None or not np.isfinite([a, b, c]).all():
        return []
    first, second = a - b, (c - b) * _RAY
    turn = math.copysign(1.0, float(first[0] * second[1] - first[1] * second[0]))
    spread = turn * math.radians(check.limit - check.value)
    cos, sin = math.cos(spread), math.sin(spread)
    bound = b + np.array([cos * second[0] - sin * second[1], sin * second[0] + cos * second[1]])
    return [
        MeasuredLine("limit", *map(float, (*b, *bound))),
        MeasuredLine("measured", *map(float, (*a, *b))),
        MeasuredLine("measured", *map(float, (*b, *c))),
    ]


def _side(visibility: FloatArray, joints: tuple[str, ...]) -> str:
    """Choose the side of the body on which a limb is seen better."""
    seen = {
        side: min(float(visibility[Landmark[f"{side}_{joint}"]]) for joint in joints)
        for side in ("LEFT", "RIGHT")
    }
    return max(seen, key=lambda side: seen[side])


def _height(points: FloatArray, check: CheckPart, leg_px: float | None) -> list[MeasuredLine]:
    (mark,) = _MARKS[check.quantity]
    names = ("MOUTH_LEFT", "MOUTH_RIGHT") if mark == "MOUTH" else (f"LEFT_{mark}", f"RIGHT_{mark}")
    pair = points[[Landmark[name] for name in names]]
    if check.value is None or leg_px is None or not np.isfinite(pair).all():
        return []
    x, y = (float(value) for value in pair.mean(axis=0))
    below = (check.value - check.limit) * leg_px / (_STATURES_SEEN * 100.0 * STATURE_M)
    sign = -1.0 if check.quantity == "chest to bar gap" else 1.0
    left, right = x - _REACH * leg_px, x + _REACH * leg_px
    return [
        MeasuredLine("limit", left, y + sign * below, right, y + sign * below),
        MeasuredLine("measured", left, y, right, y),
    ]


def _leg_px(track: PoseTrack, rep: RepPart) -> float | None:
    """Longest leg seen in the rep, hip to ankle."""
    rows = (track.time_s >= rep.start_s) & (track.time_s <= rep.end_s)
    lengths = [
        np.linalg.norm(
            track.image_px[rows, Landmark[f"{side}_HIP"]]
            - track.image_px[rows, Landmark[f"{side}_ANKLE"]],
            axis=1,
        )
        for side in ("LEFT", "RIGHT")
    ]
    known = np.concatenate(lengths)
    known = known[np.isfinite(known)]
    return float(np.percentile(known, 95)) if len(known) else None
