"""The athlete and the fitted body in centimetres: what features are read from."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from counting.body.evidence import Base, landmark_sureness
from counting.body.motion import BodyMotion
from counting.body.skeleton import FloatArray
from counting.signals.body import steadied_px
from counting.signals.percentiles import percentile
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

CM: Final = 100.0
"""Centimetres a metre."""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Everything features are read from.

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
    base
        What holds the athlete: with "hanging" and "floor" the hands keep their place.
    floor_cm
        Height of the floor in the picture below the feet, from the feet's usual lowest place.
    """

    motion: BodyMotion
    picture_cm: FloatArray
    world_cm: FloatArray
    sureness: FloatArray
    hands_cm: float
    hands_up_cm: float
    base: Base
    floor_cm: float


def view_scene(track: PoseTrack, motion: BodyMotion, base: Base) -> Scene:
    """Bring a track and its fitted body into centimetres."""
    scale = motion.camera.focal_px / motion.camera.distance_m
    sureness = landmark_sureness(track)
    picture = steadied_px(track)
    picture *= np.array([CM, -CM]) / scale
    world = np.empty_like(track.world_m.transpose(1, 0, 2), order="C").transpose(1, 0, 2)
    np.multiply(track.world_m, np.array([CM, -CM, CM]), out=world)
    wrist = pair(picture, "WRIST", sureness)[:, 1]
    feet = np.nanmin(picture[:, FEET, 1], axis=1, initial=np.inf, where=_known(picture))
    return Scene(
        motion=motion,
        picture_cm=picture,
        world_cm=world,
        sureness=sureness,
        hands_cm=_median(wrist[motion.around]),
        hands_up_cm=motion.hands_up_m * CM,
        base=base,
        floor_cm=percentile(feet[motion.around & np.isfinite(feet)], 20.0),
    )


FEET: Final = [
    Landmark.LEFT_HEEL,
    Landmark.RIGHT_HEEL,
    Landmark.LEFT_FOOT_INDEX,
    Landmark.RIGHT_FOOT_INDEX,
]


def _known(picture: FloatArray) -> np.ndarray:
    known: np.ndarray = np.isfinite(picture[:, FEET, 1])
    return known


def _median(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else float("nan")


def pair(points: FloatArray, joint: str, sureness: FloatArray) -> FloatArray:
    """Middle of a joint's two sides, each weighed by how sure it is."""
    left, right = Landmark[f"LEFT_{joint}"], Landmark[f"RIGHT_{joint}"]
    heavy, other = (0.01 + sureness[:, side] ** 2 for side in (left, right))
    share = (heavy / (heavy + other))[:, None]
    middle: FloatArray = points[:, left] * share + points[:, right] * (1.0 - share)
    return middle


def inner_angle_deg(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Angle at ``b`` between ``a`` and ``c``, last axis holds coordinates, 0 to 180 degrees."""
    u, v = a - b, c - b
    lengths = np.sqrt(_inner(u, u)) * np.sqrt(_inner(v, v))
    cosine = _inner(u, v) / np.maximum(lengths, 1e-12)
    angle: FloatArray = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return angle


def _inner(u: FloatArray, v: FloatArray) -> FloatArray:
    product: FloatArray = np.einsum("...i,...i->...", u, v)
    return product


def angle_of_sides(
    points: FloatArray, sureness: FloatArray, joints: tuple[str, str, str]
) -> FloatArray:
    """Inner angle at the middle joint, (N,) degrees: both sides, weighed by how sure they are."""
    angles, weights = [], []
    for side in ("LEFT", "RIGHT"):
        index = [Landmark[f"{side}_{joint}"] for joint in joints]
        angles.append(inner_angle_deg(*(points[:, i] for i in index)))
        weights.append(0.01 + sureness[:, index].min(axis=1) ** 2)
    weight = np.stack(weights)
    mean: FloatArray = (np.stack(angles) * weight).sum(axis=0) / weight.sum(axis=0)
    return mean


def height_cm(scene: Scene, joint: str) -> FloatArray:
    """Height of a joint above the floor in the fitted body, (N,), centimetres."""
    return scene.motion.joint(joint)[:, 2] * CM


@lru_cache(maxsize=16)
def seen_height_cm(scene: Scene, joint: str) -> FloatArray:
    """Height of a joint's middle (or of the nose) in the picture, (N,), centimetres.

    Kept for the next who asks: not to be written to.
    """
    if joint == "NOSE":
        return scene.picture_cm[:, Landmark.NOSE, 1]
    return pair(scene.picture_cm, joint, scene.sureness)[:, 1]
