"""The ball's way through the stretches of a film in which it is thrown."""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from vision.film.frames import frames
from vision.film.types import Film
from vision.objects.ball import Blob, flights, round_shapes
from vision.objects.scenery import LONG_SIDE_PX, scenery_in, steadied
from vision.objects.types import ObjectTrack
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

FloatArray = npt.NDArray[np.float64]
Progress = Callable[[float, float], None]
Stretch = tuple[float, float]

_WRISTS = (Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST)
_SHOULDERS = (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)


def follow_ball(
    film: Film,
    track: PoseTrack,
    steady_px: FloatArray,
    stature_px: float,
    stretches: Sequence[Stretch],
    progress: Progress | None = None,
) -> ObjectTrack:
    """Find the ball wherever it flies above the shoulders, in some stretches of a film.

    Parameters
    ----------
    film, track
        The film and its athlete's track.
    steady_px
        (N, 33, 2) landmarks with the camera's motion taken out, pixels.
    stature_px
        Apparent body height.
    stretches
        From when to when, each, in order of time.
    progress
        Called with the seconds looked at and the seconds in all.
    """
    wanted = np.zeros(film.frames, dtype=np.bool_)
    for start_s, end_s in stretches:
        wanted |= (film.time_s >= start_s) & (film.time_s <= end_s)
    wanted[track.frames :] = False
    found = ObjectTrack.nowhere(track.time_s)
    scenery = scenery_in(film, track, wanted) if wanted.any() else None
    if scenery is None:
        return found
    rows: list[int] = []
    blobs: list[list[Blob]] = []
    scale = 1.0
    total = int(wanted.sum())
    for frame in frames(film, rows=wanted, sparing=True, long_side_px=LONG_SIDE_PX):
        scale = frame.scale
        shoulders = steady_px[frame.index, list(_SHOULDERS), 1]
        if np.isfinite(shoulders).any():
            lowest = float(np.nanmean(shoulders)) * scale
            shapes = round_shapes(steadied(frame, track), scenery, stature_px * scale, lowest)
            blobs.append([Blob(frame.index, frame.time_s, *shape) for shape in shapes])
            rows.append(frame.index)
        if progress:
            progress(film.duration_s * len(rows) / total, film.duration_s)
    hands = [steady_px[row, list(_WRISTS)] * scale for row in rows]
    bodies = [steady_px[row] * scale for row in rows]
    found.looked[rows] = True
    for flight in flights(blobs, hands, bodies, stature_px * scale):
        for blob in flight.blobs:
            found.centre_px[blob.row] = np.array([blob.x, blob.y]) / scale
            found.radius_px[blob.row] = blob.radius / scale
            found.covariance_px2[blob.row] = np.eye(2) * (flight.error_px / scale) ** 2
    return found
