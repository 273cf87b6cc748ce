"""Where faces are, over a whole film: the athlete's from the track, everybody's from own looks.

Nobody's face is found anew: bodies are followed from look to look as the athlete is, and the head
is covered where its body has it, also while a post hides half of it. Hiding errs on the side of
hiding too much: boxes are wide, and a face is covered for a while before its body is first found
and after it was last found.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.athlete.detection import Detection, Sample
from vision.athlete.tracking import paths_of_people
from vision.marking.planes import Planes, pixelate
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.pose.movenet import JOINTS
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
"""Out of sight for longer than this, a body is also covered where it was and where it is next."""
LOOK_EVERY_S: Final = 0.25
"""A body is followed between looks; a film is then marked at twice real time on two cores."""


@dataclass(frozen=True, slots=True)
class FaceBox:
    """A square that covers a head, picture pixels."""

    x_px: float
    y_px: float
    side_px: float


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


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Everybody seen in one picture, joints in the film's pixels."""

    time_s: float
    people: tuple[Detection, ...]


@dataclass(frozen=True, slots=True)
class _Followed:
    """One person from look to look: times, and (17, 2) joints at each."""

    time_s: list[float]
    joints_px: list[FloatArray]

    def boxes(self, time_s: float) -> list[FaceBox]:
        """Cover the head where the body is between two looks, and where it may be besides.

        Between two looks the body goes on along a straight line, also where a post hides it; out of
        sight for longer, it may as well have stayed where it was, or be where it is seen next. The
        same holds before it was first found and after it was last found.
        """
        first, last = bisect_left(self.time_s, time_s), bisect_right(self.time_s, time_s)
        if first < last:
            return _head(self.joints_px[first])
        if 0 < first < len(self.time_s):
            before_s, after_s = self.time_s[first - 1 : first + 1]
            share = (time_s - before_s) / (after_s - before_s)
            ends = self.joints_px[first - 1 : first + 1]
            boxes = _head((1.0 - share) * ends[0] + share * ends[1])
            if after_s - before_s > BRIDGED_S:
                boxes += [box for end in ends for box in _head(end)]
            return boxes
        if max(self.time_s[0] - time_s, time_s - self.time_s[-1]) > LOST_S:
            return []
        start = bisect_left(self.time_s, self.time_s[-1] - LOST_S)
        stop = bisect_right(self.time_s, self.time_s[0] + LOST_S)
        lately = self.joints_px[:stop] if time_s < self.time_s[0] else self.joints_px[start:]
        return [box for joints_px in lately for box in _head(joints_px)]


class FaceCover:
    """Covers faces picture by picture.

    Parameters
    ----------
    looks
        Everybody at some times, in order of time.
    track
        The athlete's landmarks, one row a frame.
    """

    def __init__(self, looks: Sequence[Look], track: PoseTrack | None) -> None:
        self._people = _people(looks)
        self._track = track

    def cover(self, planes: Planes, time_s: float) -> None:
        """Pixelate every face that may be in the picture at a film time."""
        for box in self.boxes(time_s):
            half = box.side_px / 2
            pixelate(planes, box.x_px - half, box.y_px - half, box.x_px + half, box.y_px + half)

    def boxes(self, time_s: float) -> list[FaceBox]:
        """Give the boxes to cover at a film time; the same face may be covered twice."""
        boxes = self._athlete(time_s)
        for person in self._people:
            boxes += person.boxes(time_s)
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
        looks = round(2.0 * LOST_S / LOOK_EVERY_S)
        rows = range(start, stop, max((stop - start) // looks, 1))
        return [box for other in rows for box in face_boxes(self._track.image_px[other])]


def _people(looks: Sequence[Look]) -> list[_Followed]:
    """Follow everybody through the looks; what is more likely nobody is covered on its own."""
    samples = [Sample(row, look.time_s, look.people) for row, look in enumerate(looks)]
    paths = paths_of_people(samples)
    followed = [
        _Followed(
            [looks[place].time_s for place in path.place],
            [person.image_px for person in path.detections],
        )
        for path in paths
    ]
    known = {id(person) for path in paths for person in path.detections}
    return followed + [
        _Followed([look.time_s], [person.image_px])
        for look in looks
        for person in look.people
        if id(person) not in known
    ]


def _head(joints_px: FloatArray) -> list[FaceBox]:
    image_px = np.full((LANDMARK_COUNT, 2), np.nan)
    image_px[list(JOINTS)] = joints_px
    return face_boxes(image_px)
