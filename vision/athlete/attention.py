"""Which frames between two known poses are worth a look.

Between two sure poses the frame midway is looked at. Where its pose lies on the line between them
there is nothing more to see; where it does not, the body speeds up or slows down, and both halves
are treated likewise. Where it lies above or below both, the body turns, and every frame around it
is looked at: that is where verdicts are decided. Rest and even motion are sampled thinly.
Each look depends on the two poses around it alone: a frame that is looked at is looked at in the
same way however closely its neighbours are.
"""

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

import numpy as np
import numpy.typing as npt

from vision.athlete.following import LEAP, SHARP, believable, body_region
from vision.athlete.sightings import JOINTS, MIN_CONFIDENCE, separation
from vision.pose.landmarks import Landmark
from vision.pose.network import Pose
from vision.pose.region import Region

FloatArray = npt.NDArray[np.float64]
P = TypeVar("P")

THINNEST_S: Final = 0.2
"""Frames are never further apart than this without a look between them."""
STRAIGHT: Final = 0.03
"""Distance of a body part from the line, over the body's size, up to which motion is even. Halving
an interval of smooth motion quarters the distance, so that what is left between looks is within
the landmarks' own scatter."""

TURN: Final = 0.02
"""Rise and fall of a body part, over the body's size, that is a turn and not scatter."""
FAINT: Final = 0.35
"""Mean peak height of the joints below which even a single pose calls for more care."""

_PARTS: Final = np.array(
    [
        [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER],
        [Landmark.LEFT_HIP, Landmark.RIGHT_HIP],
        [Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST],
        [Landmark.LEFT_ELBOW, Landmark.RIGHT_ELBOW],
        [Landmark.LEFT_KNEE, Landmark.RIGHT_KNEE],
        [Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE],
    ]
)
_TURNING: Final = slice(3)
"""Of these, the parts whose height decides reps: shoulders, hips and wrists."""


@dataclass(frozen=True, slots=True)
class _Interval:
    """Frames between two looks: whether the body turns at either, moves unevenly, is decisive."""

    first: int
    last: int
    turns_first: bool
    turns_last: bool
    uneven: bool
    every: bool


def look_between(
    look: Callable[[P, Region], Pose],
    pictures: Sequence[P],
    time_s: Sequence[float],
    start: Pose,
    end: Pose,
    size_px: float,
    *,
    turning: tuple[bool, bool] = (False, False),
    thorough: bool,
) -> dict[int, Pose] | None:
    """Look at the pictures between two known poses, as far as there is something to see.

    Parameters
    ----------
    look
        Reads the landmarks in a region of one of the ``pictures``, whatever these are.
    pictures, time_s
        The frames from that of ``start`` to that of ``end``, both included, and their times.
    start, end
        The person in the first and the last picture.
    size_px
        Usual body size of this person, pixels.
    turning
        Whether the body turns at the start and at the end.
    thorough
        Look at every frame.

    Returns
    -------
    The poses by their index in ``pictures``, those of both ends among them; None where one is
    unsure or does not follow from its neighbours, so that the person must be followed with more
    care than this.
    """
    poses = {0: start, len(pictures) - 1: end}
    if min(_sharpness(start), _sharpness(end)) < FAINT:
        return None
    ahead = [_Interval(0, len(pictures) - 1, *turning, uneven=False, every=thorough)]
    while ahead:
        part = ahead.pop()
        apart_s = time_s[part.last] - time_s[part.first]
        turns = part.turns_first or part.turns_last
        every = part.every or (turns and apart_s <= THINNEST_S)
        wanted = every or turns or part.uneven or apart_s > THINNEST_S
        if part.last - part.first < 2 or not wanted:
            continue
        middle = (part.first + part.last) // 2
        share = (time_s[middle] - time_s[part.first]) / apart_s
        before, after = poses[part.first], poses[part.last]
        pose = look(pictures[middle], _region_between(before, after, share, size_px))
        if (
            pose.confidence < MIN_CONFIDENCE
            or _sharpness(pose) < FAINT
            or not believable(pose, size_px)
            or min(separation(pose, before), separation(pose, after)) > LEAP
        ):
            return None
        poses[middle] = pose
        uneven = _off_line(before, pose, after, share) > STRAIGHT * size_px
        turn = turns_at(before, pose, after, size_px)
        ahead += [
            _Interval(part.first, middle, part.turns_first, turn, uneven, every),
            _Interval(middle, part.last, turn, part.turns_last, uneven, every),
        ]
    way = [pose for _, pose in sorted(poses.items())]
    if any(separation(*pair) > LEAP for pair in itertools.pairwise(way)):
        return None
    return poses if np.mean([_sharpness(pose) for pose in way]) > SHARP else None


def turns_at(before: Pose, pose: Pose, after: Pose, size_px: float) -> bool:
    """Whether shoulders, hips or hands are above, or below, where they are before and after."""
    height = np.stack([_parts(one)[_TURNING, 1] for one in (before, pose, after)]) / size_px
    rise = np.diff(height, axis=0)
    return bool(np.any((rise[0] * rise[1] < 0) & (np.abs(rise).min(axis=0) > TURN)))


def _sharpness(pose: Pose) -> float:
    return float(pose.sharpness[JOINTS].mean())


def _region_between(before: Pose, after: Pose, share: float, size_px: float) -> Region:
    one, other = body_region(before, size_px), body_region(after, size_px)
    turn = (other.turn_rad - one.turn_rad + math.pi) % (2 * math.pi) - math.pi
    # Midway the body may be larger than at both ends: a squat ends upright at neither.
    side = max(one.side_px, other.side_px)
    return Region(
        one.x_px + share * (other.x_px - one.x_px),
        one.y_px + share * (other.y_px - one.y_px),
        side,
        one.turn_rad + share * turn,
    )


def _off_line(before: Pose, pose: Pose, after: Pose, share: float) -> float:
    """Largest distance of a body part from the line between two poses, pixels."""
    there = (1.0 - share) * _parts(before) + share * _parts(after)
    return float(np.linalg.norm(_parts(pose) - there, axis=1).max())


def _parts(pose: Pose) -> FloatArray:
    parts: FloatArray = pose.image_px[_PARTS].mean(axis=1)
    return parts
