"""From landmarks to body parts: steadied, weighed by visibility, cleared of impossible poses."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.signals.resampling import stretches
from vision.pose.landmarks import Landmark
from vision.track import BoolArray, FloatArray, PoseTrack

PARTS: Final[dict[str, tuple[Landmark, ...]]] = {
    "head": (
        Landmark.NOSE,
        Landmark.LEFT_EYE,
        Landmark.RIGHT_EYE,
        Landmark.LEFT_EAR,
        Landmark.RIGHT_EAR,
    ),
    "shoulder": (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER),
    "elbow": (Landmark.LEFT_ELBOW, Landmark.RIGHT_ELBOW),
    "wrist": (Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST),
    "hip": (Landmark.LEFT_HIP, Landmark.RIGHT_HIP),
    "knee": (Landmark.LEFT_KNEE, Landmark.RIGHT_KNEE),
    "ankle": (Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE),
}
"""Body parts and the landmarks that stand for them."""

SEGMENT_SHARES: Final = {
    ("shoulder", "hip"): 0.288,
    ("hip", "knee"): 0.245,
    ("knee", "ankle"): 0.246,
    ("shoulder", "elbow"): 0.186,
    ("elbow", "wrist"): 0.146,
}
"""Segment lengths as shares of stature (Drillis and Contini 1966, in Winter 2009, fig. 4.1)."""

_UNFORESHORTENED_PERCENTILE: Final = 90
"""Percentile of a segment's lengths in the picture at which it lies across the sight."""
_MIDDLING: Final = 60
_WILD: Final = 2.0
"""A length beyond so many times the 60th percentile is a misread one and left out of that (chosen,
not measured)."""
_LONGEST_SEGMENT: Final = 1.6
"""Times its usual share of stature: nearer to the camera than the rest, and no longer."""
_FOLDED: Final = 0.08
"""Apparent length of a trunk, in statures, that no upright body shows: a deadlift from the front
keeps 0.13."""

_CRUMPLED: Final = 0.3
"""Diagonal of the box around trunk and legs, in statures: even a plank seen from 35 degrees off its
length, or a deep squat from the front, fills more."""

_TRUNK_AND_LEGS: Final = (Landmark.NOSE, *PARTS["shoulder"], *PARTS["hip"], *PARTS["knee"],
                          *PARTS["ankle"])  # fmt: skip

_INVERTED: Final = 0.08
"""Hips this share of stature above the shoulders, feet above the hips: a body upside down."""

_FASTEST_PER_S: Final = 3.0
_JITTER: Final = 0.08
"""A trunk moves at most 5 m/s in this work, or 3 statures a second, and landmarks jitter."""

_FASTEST_HAND_PER_S: Final = 4.0
"""Hands that catch a bar or let it fall move at up to 5 m/s (common practice, no source); the trunk
they are seen from moves as well."""

_BLINK_S: Final = 0.12
"""Two frames at 30 a second, or three, that are misread between others that are not."""

_LONGEST_ASTRAY_S: Final = 1.5
_LONGEST_HAND_ASTRAY_S: Final = 0.5
"""Longest that trunk and hand are read elsewhere and come back: beyond, they were there (chosen,
not measured)."""
_WIDEST_PAIR: Final = 0.34
"""Shoulders are 0.259 statures wide, hips 0.191 (same source): with room for perspective."""


def steadied_px(track: PoseTrack) -> FloatArray:
    """(N, 33, 2) landmarks with the camera's measured shift and roll taken out."""
    # As complex numbers, where a turn is one product: x along, y across.
    centre = complex(track.width_px / 2, track.height_px / 2)
    place, shift = (_as_complex(values) for values in (track.image_px, track.camera_shift_px))
    # Landmarks are asked for one by one: each one's places lie together in memory.
    steady = place.T.copy()
    steady -= shift + centre
    steady *= np.exp(-1j * track.camera_roll_rad)
    steady += centre
    points: FloatArray = steady.view(np.float64).reshape(*steady.shape, 2).transpose(1, 0, 2)
    return points


def _as_complex(points: FloatArray) -> npt.NDArray[np.complex128]:
    """(...) numbers x + iy of points, (..., 2)."""
    joined: npt.NDArray[np.complex128] = np.ascontiguousarray(points).view(np.complex128)[..., 0]
    return joined


def part_px(points_px: FloatArray, visibility: FloatArray, part: Sequence[Landmark]) -> FloatArray:
    """(N, 2) mean of a part's landmarks, each weighed by how well it was seen; NaN if unseen."""
    chosen = points_px[:, list(part), :]
    weight = np.maximum(visibility[:, list(part)], 0.02) ** 2 * np.isfinite(chosen[..., 0])
    total = weight.sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean: FloatArray = (
            np.nansum(chosen * weight[..., None], axis=1)
            / np.where(total > 0, total, np.nan)[:, None]
        )
    return mean


def stature_px(points_px: FloatArray) -> float:
    """Apparent body height, from the lengths that each segment shows when it faces the camera.

    Every segment is foreshortened at times but never stretched, so that a high percentile of its
    length over the film, divided by its usual share of stature, gives a stature; the median over
    segments stands against single bad joints. Lengths far beyond a middling one are wild frames
    and left out first. NaN where no segment was seen.
    """
    found = []
    for (upper, lower), share in SEGMENT_SHARES.items():
        for one, other in zip(PARTS[upper], PARTS[lower], strict=True):
            length = np.linalg.norm(points_px[:, one] - points_px[:, other], axis=1)
            length = length[np.isfinite(length)]
            if length.size:
                length = length[length <= _WILD * np.percentile(length, _MIDDLING)]
                found.append(np.percentile(length, _UNFORESHORTENED_PERCENTILE) / share)
    return float(np.median(found)) if found else float("nan")


def plausible(points_px: FloatArray, stature: float) -> BoolArray:
    """(N,) whether a pose can be this athlete's.

    No segment is far too long, no pair of joints far too wide, and the body is not crumpled into a
    plate or a ball.
    """
    with np.errstate(invalid="ignore"):
        possible: BoolArray = np.asarray(np.isfinite(points_px[..., 0]).any(axis=1))
        for (upper, lower), share in SEGMENT_SHARES.items():
            for one, other in zip(PARTS[upper], PARTS[lower], strict=True):
                length = np.linalg.norm(points_px[:, one] - points_px[:, other], axis=1)
                possible &= np.asarray(~(length > _LONGEST_SEGMENT * share * stature))
        for part in ("shoulder", "hip"):
            left, right = PARTS[part]
            width = np.linalg.norm(points_px[:, left] - points_px[:, right], axis=1)
            possible &= np.asarray(~(width > _WIDEST_PAIR * stature))
        trunk_and_legs = points_px[:, list(_TRUNK_AND_LEGS)]
        extent = np.ptp(trunk_and_legs, axis=1)
        possible &= np.asarray(~(np.hypot(*extent.T) < _CRUMPLED * stature))
    return possible


def inverted(points_px: FloatArray, stature: float, *, upright: bool) -> BoolArray:
    """(N,) whether a pose stands on its head, as networks now and then see a body.

    Hips are then in about the right place; what should be above and below them is not.

    Parameters
    ----------
    points_px
        (N, 33, 2) landmarks.
    stature
        Apparent body height, pixels.
    upright
        Whether the shoulders stay above the hips in all that is done: then a trunk folded into
        nothing is no better. If not, the feet have to be above the hips too.
    """
    level = {
        part: points_px[:, list(PARTS[part]), 1].mean(axis=1)
        for part in ("shoulder", "hip", "ankle")
    }
    with np.errstate(invalid="ignore"):
        head_down = level["shoulder"] - level["hip"] > _INVERTED * stature
        feet_up = level["hip"] - level["ankle"] > _INVERTED * stature
        if not upright:
            return np.asarray(head_down & feet_up)
        trunk = np.linalg.norm(
            points_px[:, list(PARTS["shoulder"])].mean(axis=1)
            - points_px[:, list(PARTS["hip"])].mean(axis=1),
            axis=1,
        )
        return np.asarray(head_down | (trunk < _FOLDED * stature))


def elsewhere(time_s: FloatArray, points_px: FloatArray, stature: float) -> BoolArray:
    """(N,) True in short stretches in which the whole body is where no body can get in time.

    The trunk's centre is followed from frame to frame: where it leaps faster than anybody falls,
    it is another person or a piece of the room.
    """
    if not stature > 0:
        return np.zeros(len(time_s), bool)
    trunk = points_px[:, [*PARTS["shoulder"], *PARTS["hip"]]].mean(axis=1)
    return _astray(time_s, trunk / stature, _FASTEST_PER_S, _LONGEST_ASTRAY_S)


def hands_elsewhere(time_s: FloatArray, points_px: FloatArray, stature: float) -> BoolArray:
    """(N, 2) likewise for the left and the right wrist, as seen from the trunk.

    Arms before a wall of their own colour are now and then drawn hanging while they hold a bar
    overhead. Only hands that come back are astray: where a film begins or ends, nobody knows.
    """
    astray: BoolArray = np.zeros((len(time_s), 2), bool)
    if not stature > 0:
        return astray
    trunk = points_px[:, [*PARTS["shoulder"], *PARTS["hip"]]].mean(axis=1)
    for side, wrist in enumerate(PARTS["wrist"]):
        place = (points_px[:, wrist] - trunk) / stature
        away = _astray(time_s, place, _FASTEST_HAND_PER_S, _LONGEST_HAND_ASTRAY_S)
        seen = np.flatnonzero(np.isfinite(place).all(axis=1))
        at_start = np.flatnonzero(~away[seen])
        if at_start.size:
            away[seen[: at_start[0]]] = away[seen[at_start[-1] :]] = False
            astray[:, side] = away
    return astray


def _astray(
    time_s: FloatArray, place: FloatArray, fastest_per_s: float, longest_s: float
) -> BoolArray:
    """(N,) True in short stretches that a place, (N, 2) in statures, cannot get to in time.

    Around leaps the course is sought that leaves out the least: two frames that were misread, not
    all that follows them.
    """
    seen = np.flatnonzero(np.isfinite(place).all(axis=1))
    astray: BoolArray = np.zeros(time_s.shape, bool)
    if seen.size < 3:
        return astray
    at_s, where = time_s[seen], place[seen]
    steps = np.hypot(*np.diff(where, axis=0).T)
    leapt = np.append(steps > fastest_per_s * np.diff(at_s) + _JITTER, False)
    near: BoolArray = np.zeros(seen.size, bool)
    for before in np.flatnonzero(leapt):
        around_s = at_s[before] - longest_s, at_s[before + 1] + longest_s
        first, end = np.searchsorted(at_s, around_s)
        near[first:end] = True
    for first, end in stretches(near):
        part = slice(first, end)
        left_out = ~_course(at_s[part], where[part], leapt[part], fastest_per_s, longest_s)
        astray[seen[part][left_out]] = True
    return astray


def _course(
    at_s: FloatArray,
    where: FloatArray,
    leapt: BoolArray,
    fastest_per_s: float,
    longest_s: float,
) -> BoolArray:
    """(n,) which places are on the longest course that can be kept to, by dynamic programming.

    ``at_s`` (n,) in seconds, ``where`` (n, 2) in statures, without NaN.

    A place counts for as long as it is shown. What is left out in between is a blink, or all from
    one leap (``leapt``: the next place is out of reach) to another, for less than ``longest_s``: or
    else the course would stray onto somebody near by. A leap that is taken costs half of that, so
    that whoever leaps away and back again for longer is followed.
    """
    usual_s = float(np.median(np.diff(at_s)))
    shown_s = np.minimum(np.diff(at_s, prepend=at_s[0] - usual_s), usual_s)
    best = shown_s.copy()
    before = np.full(at_s.size, -1)
    first = np.searchsorted(at_s, at_s - longest_s)
    for now in range(1, at_s.size):
        earlier = slice(int(min(first[now], now - 1)), now)
        away = where[earlier] - where[now]
        apart_s = at_s[now] - at_s[earlier]
        reached = np.hypot(*away.T) <= fastest_per_s * apart_s + _JITTER
        reached &= (apart_s < _BLINK_S) | (leapt[earlier] & leapt[now - 1])
        worth = np.where(reached, best[earlier], -np.inf)
        if not leapt[now - 1]:
            worth[-1] = best[now - 1]
        worth[-1] = max(worth[-1], best[now - 1] - longest_s / 2)
        place = int(np.argmax(worth))
        if worth[place] > 0:
            best[now] += worth[place]
            before[now] = earlier.start + place
    kept: BoolArray = np.zeros(at_s.size, bool)
    now = int(np.argmax(best))
    while now >= 0:
        kept[now] = True
        now = int(before[now])
    return kept
