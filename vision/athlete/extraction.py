"""From a film to the athlete's landmarks in every frame."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

import numpy as np

from vision.athlete.people import athlete_path
from vision.athlete.sightings import SAME_PERSON, separation, sightings
from vision.film.frames import frames
from vision.film.types import Film
from vision.pose.bundle import load_bundle
from vision.pose.landmarks import LANDMARK_COUNT
from vision.pose.network import Pose, PoseNetwork
from vision.track import PoseTrack

LONG_SIDE_PX: Final = 640
COARSE_S: Final = 0.4

Progress = Callable[[float, float], None]


def extract(
    film: Film,
    *,
    model: str | Path = "full",
    lane: tuple[float, float] | None = None,
    start_s: float | None = None,
    end_s: float | None = None,
    thorough: bool = False,
    workers: int = 1,
    progress: Progress | None = None,
) -> PoseTrack:
    """Follow the athlete through a film and read the landmarks in every frame."""
    network = PoseNetwork(load_bundle(model))
    times, seen = [], []
    for frame in frames(film, start_s, end_s, every_s=COARSE_S, long_side_px=LONG_SIDE_PX):
        times.append(frame.time_s)
        seen.append(sightings(network, frame.picture))
        scale = frame.scale
        if progress:
            progress(0.3 * frame.time_s, film.duration_s)
    path = athlete_path(times, seen, lane, film.width_px * scale)
    track = _empty(film)
    anchors = [(t, p) for t, p in zip(times, path, strict=True) if p is not None]
    if not anchors:
        return track
    anchor_s = np.array([t for t, _ in anchors])
    current: Pose | None = None
    for frame in frames(film, start_s, end_s, long_side_px=LONG_SIDE_PX):
        row = frame.index
        here = int(np.argmin(np.abs(anchor_s - frame.time_s)))
        near_s, anchor = abs(anchors[here][0] - frame.time_s), anchors[here][1]
        pose = network.look(frame.picture, current.region) if current else None
        if pose is not None and (
            pose.confidence < 0.5
            or (near_s < 0.05 and separation(pose, anchor) > SAME_PERSON)
            or (near_s < 0.5 and separation(pose, anchor) > 0.5)
        ):
            pose = None
        if pose is None and near_s < 1.0:
            pose = network.look(frame.picture, anchor.region)
            if pose.confidence < 0.5 or separation(pose, anchor) > 0.5:
                pose = None
        current = pose
        if pose is not None:
            track.image_px[row] = pose.image_px / frame.scale
            track.depth_px[row] = pose.depth_px / frame.scale
            track.world_m[row] = pose.world_m
            track.visibility[row] = pose.visibility
            track.identity[row] = 0
        if progress:
            progress(film.duration_s * 0.3 + 0.7 * frame.time_s, film.duration_s)
    return track


def _empty(film: Film) -> PoseTrack:
    n = film.frames
    return PoseTrack(
        time_s=film.time_s,
        image_px=np.full((n, LANDMARK_COUNT, 2), np.nan),
        depth_px=np.full((n, LANDMARK_COUNT), np.nan),
        world_m=np.full((n, LANDMARK_COUNT, 3), np.nan),
        visibility=np.zeros((n, LANDMARK_COUNT)),
        filled=np.zeros(n, dtype=bool),
        identity=np.full(n, -1, dtype=np.int64),
        camera_shift_px=np.zeros((n, 2)),
        camera_roll_rad=np.zeros(n),
        width_px=film.width_px,
        height_px=film.height_px,
    )
