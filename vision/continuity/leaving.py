"""When the athlete, or the hands with what they hold, leave the picture or are set elsewhere."""

from typing import Final

import numpy as np
import numpy.typing as npt

from vision.continuity.types import Evidence, Finding, FindingKind
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

Stretches = list[tuple[float, float]]
BoolArray = npt.NDArray[np.bool_]

_BODY: Final = [
    Landmark.LEFT_SHOULDER,
    Landmark.RIGHT_SHOULDER,
    Landmark.LEFT_HIP,
    Landmark.RIGHT_HIP,
    Landmark.LEFT_KNEE,
    Landmark.RIGHT_KNEE,
    Landmark.LEFT_ANKLE,
    Landmark.RIGHT_ANKLE,
]
_TRUNK: Final = _BODY[:4]
_HANDS: Final = [Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST]
_OUT_SHARE: Final = 1.0 / 3.0
"""Of shoulders, hips, knees and ankles outside the picture: by then the athlete has left it."""
_LEAST_S: Final = 0.5
"""Shorter, a landmark may have trembled over the edge (no source)."""
_EDGE: Final = 0.03
"""Share of the picture's width or height within which who is lost has left by the edge."""
_AT_REST_S: Final = 0.5
"""Looked at on either side of a step."""
_DISPLACED: Final = 0.15
"""Lengths of the trunk: several times what a resting one sways by in that time."""


def leaving(track: PoseTrack) -> list[Finding]:
    """Tell when the athlete, or both hands, are out of the picture."""
    gone: tuple[tuple[FindingKind, str, Stretches], ...] = (
        (
            "athlete out of the picture",
            "a third of the body or more is outside",
            athlete_out(track),
        ),
        ("hands out of the picture", "both hands are outside", hands_out(track)),
    )
    return [
        Finding(
            kind,
            start_s,
            end_s,
            False,
            (Evidence("picture", words, end_s - start_s, _LEAST_S, "s"),),
        )
        for kind, words, stretches in gone
        for start_s, end_s in stretches
    ]


def athlete_out(track: PoseTrack) -> Stretches:
    """Stretches of half a second and more with a third of the body outside the picture.

    Frames without a pose belong to such a stretch where the body was last seen at the edge.
    """
    outside: BoolArray = np.asarray(np.mean(_outside(track, _BODY), axis=1) >= _OUT_SHARE)
    at_edge = np.any(_outside(track, _BODY, _EDGE), axis=1)
    seen = track.seen
    gone = np.zeros(track.frames, dtype=bool)
    left_at_edge = False
    for row in range(track.frames):
        if seen[row]:
            left_at_edge = bool(at_edge[row])
        gone[row] = bool(outside[row]) if seen[row] else left_at_edge
    return _stretches(track, gone)


def hands_out(track: PoseTrack) -> Stretches:
    """Stretches of half a second and more with both wrists outside the picture."""
    return _stretches(track, np.all(_outside(track, _HANDS), axis=1) & track.seen)


def is_displaced(track: PoseTrack, before_s: float, after_s: float) -> bool:
    """Whether the trunk is elsewhere after a step than before it, with the athlete at rest.

    Landmarks between looks are interpolated, so half a second on either side is compared. A
    resting trunk sways by a few hundredths of its length in that time.
    """
    middle_px = np.nanmean(track.image_px[:, [int(point) for point in _TRUNK]], axis=1)
    sides = []
    for first_s, last_s in ((before_s - _AT_REST_S, before_s), (after_s, after_s + _AT_REST_S)):
        rows = (track.time_s >= first_s) & (track.time_s <= last_s) & track.seen
        if not rows.any():
            return False
        sides.append((np.median(middle_px[rows], axis=0), np.median(_trunk_px(track)[rows])))
    (one, length_px), (other, _) = sides
    return bool(np.hypot(*(other - one)) > _DISPLACED * length_px)


def _trunk_px(track: PoseTrack) -> npt.NDArray[np.float64]:
    shoulders, hips = (
        track.image_px[:, [int(point) for point in pair]].mean(axis=1)
        for pair in (_TRUNK[:2], _TRUNK[2:])
    )
    return np.asarray(np.hypot(*(shoulders - hips).T), dtype=np.float64)


def _outside(track: PoseTrack, landmarks: list[Landmark], edge: float = 0.0) -> BoolArray:
    """(N, len(landmarks)) whether each is beyond the picture or within ``edge`` of its border."""
    size = np.array([track.width_px, track.height_px])
    with np.errstate(invalid="ignore"):
        share = track.image_px[:, [int(landmark) for landmark in landmarks]] / size
        beyond = (share < edge) | (share > 1.0 - edge)
    return np.asarray(np.any(beyond, axis=2), dtype=np.bool_)


def _stretches(track: PoseTrack, where: BoolArray) -> Stretches:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], where, [False])).astype(np.int8)))
    times = [
        (float(track.time_s[first]), float(track.time_s[end - 1]))
        for first, end in zip(edges[::2], edges[1::2], strict=True)
    ]
    return [(start, end) for start, end in times if end - start >= _LEAST_S]
