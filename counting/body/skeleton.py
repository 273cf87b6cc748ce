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
"""On which side of the body's middle each point is, in half-widths."""

OTHER_SIDE: Final = np.array(
    [POINTS.index((joint, {"left": "right", "right": "left"}.get(s, s))) for joint, s in POINTS]
)
"""By point: the same joint's point on the other side."""

FREE_WIDTHS: Final = ("elbow", "wrist", "knee", "ankle")
"""Joints whose distance from the middle plane changes from frame to frame."""

PER_FRAME: Final = 2 * JOINT_COUNT + 1 + len(FREE_WIDTHS)
"""Unknowns of a frame: forward and up of each joint, sideways shift, then the free widths."""

SHIFT: Final = 2 * JOINT_COUNT
WIDTHS: Final = slice(SHIFT + 1, PER_FRAME)
PAIRED_POINTS: Final = 2 * len(SIDED)
"""Leading points that come in pairs, left and right."""
FREE_WIDTH_OF: Final = {
    J[joint]: WIDTHS.start + FREE_WIDTHS.index({"heel": "ankle", "toe": "ankle"}.get(joint, joint))
    for joint in (*FREE_WIDTHS, "heel", "toe")
}
"""By joint: the free width it follows."""

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
"""Places of the limbs' lengths among the shared unknowns."""


SHARED_WIDTH_OF: Final = {
    J["hip"]: G["hip width"],
    J["shoulder"]: G["shoulder width"],
    J["toe"]: G["toe outward"],
}
"""By joint: the shared unknown its distance from the middle plane depends on."""


def joint_widths(frames: FloatArray, shared: FloatArray, proportions: Proportions) -> FloatArray:
    """Distance of each joint from the middle plane, (joints, N), metres.

    Unknowns of frames, (unknowns, N), and shared ones, (unknowns, N) or (unknowns,).
    """
    stature = np.exp(shared[G["log_stature"]])
    widths = np.zeros((JOINT_COUNT, frames.shape[1]))
    widths[J["hip"]] = proportions.hip_half_width * stature * np.exp(shared[G["hip width"]])
    widths[J["shoulder"]] = (
        proportions.shoulder_half_width * stature * np.exp(shared[G["shoulder width"]])
    )
    widths[J["ear"]] = proportions.ear_half_width * stature
    for joint, width in FREE_WIDTH_OF.items():
        widths[joint] = frames[width]
    widths[J["toe"]] += shared[G["toe outward"]]
    return widths


def limb_lengths(shared: FloatArray, proportions: Proportions) -> FloatArray:
    """Length of each of `LIMBS`, (limbs, ...), metres."""
    stature = np.exp(shared[G["log_stature"]])
    by_stature = np.array(proportions.limbs).reshape(-1, *[1] * (shared.ndim - 1))
    lengths: FloatArray = by_stature * stature * np.exp(shared[LIMB_GLOBALS])
    return lengths


def camera_axes(shared: FloatArray) -> FloatArray:
    """Return the picture's right, its down and the line of sight in the world, (3, 3, ...)."""
    pan, tilt, roll = shared[G["pan"]], shared[G["tilt"]], shared[G["roll"]]
    sight = np.stack([np.sin(pan) * np.cos(tilt), np.cos(pan) * np.cos(tilt), -np.sin(tilt)])
    level = np.stack([np.cos(pan), -np.sin(pan), np.zeros_like(pan)])
    down = np.stack([-np.sin(tilt) * np.sin(pan), -np.sin(tilt) * np.cos(pan), -np.cos(tilt)])
    return np.stack(
        [
            np.cos(roll) * level + np.sin(roll) * down,
            -np.sin(roll) * level + np.cos(roll) * down,
            sight,
        ]
    )
