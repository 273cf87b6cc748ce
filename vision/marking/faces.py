"""Where faces are, over a whole film: the athlete's from the track, everybody's from sightings.

Hiding errs on the side of hiding too much: boxes are wide, are kept for a while before a face is
first seen and after it was last seen, and a person lost between two looks stays covered.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.marking.planes import Planes, pixelate
from vision.pose.landmarks import Landmark
from vision.track import FloatArray, PoseTrack

HEAD: Final = tuple(range(Landmark.NOSE, Landmark.MOUTH_RIGHT + 1))
_SHOULDERS: Final = (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
_HIPS: Final = (Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
WIDEN: Final = 2.2
"""A head is about this much wider than the span of eyes, ears and mouth."""
LEAST_OF_BODY: Final = 0.2
"""Least box side over the body's reach, for faces seen edge on."""
HEAD_ABOVE_TRUNK: Final = 0.48
"""Head's centre above the shoulders over the trunk's length: (0.936 - 0.818) / (0.818 - 0.530) of
stature for the eyes (Drillis and Contini 1966 in Winter 2009), and a little more for the crown."""
HEAD_OF_TRUNK: Final = 0.8
"""Side of the box over the trunk's length: a head is 0.13 of stature high, and it nods."""
KEPT_S: Final = 0.6
"""How long a face is covered before it was first seen and after it was last seen."""
LOST_S: Final = 2.0
"""Where a head was within this time is covered while it is nowhere to be found near there."""
NEXT_TO: Final = 1.0
ELSEWHERE: Final = 2.5
"""Distances over a box's side within which a face now seen is taken for the one seen before."""
_LOST_SAMPLES: Final = 24
LOOK_EVERY_S: Final = 0.15


@dataclass(frozen=True, slots=True)
class FaceBox:
    """A square that covers a head, picture pixels."""

    x_px: float
    y_px: float
    side_px: float

    def between(self, other: "FaceBox", share: float) -> "FaceBox":
        """Blend into another box; the size never falls below the larger of both."""
        return FaceBox(
            self.x_px + share * (other.x_px - self.x_px),
            self.y_px + share * (other.y_px - self.y_px),
            max(self.side_px, other.side_px),
        )


def face_boxes(image_px: FloatArray) -> list[FaceBox]:
    """Cover the head of one pose: where its face was read, and where its trunk says it must be.

    The network places the features of a face seen edge on or from behind too far back, and those
    of a face behind a plate anywhere; the trunk is read well even then.

    Parameters
    ----------
    image_px
        (33, 2) landmarks, pixels; NaN where not found.
    """
    head = image_px[list(HEAD)]
    if not np.isfinite(head).all():
        return []
    low, high = head.min(axis=0), head.max(axis=0)
    body = image_px[np.isfinite(image_px).all(axis=1)]
    reach = float(np.max(body.max(axis=0) - body.min(axis=0)))
    side = max(float(np.max(high - low)) * WIDEN, LEAST_OF_BODY * reach)
    x, y = (low + high) / 2
    boxes = [FaceBox(float(x), float(y), side)]
    shoulders, hips = image_px[list(_SHOULDERS)].mean(axis=0), image_px[list(_HIPS)].mean(axis=0)
    trunk = shoulders - hips
    if np.isfinite(trunk).all():
        x, y = shoulders + HEAD_ABOVE_TRUNK * trunk
        boxes.append(FaceBox(float(x), float(y), HEAD_OF_TRUNK * float(np.hypot(*trunk))))
    return boxes


@dataclass(frozen=True, slots=True)
class Look:
    """The faces seen in one picture."""

    time_s: float
    faces: tuple[FaceBox, ...]


class FaceCover:
    """Covers faces picture by picture.

    Parameters
    ----------
    looks
        Everybody's faces at some times, in order of time.
    track
        The athlete's landmarks, one row a frame.
    """

    def __init__(self, looks: Sequence[Look], track: PoseTrack | None) -> None:
        self._looks = list(looks)
        self._times = np.array([look.time_s for look in looks])
        self._track = track

    def cover(self, planes: Planes, time_s: float) -> None:
        """Pixelate every face that may be in the picture at a film time."""
        for box in self.boxes(time_s):
            half = box.side_px / 2
            pixelate(planes, box.x_px - half, box.y_px - half, box.x_px + half, box.y_px + half)

    def boxes(self, time_s: float) -> list[FaceBox]:
        """Give the boxes to cover at a film time; the same face may be covered twice."""
        return [*self._athlete(time_s), *self._everybody(time_s)]

    def _athlete(self, time_s: float) -> list[FaceBox]:
        if self._track is None:
            return []
        times = self._track.time_s
        row = int(np.searchsorted(times, time_s))
        nearest = [near for near in (row - 1, row) if 0 <= near < len(times)]
        here = [box for near in nearest for box in face_boxes(self._track.image_px[near])]
        if here:
            return here
        start = int(np.searchsorted(times, time_s - LOST_S))
        stop = int(np.searchsorted(times, time_s + LOST_S, side="right"))
        step = max((stop - start) // _LOST_SAMPLES, 1)
        rows = range(start, stop, step)
        return [box for other in rows for box in face_boxes(self._track.image_px[other])]

    def _everybody(self, time_s: float) -> Iterable[FaceBox]:
        after = int(np.searchsorted(self._times, time_s))
        if 0 < after < len(self._looks):
            first, second = self._looks[after - 1], self._looks[after]
            share = (time_s - first.time_s) / max(second.time_s - first.time_s, 1e-9)
            yield from _bridged(first.faces, second.faces, share)
        nearest = self._looks[max(after - 1, 0) : after + 1]
        known = [face for look in nearest for face in look.faces]
        left = int(np.searchsorted(self._times, time_s - LOST_S))
        right = int(np.searchsorted(self._times, time_s + LOST_S, side="right"))
        for look in self._looks[left:right]:
            reach = NEXT_TO if abs(look.time_s - time_s) <= KEPT_S else ELSEWHERE
            yield from (face for face in look.faces if not _near_any(face, known, reach))


def _bridged(
    first: Sequence[FaceBox], second: Sequence[FaceBox], share: float
) -> Iterable[FaceBox]:
    """Move faces from one look to the next; those without a partner stay where they are."""
    left = list(second)
    for face in first:
        partner = min(left, key=lambda other: _apart(face, other), default=None)
        if partner is None or _apart(face, partner) > 1.5:
            yield face
            continue
        left.remove(partner)
        yield face.between(partner, share)
    yield from left


def _near_any(face: FaceBox, others: Iterable[FaceBox], reach: float) -> bool:
    return any(_apart(face, other) < reach for other in others)


def _apart(one: FaceBox, other: FaceBox) -> float:
    reach = max(one.side_px, other.side_px, 1e-9)
    return float(np.hypot(one.x_px - other.x_px, one.y_px - other.y_px)) / reach
