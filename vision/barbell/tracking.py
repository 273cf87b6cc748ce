"""The bar's way through a film that is seen from the side."""

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.barbell.hands import (
    LOST_S,
    Bar,
    bridged,
    hands_on_bar,
    middle,
    stature_px,
)
from vision.barbell.plate import find_discs, plate_path
from vision.film.frames import frames
from vision.film.types import Film
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

FloatArray = npt.NDArray[np.float64]
Progress = Callable[[float, float], None]

_BRIDGE_S: Final = 0.5
"""For so long a plate that is not found is where a straight line has it (no source)."""


def with_hands_on_bar(film: Film, track: PoseTrack, progress: Progress) -> PoseTrack:
    """Give the track with the hands on the bar, whose near plate is found in every picture.

    For a film of somebody `seen_from_the_side`.
    """
    height_px = stature_px(track)
    shoulders = middle(track, Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
    shoulders = bridged(track.time_s, shoulders, LOST_S)
    rows: list[int] = []
    discs: list[FloatArray] = []
    for frame in frames(film):
        if np.isfinite(shoulders[frame.index]).all():
            rows.append(frame.index)
            discs.append(find_discs(frame.picture, shoulders[frame.index], height_px))
        progress(frame.time_s, film.duration_s)
    path, radius_px = plate_path(track.time_s[rows], discs, height_px)
    centre = np.full((track.frames, 2), np.nan)
    centre[rows] = path
    bar = Bar(bridged(track.time_s, centre, _BRIDGE_S), radius_px, height_px)
    return hands_on_bar(track, bar)
