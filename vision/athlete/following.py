"""Following one person from a sighting to the next, frame by frame.

The network is shown a square around the person of the frame before, turned along the trunk. Where
the way forward is unsure or does not arrive at the next sighting, the way back from it and
narrower and wider squares are tried as well, and the surest and smoothest sequence of poses is
taken: a way that got lost on a plate or a post is thus corrected from the far side.
"""

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from vision.athlete.sightings import JOINTS, MIN_CONFIDENCE, separation
from vision.pose.landmarks import Landmark
from vision.pose.network import Pose
from vision.pose.region import Picture, Region

Look = Callable[[Picture, Region], Pose]

AGREE: Final = 0.04
"""Median distance of joints over the region's side up to which two poses are the same."""
LEAP: Final = 0.25
"""The same, from one frame to the next, beyond which a pose is not the same person's."""
SHARP: Final = 0.5
"""Mean peak height of the joints above which a pose needs no second opinion."""
MOVEMENT_WEIGHT: Final = 6.0
"""Worth of the joints moving on average by one body size, in units of `quality`. Measured on side
views: from 1 to 6 the share of gross errors falls by a third, beyond it does not fall further."""
TURNS_RAD: Final = (-0.9, -0.45, 0.45, 0.9)
BREADTHS: Final = (1.35, 1.6)
"""Least sides of the region over the body's size. No one breadth suits all: in side views a lying
body is followed better in the first (gross errors in 7 of 100 frames, 13 in the second), a bent
one behind a plate and a hanging one in the second (0 of 100, 3 to 10 in the first)."""
_MOST_SIDE: Final = 2.1
_MARGIN: Final = 1.2
_CIRCLE_WEIGHT: Final = 0.5
_WIDER: Final = (1.0, 1.3, 0.8)

_SHOULDERS: Final = [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]
_HIPS: Final = [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]
_SHARES: Final = np.array([0.288, 0.245, 0.246]) / 0.779
"""Trunk, thigh and shank of `body_size`: shares of stature after Drillis & Contini 1966."""
_SHORT: Final = 0.8
_LONG: Final = 1.2
_TOO_LONG: Final = 1.5
_JOINTS_AND_FEET: Final = [
    *JOINTS,
    Landmark.LEFT_HEEL,
    Landmark.RIGHT_HEEL,
    Landmark.LEFT_FOOT_INDEX,
    Landmark.RIGHT_FOOT_INDEX,
]
_CHAINS: Final = [
    [Landmark.LEFT_SHOULDER, Landmark.LEFT_HIP, Landmark.LEFT_KNEE, Landmark.LEFT_ANKLE],
    [Landmark.RIGHT_SHOULDER, Landmark.RIGHT_HIP, Landmark.RIGHT_KNEE, Landmark.RIGHT_ANKLE],
]


def body_size(pose: Pose) -> float:
    """Trunk, thigh and shank of a pose added up, pixels; the mean of the two sides.

    That is the height of the shoulders over the ankles of a person who stands, and less for one
    whose limbs point towards the camera.
    """
    chain = pose.image_px[_CHAINS]
    return float(np.linalg.norm(np.diff(chain, axis=1), axis=2).sum(axis=1).mean())


def body_region(pose: Pose, size_px: float, breadth: float = BREADTHS[0]) -> Region:
    """Return where to look for a person next: around the hips, upright along the trunk.

    The network's own circle around the body and the line from hips to shoulders both tell the
    direction; adding them as vectors lets a foreshortened trunk count little. Measured on side
    views of deadlifts and burpees, a region turned along the trunk halves the error of an upright
    one (12 to 6 % and 31 to 8 % of stature). The circle's size only echoes the size of the region
    it was found in, so the side follows from the person's usual size and from how far the joints
    that are sharp reach.

    Parameters
    ----------
    pose
        The person in the frame before.
    size_px
        Usual `body_size` of this person.
    breadth
        Least side of the region over ``size_px``.
    """
    hips = pose.image_px[_HIPS].mean(axis=0)
    trunk = pose.image_px[_SHOULDERS].mean(axis=0) - hips
    upward = np.array([math.sin(pose.region.turn_rad), -math.cos(pose.region.turn_rad)])
    direction = trunk + _CIRCLE_WEIGHT * size_px * upward
    sharp = JOINTS[pose.sharpness[JOINTS] > 0.5]
    reach = np.linalg.norm(pose.image_px[sharp] - hips, axis=1).max(initial=0.0)
    side = min(max(_MARGIN * 2.0 * float(reach), breadth * size_px), _MOST_SIDE * size_px)
    turn = math.atan2(direction[0], -direction[1])
    return Region(float(hips[0]), float(hips[1]), side, turn)


def quality(pose: Pose, size_px: float) -> float:
    """How sure a pose is, at most 1: mean peak height of joints and feet, less what is misshapen.

    A pose is misshapen whose trunk is short or whose trunk, thighs or shanks are long for the
    person's usual size. (A short trunk may lean towards the camera, but then it does so in every
    pose that is compared; from the side, where it cannot, it is the surest sign of a pose read
    into a plate.)
    """
    trunk, thigh, shank = _proportions(pose, size_px)
    short = max(0.0, _SHORT - trunk)
    long = sum(max(0.0, part - _LONG) for part in (trunk, thigh, shank))
    return float(pose.sharpness[_JOINTS_AND_FEET].mean()) - short - long


def is_sharp(pose: Pose) -> bool:
    """Whether a pose needs no second opinion."""
    return float(pose.sharpness[JOINTS].mean()) > SHARP


def believable(pose: Pose, size_px: float) -> bool:
    """Whether a pose may be kept: of human shape, and sharp or with a trunk of the usual length.

    On the labelled side views this takes away two thirds of the grossly wrong poses of a thruster
    (28 to 9 %) and a third of a press (17 to 10 %), and less than 1 % of the good ones anywhere.
    """
    trunk, thigh, shank = _proportions(pose, size_px)
    if max(trunk, thigh, shank) > _TOO_LONG:
        return False
    return trunk > 0.7 or float(pose.sharpness[JOINTS].mean()) > 0.45


def _proportions(pose: Pose, size_px: float) -> tuple[float, float, float]:
    """Trunk, thigh and shank over their usual shares of the body's size (`_SHARES`)."""
    chain = pose.image_px[_CHAINS]
    parts = np.linalg.norm(np.diff(chain, axis=1), axis=2).mean(axis=0) / (_SHARES * size_px)
    return float(parts[0]), float(parts[1]), float(parts[2])


def surest(
    look: Look, picture: Picture, arrived: Pose | None, sighting: Pose | None, size_px: float
) -> Pose:
    """Return the surest pose of a person of whom one or two poses are given.

    Where no pose is sharp, the person is looked at anew with the square turned to either side: a
    bent or lying body half hidden behind a plate is easily taken for an upright one, and the
    network, shown the body along its trunk, is then surer of the right pose than of the wrong.
    """

    def worth(pose: Pose) -> float:
        return quality(pose, size_px)

    given = [pose for pose in (arrived, sighting) if pose is not None]
    if len(given) == 2 and separation(given[0], given[1]) < AGREE:
        given = [max(given, key=worth)]
    sharp = max(float(pose.sharpness[JOINTS].mean()) for pose in given)
    if sharp > SHARP and len(given) == 1:
        return given[0]
    poses = list(given)
    if sharp <= SHARP:
        base = body_region(max(given, key=worth), size_px)
        for turn in TURNS_RAD:
            region = Region(base.x_px, base.y_px, base.side_px, base.turn_rad + turn)
            pose = look(picture, region)
            if pose.confidence >= MIN_CONFIDENCE and separation(pose, given[0]) < LEAP:
                poses.append(pose)
    poses.sort(key=worth, reverse=True)
    return max(poses[:3], key=lambda pose: _settled_quality(look, picture, pose, size_px))


def _settled_quality(look: Look, picture: Picture, pose: Pose, size_px: float) -> float:
    """`quality`, less how far a second look in the pose's own region moves the joints."""
    again = look(picture, body_region(pose, size_px))
    return quality(pose, size_px) - _movement(again, pose, size_px)


def along(
    look: Look,
    pictures: Sequence[Picture],
    start: Pose,
    size_px: float,
    breadth: float = BREADTHS[0],
) -> list[Pose | None]:
    """Follow a person from a known pose through the pictures after it; None where lost."""
    poses: list[Pose | None] = []
    last, before = start, None
    for picture in pictures:
        region = body_region(last, size_px, breadth)
        if before is not None:
            moved = (last.image_px[_HIPS] - before.image_px[_HIPS]).mean(axis=0)
            region = region.shifted(0.5 * float(moved[0]), 0.5 * float(moved[1]))
        found = None
        for widening in _WIDER:
            pose = look(picture, region.widened(widening))
            if pose.confidence >= MIN_CONFIDENCE and separation(pose, last) < LEAP:
                found = pose
                break
        poses.append(found)
        before = last if found is not None else None
        last = found or last
    return poses


def between(
    look: Look,
    pictures: Sequence[Picture],
    start: Pose | None,
    sighting: Pose | None,
    others: Sequence[Pose],
    size_px: float,
) -> list[Pose | None]:
    """Find the person's pose in each picture from after ``start`` up to the sighting.

    Parameters
    ----------
    look
        Reads the landmarks in a region of a picture.
    pictures
        The frames after ``start``; the last is the one of ``sighting``.
    start
        The person just before the first picture; None where not known.
    sighting
        The person in the last picture, found without knowledge of the frames before; or None.
    others
        Other people in the last picture.
    size_px
        Usual `body_size` of this person.
    """
    lost: list[Pose | None] = [None] * len(pictures)
    forward = along(look, pictures, start, size_px) if start is not None else lost
    arrived = forward[-1]
    if arrived is not None and any(separation(arrived, other) < AGREE for other in others):
        forward, arrived = lost, None
    if arrived is not None and sighting is not None and separation(arrived, sighting) > LEAP:
        # Two people, or one and a phantom: whoever is surer is the one.
        if quality(arrived, size_px) < quality(sighting, size_px):
            arrived = None
        else:
            sighting = None
    if arrived is None and sighting is None:
        return forward
    end = surest(look, pictures[-1], arrived, sighting, size_px)
    if arrived is not None and separation(arrived, end) < AGREE and _sharp(forward):
        return forward
    ways = [forward] if start is not None else []
    if start is not None and arrived is not None:
        ways += [along(look, pictures, start, size_px, breadth) for breadth in BREADTHS[1:]]
    earlier = pictures[-2::-1] if len(pictures) > 1 else []
    for breadth in BREADTHS:
        ways.append([*along(look, earlier, end, size_px, breadth)[::-1], end])
    return smoothest(ways, start, size_px)


def smoothest(
    ways: Sequence[Sequence[Pose | None]], start: Pose | None, size_px: float
) -> list[Pose | None]:
    """Choose one of several poses in each frame: the surest that move least from frame to frame.

    A wrong pose is either unsure of itself or has to be leapt to, so the sum of qualities less
    the joints' movement over the whole stretch finds the right one (dynamic programming).
    """
    count = len(ways[0])
    value = np.zeros(len(ways))
    if start is not None:
        value = np.array([-_movement(start, way[0], size_px) for way in ways])
    value += [_worth(way[0], size_px) for way in ways]
    origins = np.zeros((count, len(ways)), dtype=np.int64)
    for index in range(1, count):
        reached = np.array(
            [
                [
                    value[k] - _movement(ways[k][index - 1], way[index], size_px)
                    for k in range(len(ways))
                ]
                for way in ways
            ]
        )
        origins[index] = np.argmax(reached, axis=1)
        value = reached.max(axis=1) + [_worth(way[index], size_px) for way in ways]
    choice = int(np.argmax(value))
    chosen: list[Pose | None] = []
    for index in range(count - 1, -1, -1):
        chosen.append(ways[choice][index])
        choice = int(origins[index][choice])
    return chosen[::-1]


def _movement(one: Pose | None, other: Pose | None, size_px: float) -> float:
    if one is None or other is None:
        return 0.3
    if one is other:
        return 0.0
    moved = np.linalg.norm(one.image_px[JOINTS] - other.image_px[JOINTS], axis=1).mean()
    return MOVEMENT_WEIGHT * float(moved) / size_px


def _worth(pose: Pose | None, size_px: float) -> float:
    return 0.0 if pose is None else quality(pose, size_px)


def _sharp(poses: Sequence[Pose | None]) -> bool:
    sharpness = [pose.sharpness[JOINTS].mean() for pose in poses if pose is not None]
    return len(sharpness) == len(poses) and float(np.mean(sharpness)) > SHARP
