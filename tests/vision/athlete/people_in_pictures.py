"""Stick people with exactly known joints, detected in pictures of 640 by 360 pixels."""

from collections.abc import Sequence

import numpy as np

from vision.athlete.detection import Detection, Sample
from vision.athlete.reading import Readings
from vision.pose.landmarks import LANDMARK_COUNT

WIDTH_PX = 640.0
RED = (120.0, 180.0, 160.0)
BLUE = (80.0, 130.0, 70.0)

_HEIGHT = {"head": 0.93, "shoulder": 0.82, "elbow": 0.63, "wrist": 0.48, "hip": 0.53}
_PARTS = ["head"] * 5 + [p for p in ("shoulder", "elbow", "wrist", "hip") for _ in (0, 1)]


def joints(
    x_px: float = 320.0,
    floor_px: float = 330.0,
    stature_px: float = 200.0,
    *,
    squat: float = 0.0,
) -> np.ndarray:
    """(17, 2) joints of a frontal person; ``squat`` from 0 (upright) to 1 (hips at the knees)."""
    places = np.zeros((17, 2))
    for index, part in enumerate(_PARTS):
        height = _HEIGHT[part] - 0.25 * squat
        side = 0.0 if part == "head" else (-0.1 if index % 2 else 0.1)
        places[index] = (x_px + side * stature_px, floor_px - height * stature_px)
    for index, height in ((13, 0.28), (14, 0.28), (15, 0.04), (16, 0.04)):
        side = -0.1 if index % 2 else 0.1
        places[index] = (x_px + side * stature_px, floor_px - height * stature_px)
    return places


def detection(
    image_px: np.ndarray, *, score: float = 0.85, clothes: Sequence[float] = RED
) -> Detection:
    """A detection of these joints."""
    return Detection(score, image_px, np.full(17, 0.8), np.array(clothes, dtype=float))


def samples(pictures: Sequence[Sequence[Detection]], step_s: float = 0.2) -> list[Sample]:
    """Pictures at even times, each with the people detected in it."""
    return [
        Sample(row=6 * number, time_s=step_s * number, people=tuple(people))
        for number, people in enumerate(pictures)
    ]


def readings(first_px: np.ndarray, second_px: np.ndarray) -> Readings:
    """What two networks read that are both sure: (33, 2) and (17, 2) places."""
    return Readings(
        first_px=first_px,
        sharpness=np.full(LANDMARK_COUNT, 0.85),
        depth_px=np.zeros(LANDMARK_COUNT),
        world_m=np.zeros((LANDMARK_COUNT, 3)),
        visibility=np.ones(LANDMARK_COUNT),
        second_px=second_px,
        peak=np.full(17, 0.85),
    )
