"""The symmetric body before a pinhole camera, in its plainest form.

`counting.body.normal` writes the same out together with its derivatives.
"""

import numpy as np

from counting.body.skeleton import (
    POINT_JOINT,
    POINT_SIDE,
    SHIFT,
    FloatArray,
    G,
    Proportions,
    camera_axes,
    joint_widths,
)


def body_axes(yaw: float) -> tuple[FloatArray, FloatArray]:
    """Forward and right of the athlete in the world; yaw 0 faces the camera, 90 its right."""
    forward = np.array([np.sin(yaw), -np.cos(yaw), 0.0])
    right = np.array([-np.cos(yaw), -np.sin(yaw), 0.0])
    return forward, right


def place_points(frames: FloatArray, shared: FloatArray, proportions: Proportions) -> FloatArray:
    """Positions of `POINTS` in the world, (N, points, 3), metres."""
    forward, right = body_axes(shared[G["yaw"]])
    ahead = frames[:, POINT_JOINT * 2]
    up = frames[:, POINT_JOINT * 2 + 1]
    widths = joint_widths(frames.T, shared, proportions)[POINT_JOINT].T
    sideways = frames[:, SHIFT, None] + POINT_SIDE * widths
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
