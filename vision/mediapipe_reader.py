"""MediaPipe's own PoseLandmarker as a reader: video mode, one athlete, every frame.

It finds, follows and smooths by itself. It states no error of a landmark, so covariances stay
unknown and visibility stands in; the camera's shake is not measured.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import numpy as np

from vision.film.frames import LONG_SIDE_PX, Glance, frames
from vision.film.types import Film
from vision.pose.bundle import bundle_content, load_bundle
from vision.pose.native_log import native_log_aside
from vision.reader import Progress, ReaderError
from vision.track import FloatArray, PoseTrack

LOST_S: Final = 1.0
"""After so long without the athlete, who is found next need not be the same person."""


def extract(
    film: Film,
    *,
    model: str | Path = "full",
    lane: tuple[float, float] | None = None,
    start_s: float | None = None,
    end_s: float | None = None,
    thorough: bool = False,  # noqa: ARG001 - every frame is read in any case
    workers: int = 1,  # noqa: ARG001 - each frame's region follows from the one before
    progress: Progress | None = None,
    glance: Glance | None = None,
) -> PoseTrack:
    """Read a film; parameters and errors as of `vision.reader.Reader`."""
    if lane is not None:
        raise ReaderError("the mediapipe reader chooses the athlete itself: leave out --lane")
    track = PoseTrack.unobserved(film.time_s, film.width_px, film.height_px)
    first_s = float(film.time_s[0]) if start_s is None else start_s
    last_s = float(film.time_s[-1]) if end_s is None else min(end_s, float(film.time_s[-1]))
    before_ms, found_s, identity = -1, -np.inf, -1
    with _landmarker(model) as (mediapipe, landmarker):
        for frame in frames(film, start_s, end_s, long_side_px=LONG_SIDE_PX, glance=glance):
            before_ms = max(before_ms + 1, round(1000 * frame.time_s))
            picture = np.ascontiguousarray(frame.picture)
            image = mediapipe.Image(image_format=mediapipe.ImageFormat.SRGB, data=picture)
            found = landmarker.detect_for_video(image, before_ms)
            if progress is not None:
                progress(frame.time_s - first_s, last_s - first_s)
            if not found.pose_landmarks:
                continue
            identity += frame.time_s - found_s > LOST_S
            found_s = frame.time_s
            points = _values(found.pose_landmarks[0])
            track.image_px[frame.index] = points[:, :2] * (film.width_px, film.height_px)
            track.depth_px[frame.index] = points[:, 2] * film.width_px
            track.visibility[frame.index] = [p.visibility for p in found.pose_landmarks[0]]
            track.world_m[frame.index] = _values(found.pose_world_landmarks[0])
            track.identity[frame.index] = identity
    return track


@contextmanager
def _landmarker(model: str | Path) -> Iterator[tuple[Any, Any]]:
    try:
        mediapipe = import_module("mediapipe")
    except ImportError as error:
        raise ReaderError(
            "the mediapipe reader needs the extra 'mediapipe': pip install 'repwitness[mediapipe]'"
        ) from error
    load_bundle(model)
    tasks = mediapipe.tasks
    options = tasks.vision.PoseLandmarkerOptions(
        base_options=tasks.BaseOptions(model_asset_buffer=bundle_content(model)),
        running_mode=tasks.vision.RunningMode.VIDEO,
    )
    with native_log_aside(), tasks.vision.PoseLandmarker.create_from_options(options) as landmarker:
        yield mediapipe, landmarker


def _values(points: Any) -> FloatArray:
    """(33, 3) coordinates of MediaPipe's landmarks."""
    return np.array([(p.x, p.y, p.z) for p in points])
