"""A stick figure, and the pinhole camera that films it.

Both sides do the same but for hands and feet, which may be apart along the way and in height.
"""

from dataclasses import dataclass

import numpy as np

from vision.pose.landmarks import LANDMARK_COUNT, Landmark

ANKLE, SHANK, THIGH, TRUNK, UPPER_ARM, FOREARM = 0.039, 0.246, 0.245, 0.288, 0.186, 0.146
LEG, ARM = SHANK + THIGH, UPPER_ARM + FOREARM


@dataclass(frozen=True)
class Posture:
    """Where hips, hands and feet are, as (y, z) in statures; knees and elbows follow.

    ``lean_deg`` tilts the trunk forward from upright; ``elbow_side`` and ``knee_side`` say to
    which side a bent joint points: 1 forward, -1 backward. ``wrists_apart`` and ``ankles_apart``
    say how far the left one is ahead of the middle and above it; the right one is the mirror image.
    """

    hip: tuple[float, float]
    lean_deg: float
    wrist: tuple[float, float]
    ankle: tuple[float, float] = (0.0, ANKLE)
    knee_side: float = 1.0
    elbow_side: float = -1.0
    wrists_apart: tuple[float, float] = (0.0, 0.0)
    ankles_apart: tuple[float, float] = (0.0, 0.0)

    @property
    def shoulder(self) -> tuple[float, float]:
        lean = np.radians(self.lean_deg)
        return (self.hip[0] + TRUNK * np.sin(lean), self.hip[1] + TRUNK * np.cos(lean))

    def numbers(self) -> np.ndarray:
        ends = [*self.hip, self.lean_deg, *self.wrist, *self.ankle]
        apart = [*self.wrists_apart, *self.ankles_apart]
        return np.array([*ends, self.knee_side, self.elbow_side, *apart])


def landmarks(numbers: np.ndarray) -> np.ndarray:
    """(N, 33, 3) positions in statures for (N, 13) rows of `Posture.numbers`."""
    hip = numbers[:, 0:2]
    lean = np.radians(numbers[:, 2])
    up = np.stack([np.sin(lean), np.cos(lean)], axis=1)
    shoulder = hip + TRUNK * up
    nose = shoulder + 0.11 * up + 0.04 * np.stack([up[:, 1], -up[:, 0]], axis=1)
    points = np.zeros((len(numbers), LANDMARK_COUNT, 3))
    for side, sign in (("LEFT", -1.0), ("RIGHT", 1.0)):
        wrist = numbers[:, 3:5] - sign * numbers[:, 9:11]
        ankle = numbers[:, 5:7] - sign * numbers[:, 11:13]
        knee = _middle(hip, ankle, THIGH, SHANK, numbers[:, 7])
        elbow = _middle(shoulder, wrist, UPPER_ARM, FOREARM, numbers[:, 8])
        toe, heel = ankle + np.array([0.11, -0.03]), ankle + np.array([-0.04, -0.03])
        for name, place, half_width in (
            ("SHOULDER", shoulder, 0.13), ("ELBOW", elbow, 0.16), ("WRIST", wrist, 0.15),
            ("HIP", hip, 0.095), ("KNEE", knee, 0.1), ("ANKLE", ankle, 0.1), ("HEEL", heel, 0.1),
            ("FOOT_INDEX", toe, 0.11), ("EYE_INNER", nose, 0.01), ("EYE", nose, 0.02),
            ("EYE_OUTER", nose, 0.03), ("EAR", nose, 0.04), ("PINKY", wrist, 0.16),
            ("INDEX", wrist, 0.15), ("THUMB", wrist, 0.14),
        ):  # fmt: skip
            index = Landmark[f"{side}_{name}"]
            points[:, index, 0] = sign * half_width
            points[:, index, 1:] = place
    for index, sign in ((Landmark.MOUTH_LEFT, -1), (Landmark.MOUTH_RIGHT, 1)):
        points[:, index, 0], points[:, index, 1:] = 0.015 * sign, nose
    points[:, Landmark.NOSE, 1:] = nose
    return points


def _middle(
    first: np.ndarray, last: np.ndarray, upper: float, lower: float, side: np.ndarray
) -> np.ndarray:
    """Knee or elbow of a limb between two ends; stretched ends leave it on the line."""
    way = last - first
    reach = np.clip(np.hypot(*way.T), 1e-6, None)
    along = way / reach[:, None]
    bent = np.minimum(reach, upper + lower)
    share = (upper**2 - lower**2 + bent**2) / (2 * bent)
    out = np.sqrt(np.clip(upper**2 - share**2, 0.0, None))
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    across *= np.where(across[:, 0] * side >= 0, 1.0, -1.0)[:, None]
    middle: np.ndarray = first + along * share[:, None] + across * out[:, None]
    return middle


@dataclass(frozen=True)
class Camera:
    """A phone on a tripod: ``view_deg`` 0 = front, 90 = the athlete's right side, in statures."""

    view_deg: float = 40.0
    distance: float = 3.0
    height: float = 0.6
    focal_px: float = 900.0
    width_px: int = 720
    height_px: int = 1280

    def picture(self, points: np.ndarray) -> np.ndarray:
        """(..., 2) pixels of (..., 3) points in statures."""
        view = np.radians(self.view_deg)
        away = np.array([-np.sin(view), -np.cos(view), 0.0])
        right = np.array([-np.cos(view), np.sin(view), 0.0])
        seen = points - (np.array([0.0, 0.0, self.height]) - self.distance * away)
        depth = seen @ away
        x = self.width_px / 2 + self.focal_px * (seen @ right) / depth
        y = self.height_px / 2 - self.focal_px * seen[..., 2] / depth
        return np.stack([x, y], axis=-1)
