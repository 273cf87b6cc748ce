"""What the film shows of each quantity: several features in its unit, none of them trusted alone.

A feature is a series in the quantity's own unit. Features from the fitted body carry perspective,
features
from the picture carry none but are steady; which of them is right by how much in which view is a
matter of calibration (`counting.lab.calibrate`), not of this module.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.movements.types import Quantity
from counting.quantities.scene import (
    CM,
    FEET,
    Scene,
    angle_of_sides,
    height_cm,
    inner_angle_deg,
    pair,
    seen_height_cm,
)
from counting.signals.percentiles import percentile
from vision.pose.landmarks import Landmark
from vision.track import BoolArray

Part = tuple[FloatArray, tuple[str, ...]]
"""One feature, (N,), and the joints whose landmarks it is read from."""

_PICTURE_ALONE: Final[tuple[str, ...]] = ()
"""Joints of a feature whose error does not grow where the fitted body fits badly."""


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """All features of one quantity.

    Attributes
    ----------
    values
        (N, features) in the quantity's unit, NaN where not seen.
    joints
        (features) the joints each is read from: a hidden elbow spoils the angle at the elbow, not
        the height of the hands.
    """

    values: FloatArray
    joints: tuple[tuple[str, ...], ...]
    bends: tuple[bool, ...]
    """(features) whether each is how far a joint between two others is bent."""


def _together(parts: Sequence[Part]) -> Features:
    values = np.stack([values for values, _ in parts], axis=1)
    return Features(values, tuple(joints for _, joints in parts), bends=(False,) * len(parts))


def _with_bends(parts: Sequence[Part]) -> Features:
    """Put an angle's features together; those that read the joint name it and both beside it."""
    return replace(_together(parts), bends=tuple(len(joints) == 3 for _, joints in parts))


_DEGREES_A_CM: Final = {"SHOULDER": 8.0, "HIP": 5.0}
"""Opening of a joint for each centimetre its limb gets longer end to end, by the limb's root.

Between 130 and 165 degrees an arm of 0.33 statures gains 4.4 cm, a leg of 0.49 statures 7 cm: from
the law of cosines.
"""


def _angle_parts(scene: Scene, joints: tuple[str, str, str]) -> list[Part]:
    """Angle in the fitted body, picture and network's guess; then the limb's reach in both."""
    root, middle, end = (joint.lower() for joint in joints)
    a, b, c = (scene.motion.joint(joint) for joint in (root, middle, end))
    span = pair(scene.picture_cm, joints[0], scene.sureness) - pair(
        scene.picture_cm, joints[2], scene.sureness
    )
    degrees_a_cm = _DEGREES_A_CM[joints[0]]
    return [
        (inner_angle_deg(a, b, c), (root, middle, end)),
        (angle_of_sides(scene.picture_cm, scene.sureness, joints), (root, middle, end)),
        (angle_of_sides(scene.world_cm, scene.sureness, joints), (root, middle, end)),
        (np.linalg.norm(a - c, axis=1) * CM * degrees_a_cm, (root, middle, end)),
        (np.linalg.norm(span, axis=1) * degrees_a_cm, (root, end)),
    ]


def _elbow_features(scene: Scene) -> Features:
    """Take the arm's angle and reach, and how far the hands hold head and trunk away from them.

    Straightening arms moves the whole body against the hands. That shows where the elbows do not:
    from the side of somebody hanging, or behind a barbell's plates.
    """
    if scene.base != "standing":
        hands = np.full(len(scene.picture_cm), scene.hands_cm)
        holds: tuple[str, ...] = ()
    else:
        hands, holds = seen_height_cm(scene, "WRIST"), ("wrist",)
    above = np.where(hands > seen_height_cm(scene, "SHOULDER"), 1.0, -1.0)
    apart: list[Part] = [
        (
            above * (hands - seen_height_cm(scene, joint)) * _DEGREES_A_CM["SHOULDER"],
            (joint.lower(), *holds),
        )
        for joint in ("NOSE", "SHOULDER", "HIP", "KNEE")
    ]
    return _with_bends([*_angle_parts(scene, ("SHOULDER", "ELBOW", "WRIST")), *apart])


def _leg_features(scene: Scene, joints: tuple[str, str, str]) -> Features:
    """Angle and reach, how far head and shoulders are below quiet standing, and the angle there.

    A body that stands about before or after its reps shows how the network sees these very legs
    when they are straight.
    """
    risen: list[Part] = [
        (_above_standing(scene, joint) * _DEGREES_A_CM["HIP"], (joint.lower(),))
        for joint in ("NOSE", "SHOULDER")
    ]
    parts = _angle_parts(scene, joints)
    stance = _quiet_stance(scene)
    beyond: list[Part] = [
        (values - _middle(values[stance]), read) for values, read in (parts[1], parts[2])
    ]
    return _with_bends([*parts, *risen, *beyond])


_STRETCHED: Final = 0.94
"""Height of the shoulders over the ankles, as a share of trunk, thigh and shank end to end, from
which a body stands: with hips and knees bent by 30 degrees it is 0.93."""
_FEWEST_STANDING: Final = 8
"""Frames outside the reps that are enough to tell how the athlete stands (no source)."""


def _quiet_stance(scene: Scene) -> BoolArray:
    """(N,) frames outside the reps in which the athlete stands; none where they are few."""
    chain = [
        pair(scene.picture_cm, j, scene.sureness) for j in ("SHOULDER", "HIP", "KNEE", "ANKLE")
    ]
    length = sum(np.linalg.norm(a - b, axis=1) for a, b in pairwise(chain))
    with np.errstate(invalid="ignore"):
        stands = (chain[0] - chain[-1])[:, 1] > _STRETCHED * length
    stands &= ~scene.motion.around
    return stands if stands.sum() >= _FEWEST_STANDING else np.zeros_like(stands)


def _middle(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def _depth_features(scene: Scene) -> Features:
    world = pair(scene.world_cm, "HIP", scene.sureness) - pair(
        scene.world_cm, "KNEE", scene.sureness
    )
    a, b, c = (scene.motion.joint(joint) for joint in ("hip", "knee", "ankle"))
    leg = ("hip", "knee", "ankle")
    return _together(
        [
            (height_cm(scene, "hip") - height_cm(scene, "knee"), leg),
            (seen_height_cm(scene, "HIP") - seen_height_cm(scene, "KNEE"), ("hip", "knee")),
            (world[:, 1], leg),
            (inner_angle_deg(a, b, c) - 60.0, leg),
        ]
    )


def _over_bar_features(scene: Scene, sign: float = 1.0) -> Features:
    """Head and shoulders against the hands on the bar, in the fitted body and in the picture."""
    ahead = (scene.motion.joint("shoulder") - scene.motion.joint("wrist"))[:, 0] * CM
    parts: list[Part] = [
        (height_cm(scene, "nose") - scene.hands_up_cm, ("nose",)),
        (seen_height_cm(scene, "NOSE") - scene.hands_cm, ("nose",)),
        (height_cm(scene, "shoulder") - scene.hands_up_cm, ("shoulder",)),
        (seen_height_cm(scene, "SHOULDER") - scene.hands_cm, ("shoulder",)),
        (height_cm(scene, "ear") - scene.hands_up_cm, ("ear",)),
        (ahead, ("shoulder", "wrist")),
    ]
    return _together([(sign * values, joints) for values, joints in parts])


def _chest_floor_features(scene: Scene) -> Features:
    shoulder, wrist = seen_height_cm(scene, "SHOULDER"), seen_height_cm(scene, "WRIST")
    return _together(
        [
            (height_cm(scene, "shoulder") - height_cm(scene, "wrist"), ("shoulder", "wrist")),
            (shoulder - wrist, ("shoulder", "wrist")),
            (shoulder - scene.floor_cm, ("shoulder",)),
            (height_cm(scene, "shoulder"), ("shoulder",)),
            (seen_height_cm(scene, "NOSE") - wrist, ("nose", "wrist")),
        ]
    )


def _feet_features(scene: Scene) -> Features:
    """Feet above where they last stood or next stand, and the body above its usual standing."""
    feet = scene.picture_cm[:, FEET, 1].mean(axis=1)
    risen: list[Part] = [
        (_above_standing(scene, joint), (joint.lower(),)) for joint in ("HIP", "SHOULDER", "NOSE")
    ]
    lowest = _lowest_about(feet, scene.motion.time_s)
    return _together([(feet - lowest, ("heel", "toe")), *risen])


_UPRIGHT_CM: Final = 35.0
_STANDING_SHARE: Final = 60.0
"""Centimetres below the tallest that shoulders are of somebody upright, and the percentile of their
height that is quiet standing: above it lie hops, below steps (no source)."""


def _above_standing(scene: Scene, joint: str) -> FloatArray:
    """Height over that of quiet standing: what most of the upright frames show."""
    height, shoulder = seen_height_cm(scene, joint), seen_height_cm(scene, "SHOULDER")
    shown = np.isfinite(height) & scene.motion.around
    upright = shown & (shoulder > percentile(shoulder[shown], 95.0) - _UPRIGHT_CM)
    return height - percentile(height[upright], _STANDING_SHARE)


_LANDING_S: Final = 0.6
"""Seconds before and after a frame in which a jump begins and ends (no source)."""


def _lowest_about(height: FloatArray, time_s: FloatArray) -> FloatArray:
    """Lowest value in the time a jump takes before and after each frame."""
    from scipy.ndimage import minimum_filter1d  # slow to load, and few movements need it

    step_s = float(np.median(np.diff(time_s))) if len(time_s) > 1 else _LANDING_S
    known = np.where(np.isfinite(height), height, np.inf)
    lowest: FloatArray = minimum_filter1d(known, 2 * round(_LANDING_S / step_s) + 1, mode="nearest")
    return np.where(np.isfinite(lowest), lowest, np.nan)


def _wrist_features(scene: Scene, joint: str) -> Features:
    read = (joint.lower(), "wrist")
    return _together(
        [
            (height_cm(scene, "wrist") - height_cm(scene, joint.lower()), read),
            (seen_height_cm(scene, "WRIST") - seen_height_cm(scene, joint), read),
        ]
    )


def _bar_over_foot_features(scene: Scene) -> Features:
    motion = scene.motion
    middle = (motion.joint("heel") + motion.joint("toe"))[:, 0] / 2
    off = np.abs(motion.joint("wrist")[:, 0] - middle) * CM
    return _together([(off, ("wrist", "heel", "toe"))])


def _plates_features(scene: Scene) -> Features:
    fitted, seen = height_cm(scene, "wrist"), seen_height_cm(scene, "WRIST")
    lowest = percentile(fitted[np.isfinite(fitted)], 2.0)
    lowest_seen = percentile(seen[np.isfinite(seen) & np.isfinite(fitted)], 2.0)
    return _together([(fitted - lowest, ("wrist",)), (seen - lowest_seen, ("wrist",))])


def _feet_bar_features(scene: Scene) -> Features:
    """How far the feet are below the hands on the bar, and away from them in the picture.

    A trunk folded up to the bar is rounder than the body that is fitted, so that it fits badly
    where the feet are seen well: what the picture alone shows does not depend on the fit.
    """
    toes = scene.picture_cm[:, [Landmark.LEFT_FOOT_INDEX, Landmark.RIGHT_FOOT_INDEX]]
    hands = scene.picture_cm[:, [Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST]].mean(axis=1)
    return _together(
        [
            (scene.hands_up_cm - height_cm(scene, "toe"), ("toe",)),
            (scene.hands_cm - toes[..., 1].max(axis=1), _PICTURE_ALONE),
            (hands[:, 1] - toes[..., 1].mean(axis=1), _PICTURE_ALONE),
            (np.linalg.norm(toes.mean(axis=1) - hands, axis=1), _PICTURE_ALONE),
        ]
    )


def _over_features(scene: Scene, upper: str, lower: str) -> Features:
    """One joint's height over another's, in the fitted body and in the picture."""
    read = (upper.lower(), lower.lower())
    return _together(
        [
            (height_cm(scene, upper.lower()) - height_cm(scene, lower.lower()), read),
            (seen_height_cm(scene, upper) - seen_height_cm(scene, lower), read),
        ]
    )


def _knee_floor_features(scene: Scene) -> Features:
    """Lower knee over its own toes, the other foot, and the lower of both feet.

    A body in a lunge is not symmetric and fits no symmetric one, and it goes through the picture,
    where the floor is not at one height: feet tell where it is.
    """
    height = scene.picture_cm[..., 1]
    left, right = height[:, Landmark.LEFT_KNEE], height[:, Landmark.RIGHT_KNEE]
    left_toes, right_toes = (
        height[:, Landmark.LEFT_FOOT_INDEX],
        height[:, Landmark.RIGHT_FOOT_INDEX],
    )
    left_foot, right_foot = (
        (left_toes + height[:, Landmark.LEFT_HEEL]) / 2,
        (right_toes + height[:, Landmark.RIGHT_HEEL]) / 2,
    )
    lower = np.minimum(left, right)
    own_toes = np.where(left < right, left_toes, right_toes)
    other_foot = np.where(left < right, right_foot, left_foot)
    return _together(
        [
            (lower - own_toes, _PICTURE_ALONE),
            (lower - other_foot, _PICTURE_ALONE),
            (lower - height[:, FEET].min(axis=1), _PICTURE_ALONE),
        ]
    )


def _head_floor_features(scene: Scene) -> Features:
    """Nose over the hands, which are on the floor."""
    return _together(
        [(seen_height_cm(scene, "NOSE") - seen_height_cm(scene, "WRIST"), ("nose", "wrist"))]
    )


FEATURES: Final[dict[Quantity, Callable[[Scene], Features]]] = {
    "hip crease above knee top": _depth_features,
    "knee angle": lambda scene: _leg_features(scene, ("HIP", "KNEE", "ANKLE")),
    "hip angle": lambda scene: _leg_features(scene, ("SHOULDER", "HIP", "KNEE")),
    "elbow angle": _elbow_features,
    "chin above bar": _over_bar_features,
    "chest to bar gap": lambda scene: _over_bar_features(scene, -1.0),
    "shoulders above bar": _over_bar_features,
    "chest above floor": _chest_floor_features,
    "feet clear of floor": _feet_features,
    "wrists above shoulders": lambda scene: _wrist_features(scene, "SHOULDER"),
    "wrists above crown": lambda scene: _wrist_features(scene, "EAR"),
    "bar over mid-foot": _bar_over_foot_features,
    "body straightness": lambda scene: _with_bends(
        _angle_parts(scene, ("SHOULDER", "HIP", "ANKLE"))
    ),
    "plates on floor": _plates_features,
    "feet to bar gap": _feet_bar_features,
    "knees above elbows": lambda scene: _over_features(scene, "KNEE", "ELBOW"),
    "knee above floor": _knee_floor_features,
    "head above floor": _head_floor_features,
}
"""Features of each quantity, read from a scene."""
