"""Stick people with exactly known landmarks, and a network that sees them."""

import math
from collections.abc import Callable, Sequence

import numpy as np

from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.pose.network import Pose
from vision.pose.region import Picture, Region

_HEIGHT_SHARE = {
    "NOSE": 0.92,
    "SHOULDER": 0.82,
    "ELBOW": 0.63,
    "WRIST": 0.48,
    "HIP": 0.53,
    "KNEE": 0.28,
    "ANKLE": 0.04,
}


def person(
    x_px: float = 200.0,
    floor_px: float = 400.0,
    stature_px: float = 200.0,
    *,
    squat: float = 0.0,
    raise_hands: float = 0.0,
    sharpness: float = 0.8,
    turn_rad: float = 0.0,
) -> Pose:
    """A frontal stick person; ``squat`` from 0 (upright) to 1 (hips at knee height)."""
    image = np.zeros((LANDMARK_COUNT, 2))
    for landmark in Landmark:
        part = next((p for p in _HEIGHT_SHARE if landmark.name.endswith(p)), None)
        side = -1.0 if landmark.name.startswith("LEFT") else 1.0
        height = _HEIGHT_SHARE.get(part or "NOSE", 0.5)
        if part in ("NOSE", "SHOULDER", "ELBOW", "WRIST", "HIP"):
            height -= 0.25 * squat
        if part == "WRIST":
            height += 0.6 * raise_hands
        image[landmark] = (x_px - side * 0.1 * stature_px, floor_px - height * stature_px)
    return pose_at(image, sharpness=sharpness, side_px=1.3 * stature_px, turn_rad=turn_rad)


def pose_at(
    image: np.ndarray, *, sharpness: float = 0.8, side_px: float = 260.0, turn_rad: float = 0.0
) -> Pose:
    """A pose with these landmarks."""
    hips = image[[Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=0)
    return Pose(
        image_px=image,
        depth_px=np.zeros(LANDMARK_COUNT),
        world_m=np.zeros((LANDMARK_COUNT, 3)),
        visibility=np.full(LANDMARK_COUNT, 0.9),
        sharpness=np.full(LANDMARK_COUNT, sharpness),
        confidence=0.99,
        region=Region(float(hips[0]), float(hips[1]), side_px, turn_rad),
    )


def nobody() -> Pose:
    """What the network returns for a region without a person."""
    blank = pose_at(np.zeros((LANDMARK_COUNT, 2)), sharpness=0.1)
    return Pose(
        blank.image_px,
        blank.depth_px,
        blank.world_m,
        blank.visibility,
        blank.sharpness,
        0.01,
        blank.region,
    )


def picture_of(frame: int) -> Picture:
    """A picture that holds nothing but its own number."""
    return np.array([[[frame // 256, frame % 256, 0]]], dtype=np.uint8)


def seeing(people: Sequence[Callable[[int], Pose | None]]) -> Callable[[Picture, Region], Pose]:
    """A network that sees the person nearest to the region's centre, if within a third of it."""

    def look(picture: Picture, region: Region) -> Pose:
        frame = int(picture[0, 0, 0]) * 256 + int(picture[0, 0, 1])
        there = [pose for pose in (who(frame) for who in people) if pose is not None]

        def away(pose: Pose) -> float:
            return math.hypot(pose.region.x_px - region.x_px, pose.region.y_px - region.y_px)

        nearest = min(there, key=away, default=None)
        if nearest is None or away(nearest) > region.side_px / 3:
            return nobody()
        return nearest

    return look
