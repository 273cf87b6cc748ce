"""Where faces are, over a whole film: the athlete's from the track, everybody's from own looks.

Hiding errs on the side of hiding too much: boxes are wide, a face is covered for a while before it
is first found and after it was last found, and one lost between two looks stays covered.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
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
LOST_S: Final = 2.0
"""A face that is no longer, or not yet, found is covered for this long, along its latest way."""
BRIDGED_S: Final = 0.5
"""Looks without a face within this time do not end its being followed."""
SAME_FACE: Final = 1.5
"""Distance over a box's side within which faces in two looks are the same."""
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
        (33, 2) landmarks, pixels; NaN where not found. Any landmarks of the head will do.
    """
    head = image_px[list(HEAD)]
    head = head[np.isfinite(head).all(axis=1)]
    if not len(head):
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


@dataclass(frozen=True, slots=True)
class _Chain:
    """One face followed from look to look."""

    time_s: list[float]
    boxes: list[FaceBox]

    def at(self, time_s: float) -> FaceBox:
        """Place the face between two looks; before and after, where it began and ended."""
        after = bisect_left(self.time_s, time_s)
        if after in {0, len(self.time_s)}:
            return self.boxes[min(after, len(self.boxes) - 1)]
        first_s, second_s = self.time_s[after - 1 : after + 1]
        share = (time_s - first_s) / (second_s - first_s)
        return self.boxes[after - 1].between(self.boxes[after], share)

    def near_an_end(self, time_s: float) -> list[FaceBox]:
        """Give where the face lately was, at a time when it is not followed but may be there."""
        missing_s = max(self.time_s[0] - time_s, time_s - self.time_s[-1])
        if missing_s > LOST_S:
            return []
        start = bisect_left(self.time_s, self.time_s[-1] - LOST_S)
        stop = bisect_right(self.time_s, self.time_s[0] + LOST_S)
        return self.boxes[:stop] if time_s < self.time_s[0] else self.boxes[start:]


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
        self._chains = _chains(looks)
        self._track = track

    def cover(self, planes: Planes, time_s: float) -> None:
        """Pixelate every face that may be in the picture at a film time."""
        for box in self.boxes(time_s):
            half = box.side_px / 2
            pixelate(planes, box.x_px - half, box.y_px - half, box.x_px + half, box.y_px + half)

    def boxes(self, time_s: float) -> list[FaceBox]:
        """Give the boxes to cover at a film time; the same face may be covered twice."""
        boxes = self._athlete(time_s)
        for chain in self._chains:
            if chain.time_s[0] <= time_s <= chain.time_s[-1]:
                boxes.append(chain.at(time_s))
            else:
                boxes += chain.near_an_end(time_s)
        return boxes

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
        rows = range(start, stop, max((stop - start) // _LOST_SAMPLES, 1))
        return [box for other in rows for box in face_boxes(self._track.image_px[other])]


def _chains(looks: Sequence[Look]) -> list[_Chain]:
    """Join faces of successive looks, nearest first, into faces followed over time."""
    done: list[_Chain] = []
    running: list[_Chain] = []
    for look in looks:
        free = list(look.faces)
        still: list[_Chain] = []
        for chain in running:
            nearest = min(free, key=partial(_apart, chain.boxes[-1]), default=None)
            if nearest is None or _apart(nearest, chain.boxes[-1]) > SAME_FACE:
                (done if look.time_s - chain.time_s[-1] > BRIDGED_S else still).append(chain)
                continue
            free.remove(nearest)
            chain.time_s.append(look.time_s)
            chain.boxes.append(nearest)
            still.append(chain)
        running = still + [_Chain([look.time_s], [face]) for face in free]
    return done + running


def _apart(one: FaceBox, other: FaceBox) -> float:
    reach = max(one.side_px, other.side_px, 1e-9)
    return float(np.hypot(one.x_px - other.x_px, one.y_px - other.y_px)) / reach
