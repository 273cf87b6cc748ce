"""A body that moves symmetrically, and how a camera sees it.

Two-handed lifts, hangs and planks are near-symmetric, and this is what makes one camera enough: a
joint's left and right copies lie at equal distances from the athlete's middle plane, so that where
one side is hidden the other speaks, and depth follows from limb lengths.

Axes of the body: *forward* (the way the athlete faces), *up*, *right*. Origin: the floor below
the athlete's usual place. The camera looks along its own axis with pan, tilt (down positive) and
roll from a stated height and distance. All lengths are metres, all angles radians.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.pose.landmarks import Landmark

FloatArray = npt.NDArray[np.float64]

JOINTS: Final = (
    "hip",
    "shoulder",
    "elbow",
    "wrist",
    "knee",
    "ankle",
    "heel",
    "toe",
    "nose",
    "ear",
)
J: Final = {name: index for index, name in enumerate(JOINTS)}
JOINT_COUNT: Final = len(JOINTS)

SIDED: Final = tuple(name for name in JOINTS if name != "nose")
_LANDMARK_OF: Final = {"toe": "FOOT_INDEX"}
POINTS: Final = (
    *((joint, side) for joint in SIDED for side in ("left", "right")),
    ("nose", "middle"),
)
"""Joint and side of each projected point."""

POINT_LANDMARKS: Final = np.array(
    [
        Landmark.NOSE
        if side == "middle"
        else Landmark[f"{side}_{_LANDMARK_OF.get(joint, joint)}".upper()]
        for joint, side in POINTS
    ]
)
POINT_JOINT: Final = np.array([J[joint] for joint, _ in POINTS])
POINT_SIDE: Final = np.array([{"left": -1.0, "right": 1.0, "middle": 0.0}[s] for _, s in POINTS])

FREE_WIDTHS: Final = ("elbow", "wrist", "knee", "ankle")
"""Joints whose distance from the middle plane changes from frame to frame."""

PER_FRAME: Final = 2 * JOINT_COUNT + 1 + len(FREE_WIDTHS)
"""Unknowns of a frame: forward and up of each joint, sideways shift, then the free widths."""

SHIFT: Final = 2 * JOINT_COUNT
WIDTHS: Final = slice(SHIFT + 1, PER_FRAME)

LIMBS: Final = (
    ("shoulder", "elbow"),
    ("elbow", "wrist"),
    ("hip", "knee"),
    ("knee", "ankle"),
    ("hip", "shoulder"),
    ("ankle", "heel"),
    ("ankle", "toe"),
    ("heel", "toe"),
    ("shoulder", "ear"),
    ("ear", "nose"),
)
"""Pairs of joints at constant distance."""


@dataclass(frozen=True, slots=True)
class Proportions:
    """Lengths as shares of stature, with their spread between people as shares of themselves.

    Drillis and Contini 1966 as given by Winter 2009, figure 4.1, for limbs; their spreads, and the
    lengths of foot and head, are common practice, no source.
    """

    limbs: tuple[float, ...] = (
        0.186,
        0.146,
        0.245,
        0.246,
        0.288,
        0.05,
        0.12,
        0.145,
        0.12,
        0.075,
    )
    limb_spread: tuple[float, ...] = (
        0.06,
        0.06,
        0.06,
        0.06,
        0.06,
        0.3,
        0.2,
        0.2,
        0.2,
        0.2,
    )
    hip_half_width: float = 0.052
    shoulder_half_width: float = 0.105
    ear_half_width: float = 0.042
    width_spread: float = 0.15
    toe_outward: float = 0.03
    ankle_height: float = 0.045


GLOBALS: Final = (
    "log_distance",
    "height",
    "tilt",
    "roll",
    "pan",
    "log_focal",
    "yaw",
    "log_stature",
    *(f"limb {a}-{b}" for a, b in LIMBS),
    "hip width",
    "shoulder width",
    "toe outward",
    "bar forward",
    "bar up",
)
G: Final = {name: index for index, name in enumerate(GLOBALS)}
LIMB_GLOBALS: Final = slice(G["limb shoulder-elbow"], G["limb ear-nose"] + 1)


def joint_widths(frames: FloatArray, shared: FloatArray, proportions: Proportions) -> FloatArray:
    """Distance of each joint from the middle plane, (N, joints), metres."""
    stature = np.exp(shared[G["log_stature"]])
    widths = np.zeros((frames.shape[0], JOINT_COUNT))
    widths[:, J["hip"]] = proportions.hip_half_width * stature * np.exp(shared[G["hip width"]])
    widths[:, J["shoulder"]] = (
        proportions.shoulder_half_width * stature * np.exp(shared[G["shoulder width"]])
    )
    widths[:, J["ear"]] = proportions.ear_half_width * stature
    for k, joint in enumerate(FREE_WIDTHS):
        widths[:, J[joint]] = frames[:, WIDTHS.start + k]
    widths[:, J["heel"]] = widths[:, J["ankle"]]
    widths[:, J["toe"]] = widths[:, J["ankle"]] + shared[G["toe outward"]]
    return widths


def limb_lengths(shared: FloatArray, proportions: Proportions) -> FloatArray:
    """Length of each of `LIMBS`, metres."""
    stature = np.exp(shared[G["log_stature"]])
    lengths: FloatArray = np.array(proportions.limbs) * stature * np.exp(shared[LIMB_GLOBALS])
    return lengths


def body_axes(yaw: float) -> tuple[FloatArray, FloatArray]:
    """Forward and right of the athlete in the world; yaw 0 faces the camera, 90 its right."""
    forward = np.array([np.sin(yaw), -np.cos(yaw), 0.0])
    right = np.array([-np.cos(yaw), -np.sin(yaw), 0.0])
    return forward, right


def camera_axes(shared: FloatArray) -> FloatArray:
    """Rows: the picture's right, the picture's down and the line of sight, in the world."""
    pan, tilt, roll = shared[G["pan"]], shared[G["tilt"]], shared[G["roll"]]
    sight = np.array([np.sin(pan) * np.cos(tilt), np.cos(pan) * np.cos(tilt), -np.sin(tilt)])
    level = np.array([np.cos(pan), -np.sin(pan), 0.0])
    down = np.cross(sight, level)
    return np.stack(
        [
            np.cos(roll) * level + np.sin(roll) * down,
            -np.sin(roll) * level + np.cos(roll) * down,
            sight,
        ]
    )


def place_points(frames: FloatArray, shared: FloatArray, proportions: Proportions) -> FloatArray:
    """Positions of `POINTS` in the world, (N, points, 3), metres."""
    forward, right = body_axes(shared[G["yaw"]])
    ahead = frames[:, POINT_JOINT * 2]
    up = frames[:, POINT_JOINT * 2 + 1]
    sideways = (
        frames[:, SHIFT, None]
        + POINT_SIDE * joint_widths(frames, shared, proportions)[:, POINT_JOINT]
    )
    points: FloatArray = ahead[:, :, None] * forward + sideways[:, :, None] * right
    points[:, :, 2] += up
    return points


def project(points: FloatArray, shared: FloatArray, centre_px: FloatArray) -> FloatArray:
    """Pinhole picture of world points, pixels; same leading shape, last axis x right, y down."""
    camera = np.array([0.0, -np.exp(shared[G["log_distance"]]), shared[G["height"]]])
    seen = (points - camera) @ camera_axes(shared).T
    depth = np.maximum(seen[..., 2:], 0.2)
    picture: FloatArray = centre_px + np.exp(shared[G["log_focal"]]) * seen[..., :2] / depth
    return picture
