"""The pose network's metric guess, as a good network would give it."""

from dataclasses import replace

import numpy as np

from synthetic.figure import Camera, landmarks
from synthetic.script import Script
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

STATURE_M = 1.73


def play_in_metres(
    script: Script, camera: Camera, rate_hz: float = 20.0, **how: float
) -> PoseTrack:
    """Film a script; the track also holds world landmarks, seen from the camera."""
    track = script.play(camera, rate_hz=rate_hz, **how)
    return replace(track, world_m=world_m(landmarks(script.numbers_at(track.time_s)), camera))


def world_m(points: np.ndarray, camera: Camera) -> np.ndarray:
    """(N, 33, 3) metres, origin between the hips, x right, y down, z away from the camera."""
    view = np.radians(camera.view_deg)
    away = np.array([-np.sin(view), -np.cos(view), 0.0])
    right = np.array([-np.cos(view), np.sin(view), 0.0])
    hips = points[:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=1, keepdims=True)
    offset = (points - hips) * STATURE_M
    return np.stack([offset @ right, -offset[..., 2], offset @ away], axis=-1)
