"""From a film to the athlete's landmarks in every frame."""

from pathlib import Path

import numpy as np

from vision.athlete.grid import stretches_of
from vision.athlete.lines import with_lines_between
from vision.athlete.looking import Aim, Looking, Progress
from vision.athlete.sharing import work_through
from vision.athlete.sightings import separation
from vision.athlete.stretches import Found
from vision.film.frames import Glance
from vision.film.types import Film
from vision.pose.bundle import load_bundle
from vision.pose.network import Pose
from vision.track import PoseTrack


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
    glance: Glance | None = None,
) -> PoseTrack:
    """Follow the athlete through a film and read the landmarks in every frame.

    First everybody is sighted twice a second; from whole paths through these sightings the athlete
    is chosen; then the athlete is followed between the sightings, closely where they turn or
    speed up or are hard to make out, sparingly where they rest or move evenly: there the line
    between two looks stands for the frames between (`PoseTrack.looked` tells which).

    Parameters
    ----------
    film
        The film.
    model
        "full", "lite", or the path of a pose bundle.
    lane
        Left and right edge of the athlete's lane as shares of the picture's width.
    start_s, end_s
        Part of the film to look at; rows outside stay unobserved.
    thorough
        Look at every frame.
    workers
        Threads that look at stretches of the film side by side; the result is the same for any
        number.
    progress
        Called with seconds of film done and to do.
    glance
        What is done with every picture that is looked for people in, in order: the film need not
        be decoded once more for it.

    Raises
    ------
    FilmError, ModelError
        The film or the model cannot be used.
    """
    bundle = load_bundle(model)
    looking = Looking(
        film,
        Aim(stretches_of(film, start_s, end_s), lane, thorough),
        threads=max(1, workers),
        glance=glance,
        progress=progress,
    )
    try:
        work_through(looking, bundle, max(1, workers))
    finally:
        looking.close()
    return _track(film, looking.found, looking.scale)


def _track(film: Film, found: Found, scale: float) -> PoseTrack:
    track = PoseTrack.unobserved(film.time_s, film.width_px, film.height_px)
    identity = 0
    last: tuple[float, Pose] | None = None
    for row, pose in sorted(found.poses.items()):
        if pose is None:
            continue
        time_s = float(film.time_s[row])
        if last is not None and _identity_breaks(*last, time_s, pose):
            identity += 1
        last = (time_s, pose)
        track.image_px[row] = pose.image_px / scale
        track.depth_px[row] = pose.depth_px / scale
        track.world_m[row] = pose.world_m
        track.visibility[row] = pose.visibility
        track.sharpness[row] = pose.sharpness
        track.identity[row] = identity
    for row, shift in found.shifts.items():
        track.camera_shift_px[row] = (shift.right_px / scale, shift.down_px / scale)
        track.camera_roll_rad[row] = shift.roll_rad
    return with_lines_between(track, np.array(sorted(found.poses), dtype=np.int64))


def _identity_breaks(last_s: float, last: Pose, now_s: float, now: Pose) -> bool:
    """Whether two observations in a row need not be the same person."""
    return now_s - last_s > 1.0 or (now_s - last_s > 0.2 and separation(last, now) > 0.5)
