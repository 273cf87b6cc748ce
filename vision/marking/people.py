"""Looking for everybody's face in a film, several times a second."""

from collections.abc import Callable
from typing import Final

from vision.athlete.sightings import sightings
from vision.film.frames import frames
from vision.film.types import Film
from vision.marking.faces import LOOK_EVERY_S, Look, face_boxes
from vision.pose.bundle import load_bundle
from vision.pose.network import PoseNetwork
from vision.pose.region import Picture

LONG_SIDE_PX: Final = 960
MODEL: Final = "lite"


def look_for_faces(
    film: Film,
    start_s: float | None = None,
    end_s: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Look]:
    """Find the faces of everybody in a film, or in a stretch of it.

    The pose network's head landmarks serve as the face detector: it finds people from the back
    and from far away, where detectors of frontal faces fail.
    """
    network = PoseNetwork(load_bundle(MODEL))
    looks = []
    for frame in frames(film, start_s, end_s, every_s=LOOK_EVERY_S, long_side_px=LONG_SIDE_PX):
        looks.append(_look(network, frame.picture, frame.time_s, frame.scale))
        if progress is not None:
            progress(frame.time_s)
    return looks


def faces_in(picture: Picture, time_s: float) -> Look:
    """Find the faces of everybody in one RGB picture."""
    return _look(PoseNetwork(load_bundle(MODEL)), picture, time_s, 1.0)


def _look(network: PoseNetwork, picture: Picture, time_s: float, scale: float) -> Look:
    poses = sightings(network, picture)
    return Look(time_s, tuple(box for pose in poses for box in face_boxes(pose.image_px / scale)))
