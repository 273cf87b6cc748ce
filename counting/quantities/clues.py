"""What the film shows of each quantity: several clues in its unit, none of them trusted alone.

A clue is a series in the quantity's own unit. Clues from the fitted body carry perspective, clues
from the picture carry none but are steady; which of them is right by how much in which view is a
matter of calibration (`counting.checks.calibrate`), not of this module.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.ndimage import minimum_filter1d

from counting.body.evidence import landmark_sureness, steadied_px
from counting.body.motion import BodyMotion
from counting.body.skeleton import FloatArray
from counting.movements.types import Quantity
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

_CM: Final = 100.0


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Everything clues are read from.

    Attributes
    ----------
    motion
        The fitted body.
    picture_cm
        (N, 33, 2) steadied landmarks, centimetres at the athlete's distance, x right, y *up*.
    world_cm
        (N, 33, 3) the network's metric guess, centimetres, x right, y up, z away.
    sureness
        (N, 33) how sure each landmark is, 0 to 1.
    hands_cm
        Height of the hands on the bar in the picture, from the frames in which they hold it.
    hands_up_cm
        The same in the fitted body.
    floor_cm
        Height of the floor in the picture below the feet, from the feet's usual lowest place.
    """

    motion: BodyMotion
    picture_cm: FloatArray
    world_cm: FloatArray
    sureness: FloatArray
    hands_cm: float
    hands_up_cm: float
    floor_cm: float


def view_scene(track: PoseTrack, motion: BodyMotion) -> Scene:
    """Bring a track and its fitted body into centimetres."""
    scale = motion.camera.focal_px / motion.camera.distance_m
    sureness = landmark_sureness(track)
    picture = steadied_px(track) / scale * _CM * np.array([1.0, -1.0])
    world = track.world_m * _CM * np.array([1.0, -1.0, 1.0])
    fitted = np.isfinite(motion.joints_m[:, 0, 0])
    wrist = _pair(picture, "WRIST", sureness)[:, 1]
    feet = np.nanmin(picture[:, _FEET, 1], axis=1, initial=np.inf, where=_known(picture))
    return Scene(
        motion=motion,
        picture_cm=picture,
        world_cm=world,
        sureness=sureness,
        hands_cm=_median(wrist[fitted]),
        hands_up_cm=_median(motion.joint("wrist")[:, 2] * _CM),
        floor_cm=_percentile(feet[fitted & np.isfinite(feet)], 20.0),
    )


_FEET: Final = [
    Landmark.LEFT_HEEL,
    Landmark.RIGHT_HEEL,
    Landmark.LEFT_FOOT_INDEX,
    Landmark.RIGHT_FOOT_INDEX,
]


def _known(picture: FloatArray) -> np.ndarray:
    known: np.ndarray = np.isfinite(picture[:, _FEET, 1])
    return known


def _median(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def _percentile(values: FloatArray, share: float) -> float:
    return float(np.percentile(values, share)) if len(values) else float("nan")


def _pair(points: FloatArray, joint: str, sureness: FloatArray) -> FloatArray:
    """Middle of a joint's two sides, each weighed by how sure it is."""
    sides = [Landmark[f"LEFT_{joint}"], Landmark[f"RIGHT_{joint}"]]
    weight = 0.01 + sureness[:, sides] ** 2
    weight = weight / weight.sum(axis=1, keepdims=True)
    middle: FloatArray = (points[:, sides] * weight[:, :, None]).sum(axis=1)
    return middle


def inner_angle_deg(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Angle at ``b`` between ``a`` and ``c``, last axis holds coordinates, 0 to 180 degrees."""
    u, v = a - b, c - b
    cosine = (u * v).sum(-1) / np.maximum(
        np.linalg.norm(u, axis=-1) * np.linalg.norm(v, axis=-1), 1e-12
    )
    angle: FloatArray = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return angle


def _angle_of_sides(
    points: FloatArray, sureness: FloatArray, joints: tuple[str, str, str]
) -> FloatArray:
    angles, weights = [], []
    for side in ("LEFT", "RIGHT"):
        index = [Landmark[f"{side}_{joint}"] for joint in joints]
        angles.append(inner_angle_deg(*(points[:, i] for i in index)))
        weights.append(0.01 + sureness[:, index].min(axis=1) ** 2)
    weight = np.stack(weights)
    mean: FloatArray = (np.stack(angles) * weight).sum(axis=0) / weight.sum(axis=0)
    return mean


_DEGREES_A_CM: Final = {"SHOULDER": 8.0, "HIP": 5.0}
"""Opening of a joint for each centimetre its limb gets longer end to end, by the limb's root.

Between 130 and 165 degrees an arm of 0.33 statures gains 4.4 cm, a leg of 0.49 statures 7 cm: from
the law of cosines.
"""


def _angle_clues(scene: Scene, joints: tuple[str, str, str]) -> FloatArray:
    """Angle in the fitted body, picture and network's guess; then the limb's reach in both."""
    a, b, c = (scene.motion.joint(joint.lower()) for joint in joints)
    root, _, end = joints
    span = _pair(scene.picture_cm, root, scene.sureness) - _pair(
        scene.picture_cm, end, scene.sureness
    )
    degrees_a_cm = _DEGREES_A_CM[root]
    return np.stack(
        [
            inner_angle_deg(a, b, c),
            _angle_of_sides(scene.picture_cm, scene.sureness, joints),
            _angle_of_sides(scene.world_cm, scene.sureness, joints),
            np.linalg.norm(a - c, axis=1) * _CM * degrees_a_cm,
            np.linalg.norm(span, axis=1) * degrees_a_cm,
        ],
        axis=1,
    )


def _height(scene: Scene, joint: str) -> FloatArray:
    return scene.motion.joint(joint)[:, 2] * _CM


def seen_height_cm(scene: Scene, joint: str) -> FloatArray:
    """Height of a joint's middle (or of the nose) in the picture, (N,), centimetres."""
    if joint == "NOSE":
        return scene.picture_cm[:, Landmark.NOSE, 1]
    return _pair(scene.picture_cm, joint, scene.sureness)[:, 1]


def _depth_clues(scene: Scene) -> FloatArray:
    world = _pair(scene.world_cm, "HIP", scene.sureness) - _pair(
        scene.world_cm, "KNEE", scene.sureness
    )
    a, b, c = (scene.motion.joint(joint) for joint in ("hip", "knee", "ankle"))
    return np.stack(
        [
            _height(scene, "hip") - _height(scene, "knee"),
            seen_height_cm(scene, "HIP") - seen_height_cm(scene, "KNEE"),
            world[:, 1],
            inner_angle_deg(a, b, c) - 60.0,
        ],
        axis=1,
    )


def _over_bar_clues(scene: Scene) -> FloatArray:
    """Head and shoulders against the hands on the bar, in the fitted body and in the picture."""
    return np.stack(
        [
            _height(scene, "nose") - scene.hands_up_cm,
            seen_height_cm(scene, "NOSE") - scene.hands_cm,
            _height(scene, "shoulder") - scene.hands_up_cm,
            seen_height_cm(scene, "SHOULDER") - scene.hands_cm,
            _height(scene, "ear") - scene.hands_up_cm,
            (scene.motion.joint("shoulder") - scene.motion.joint("wrist"))[:, 0] * _CM,
        ],
        axis=1,
    )


def _chest_floor_clues(scene: Scene) -> FloatArray:
    return np.stack(
        [
            _height(scene, "shoulder") - _height(scene, "wrist"),
            seen_height_cm(scene, "SHOULDER") - seen_height_cm(scene, "WRIST"),
            seen_height_cm(scene, "SHOULDER") - scene.floor_cm,
            _height(scene, "shoulder"),
            seen_height_cm(scene, "NOSE") - seen_height_cm(scene, "WRIST"),
        ],
        axis=1,
    )


def _feet_clues(scene: Scene) -> FloatArray:
    """Feet above where they last stood or next stand, and the body above its usual standing."""
    feet = scene.picture_cm[:, _FEET, 1].mean(axis=1)
    time_s = scene.motion.time_s
    risen = [_above_standing(scene, joint) for joint in ("HIP", "SHOULDER", "NOSE")]
    return np.stack([feet - _lowest_about(feet, time_s), *risen], axis=1)


_UPRIGHT_CM: Final = 35.0
_STANDING_SHARE: Final = 60.0


def _above_standing(scene: Scene, joint: str) -> FloatArray:
    """Height over that of quiet standing: what most of the upright frames show."""
    height, shoulder = seen_height_cm(scene, joint), seen_height_cm(scene, "SHOULDER")
    fitted = np.isfinite(height) & np.isfinite(scene.motion.joints_m[:, 0, 0])
    upright = fitted & (shoulder > _percentile(shoulder[fitted], 95.0) - _UPRIGHT_CM)
    return height - _percentile(height[upright], _STANDING_SHARE)


_LANDING_S: Final = 0.6


def _lowest_about(height: FloatArray, time_s: FloatArray) -> FloatArray:
    """Lowest value in the time a jump takes before and after each frame."""
    step_s = float(np.median(np.diff(time_s))) if len(time_s) > 1 else _LANDING_S
    known = np.where(np.isfinite(height), height, np.inf)
    lowest: FloatArray = minimum_filter1d(known, 2 * round(_LANDING_S / step_s) + 1, mode="nearest")
    return np.where(np.isfinite(lowest), lowest, np.nan)


def _wrist_clues(scene: Scene, joint: str) -> FloatArray:
    return np.stack(
        [
            _height(scene, "wrist") - _height(scene, joint.lower()),
            seen_height_cm(scene, "WRIST") - seen_height_cm(scene, joint),
        ],
        axis=1,
    )


def _bar_over_foot_clues(scene: Scene) -> FloatArray:
    motion = scene.motion
    middle = (motion.joint("heel") + motion.joint("toe"))[:, 0] / 2
    return (np.abs(motion.joint("wrist")[:, 0] - middle) * _CM)[:, None]


def _straightness_clues(scene: Scene) -> FloatArray:
    return _angle_clues(scene, ("SHOULDER", "HIP", "ANKLE"))


def _plates_clues(scene: Scene) -> FloatArray:
    fitted, seen = _height(scene, "wrist"), seen_height_cm(scene, "WRIST")
    return np.stack(
        [
            fitted - _percentile(fitted[np.isfinite(fitted)], 2.0),
            seen - _percentile(seen[np.isfinite(seen) & np.isfinite(fitted)], 2.0),
        ],
        axis=1,
    )


CLUES: Final[dict[Quantity, Callable[[Scene], FloatArray]]] = {
    "hip crease above knee top": _depth_clues,
    "knee angle": lambda scene: _angle_clues(scene, ("HIP", "KNEE", "ANKLE")),
    "hip angle": lambda scene: _angle_clues(scene, ("SHOULDER", "HIP", "KNEE")),
    "elbow angle": lambda scene: _angle_clues(scene, ("SHOULDER", "ELBOW", "WRIST")),
    "chin above bar": _over_bar_clues,
    "chest to bar gap": lambda scene: -_over_bar_clues(scene),
    "shoulders above bar": _over_bar_clues,
    "chest above floor": _chest_floor_clues,
    "feet clear of floor": _feet_clues,
    "wrists above shoulders": lambda scene: _wrist_clues(scene, "SHOULDER"),
    "wrists above crown": lambda scene: _wrist_clues(scene, "EAR"),
    "bar over mid-foot": _bar_over_foot_clues,
    "body straightness": _straightness_clues,
    "plates on floor": _plates_clues,
}
"""Clues of each quantity: a function of the scene to (N, clues), NaN where not seen."""

_ON_THE_BAR: Final = ("nose", "ear", "shoulder", "wrist")
JOINTS_OF: Final[dict[Quantity, tuple[str, ...]]] = {
    "hip crease above knee top": ("hip", "knee", "ankle"),
    "knee angle": ("hip", "knee", "ankle"),
    "hip angle": ("shoulder", "hip", "knee"),
    "elbow angle": ("shoulder", "elbow", "wrist"),
    "chin above bar": _ON_THE_BAR,
    "chest to bar gap": _ON_THE_BAR,
    "shoulders above bar": _ON_THE_BAR,
    "chest above floor": ("shoulder", "wrist"),
    "feet clear of floor": ("hip", "shoulder", "ankle"),
    "wrists above shoulders": ("shoulder", "wrist"),
    "wrists above crown": ("ear", "wrist"),
    "bar over mid-foot": ("wrist", "heel", "toe"),
    "body straightness": ("shoulder", "hip", "ankle"),
    "plates on floor": ("wrist",),
}
"""Joints whose landmarks a quantity is read from."""
