"""Reading the athlete's body in one picture with both networks."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.pose.blazepose import BlazePose
from vision.pose.bundle import Bundle
from vision.pose.fusion import ReadingErrors, fuse, reading_errors, sideness_of
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.pose.limbs import Bodies, refined
from vision.pose.movenet import JOINTS, BodyReader
from vision.pose.outline import Outline
from vision.pose.region import MARGIN, Picture, Region

FloatArray = npt.NDArray[np.float64]

_SQUARE: Final = 1.32
"""Side of the upright square over the box around 17 joints: room for hands, feet and crown, and for
a body that has moved since."""
_ROUND: Final = 1.08
"""Likewise of the circle around the hips that holds all joints."""
JOINT_PARTS: Final = ("head",) * 5 + tuple(
    part for part in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle") for _ in (0, 1)
)
_FOLLOWED: Final = {
    **dict.fromkeys((1, 3, 4, 6, 9, 10), Landmark.NOSE),
    **dict.fromkeys((17, 19, 21), Landmark.LEFT_WRIST),
    **dict.fromkeys((18, 20, 22), Landmark.RIGHT_WRIST),
    **dict.fromkeys((29, 31), Landmark.LEFT_ANKLE),
    **dict.fromkeys((30, 32), Landmark.RIGHT_ANKLE),
}
"""Landmarks that one network alone reads, and the joint that carries them along."""
_OWN_ERROR: Final = 0.0116
"""Standard error of such a landmark about its joint, over stature, where its heat map is sharp."""
_SHARP: Final = 0.85
_LOG_ERROR_SLOPE: Final = 4.2
"""Growth of that error's logarithm with each unit of sharpness lost: on labelled films it grew
tenfold from 0.85 down to 0.3."""


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """What the two networks read in one picture.

    Attributes
    ----------
    first_px, sharpness, depth_px, world_m, visibility
        The first one's 33 landmarks, as `vision.pose.blazepose.Pose` gives them.
    second_px, peak
        (17, 2) joints of the second, pixels, and (17,) the heights of their heat maps.
    outline
        Which part of the picture the body covers; None where that is not known: then joints stay
        where both networks have them.
    """

    first_px: FloatArray
    sharpness: FloatArray
    depth_px: FloatArray
    world_m: FloatArray
    visibility: FloatArray
    second_px: FloatArray
    peak: FloatArray
    outline: Outline | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """The athlete's landmarks in one picture.

    Attributes
    ----------
    image_px
        (33, 2) positions, pixels.
    covariance_px2
        (33, 2, 2) their error covariances.
    read
        What they are fused from.
    """

    image_px: FloatArray
    covariance_px2: FloatArray
    read: Readings

    @property
    def joints_px(self) -> FloatArray:
        """(17, 2) the joints that both networks read."""
        return self.image_px[list(JOINTS)]

    @property
    def error_px(self) -> FloatArray:
        """(33,) standard errors along an axis."""
        error: FloatArray = np.sqrt(np.trace(self.covariance_px2, axis1=1, axis2=2) / 2)
        return error


class Readers:
    """Both networks; not to be shared between threads."""

    def __init__(self, bundle: Bundle) -> None:
        self._first = BlazePose(bundle)
        self._second = BodyReader()

    def read(self, picture: Picture, expected_px: FloatArray, stature_px: float) -> Body:
        """Read a body that is expected at (17, 2) joints, in an RGB picture."""
        pose = self._first.look(picture, turned_region(expected_px))
        joints, peak = self._second.read(picture, _upright_region(expected_px), expected_px)
        read = Readings(
            first_px=pose.image_px,
            sharpness=pose.sharpness,
            depth_px=pose.depth_px,
            world_m=pose.world_m,
            visibility=pose.visibility,
            second_px=joints,
            peak=peak,
            outline=pose.outline,
        )
        return body_of(read, stature_px)


def errors_of(
    sharpness: FloatArray,
    second_px: FloatArray,
    peak: FloatArray,
    errors: Mapping[str, Sequence[float]] | None = None,
) -> tuple[ReadingErrors, ReadingErrors]:
    """Say how far either network may be off at the 17 joints.

    Parameters
    ----------
    sharpness, peak
        (..., 17) heights of the first and the second network's heat maps.
    second_px
        (..., 17, 2) where the second reads them.
    errors
        Numbers to take in place of those learnt.
    """
    sideness = sideness_of(second_px[..., 5:7, :], second_px[..., 11:13, :])
    return (
        reading_errors("blazepose", JOINT_PARTS, sharpness, sideness, errors),
        reading_errors("movenet", JOINT_PARTS, peak, sideness, errors),
    )


def fused_bodies(reads: Sequence[Readings], stature_px: Sequence[float]) -> Bodies:
    """Fuse what both networks read of some bodies, joint by joint."""
    shared = list(JOINTS)
    first_px = np.array([read.first_px[shared] for read in reads])
    sharpness = np.array([read.sharpness[shared] for read in reads])
    second_px = np.array([read.second_px for read in reads])
    peak = np.array([read.peak for read in reads])
    stature = np.array(stature_px, dtype=np.float64)
    first, second = errors_of(sharpness, second_px, peak)
    fused = fuse(first_px, first, second_px, second, stature[:, None])
    return Bodies(fused, first_px, second_px, sharpness, peak, stature)


def body_of(read: Readings, stature_px: float) -> Body:
    """Fuse what both networks read, and put the limbs where the outline says."""
    shared = list(JOINTS)
    bodies = fused_bodies([read], [stature_px])
    joints = bodies.fused if read.outline is None else refined(bodies, read.outline)
    image, covariance = read.first_px.copy(), np.empty((LANDMARK_COUNT, 2, 2))
    image[shared], covariance[shared] = joints.image_px[0], joints.covariance_px2[0]
    for landmark, joint in _FOLLOWED.items():
        image[landmark] += image[joint] - read.first_px[joint]
        lost = max(_SHARP - float(read.sharpness[landmark]), 0.0)
        own = _OWN_ERROR * stature_px * math.exp(_LOG_ERROR_SLOPE * lost)
        covariance[landmark] = covariance[joint] + own**2 * np.eye(2)
    return Body(image, covariance, read)


def mean_joints(bodies: Sequence[Body]) -> FloatArray:
    """(17, 2) mean joints of some bodies: where the body between them is expected."""
    mean: FloatArray = np.mean([body.joints_px for body in bodies], axis=0)
    return mean


def _upright_region(joints_px: FloatArray) -> Region:
    low, high = joints_px.min(axis=0), joints_px.max(axis=0)
    x, y = (low + high) / 2
    return Region(float(x), float(y), max(_SQUARE * float((high - low).max()), 8.0))


def turned_region(joints_px: FloatArray) -> Region:
    """Return the square around (17, 2) joints in which the trunk is upright, as BlazePose asks."""
    hips, shoulders = joints_px[11:13].mean(axis=0), joints_px[5:7].mean(axis=0)
    dx, dy = shoulders - hips
    turn = math.pi / 2 - math.atan2(-dy, dx)
    turn -= 2 * math.pi * math.floor((turn + math.pi) / (2 * math.pi))
    reach = float(np.hypot(*(joints_px - hips).T).max()) * _ROUND
    return Region(float(hips[0]), float(hips[1]), max(2 * MARGIN * reach, 8.0), turn)
