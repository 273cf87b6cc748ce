"""How steady the camera stood, from a track's background movement."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.track import PoseTrack

STEADY_SHARE: Final = 0.01
"""A camera is called steady whose background keeps within this share of the picture's diagonal."""


@dataclass(frozen=True, slots=True)
class Steadiness:
    """Summary of the camera's movement.

    Attributes
    ----------
    steady
        Whether 95 % of the film lie within 1 % of the picture's diagonal of its usual place.
    shake_px
        Median distance of the background from its usual place, pixels of the upright picture.
    worst_px
        Largest such distance.
    roll_deg
        Largest turn away from the usual one, degrees.
    """

    steady: bool
    shake_px: float
    worst_px: float
    roll_deg: float


def steadiness(track: PoseTrack) -> Steadiness:
    """Summarise the camera's movement over a track."""
    if track.frames == 0:
        return Steadiness(True, 0.0, 0.0, 0.0)
    shift = track.camera_shift_px - np.median(track.camera_shift_px, axis=0)
    away = np.hypot(shift[:, 0], shift[:, 1])
    roll = np.abs(track.camera_roll_rad - np.median(track.camera_roll_rad))
    diagonal = float(np.hypot(track.width_px, track.height_px))
    return Steadiness(
        steady=bool(np.quantile(away, 0.95) <= STEADY_SHARE * diagonal),
        shake_px=float(np.median(away)),
        worst_px=float(away.max()),
        roll_deg=float(np.degrees(roll.max())),
    )
