"""Looking for everybody's face in a film, several times a second."""

import itertools
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np

from vision.athlete.sightings import MIN_CONFIDENCE, SAME_PERSON, separation, sightings
from vision.film.frames import frames
from vision.film.types import Film
from vision.marking.faces import BRIDGED_S, LOOK_EVERY_S, Look, face_boxes
from vision.pose.bundle import load_bundle
from vision.pose.network import Pose, PoseNetwork
from vision.pose.region import Picture

LONG_SIDE_PX: Final = 960
MODEL: Final = "lite"
STRETCH_S: Final = 8.0
"""Length of the parts of a film that are looked through side by side."""
SEARCH_EVERY: Final = 2
"""The picture is searched for people at every so manieth look; between, they are followed."""


def look_for_faces(
    film: Film,
    start_s: float | None = None,
    end_s: float | None = None,
    progress: Callable[[float], None] | None = None,
    workers: int = 1,
) -> list[Look]:
    """Find the faces of everybody in a film, or in a stretch of it.

    The pose network's head landmarks serve as the face detector: it finds people from the back
    and from far away, where detectors of frontal faces fail. Parts of the film are looked through
    on ``workers`` threads; what is found does not depend on their number.
    """
    first_s = float(film.time_s[0]) if start_s is None else start_s
    last_s = float(film.time_s[-1]) + 1e-3 if end_s is None else end_s
    count = max(1, int(np.ceil((last_s - first_s) / STRETCH_S)))
    edges = [first_s + STRETCH_S * part for part in range(count)] + [last_s]
    own = threading.local()

    def part(bound: tuple[float, float]) -> list[Look]:
        if not hasattr(own, "network"):
            own.network = PoseNetwork(load_bundle(MODEL))
        return _stretch(own.network, film, *bound)

    looks: list[Look] = []
    bounds = list(itertools.pairwise(edges))
    with ThreadPoolExecutor(max(1, workers)) as pool:
        for bound, found in zip(bounds, pool.map(part, bounds), strict=True):
            looks += found
            if progress is not None:
                progress(bound[1])
    return looks


def faces_in(picture: Picture, time_s: float) -> Look:
    """Find the faces of everybody in one RGB picture."""
    return _look(sightings(PoseNetwork(load_bundle(MODEL)), picture), time_s, 1.0)


def _stretch(network: PoseNetwork, film: Film, start_s: float, end_s: float) -> list[Look]:
    looks: list[Look] = []
    known: list[tuple[float, Pose]] = []
    pictures = frames(
        film, start_s, end_s, every_s=LOOK_EVERY_S, long_side_px=LONG_SIDE_PX, threads=1
    )
    for turn, frame in enumerate(pictures):
        before = [pose for _, pose in known]
        if turn % SEARCH_EVERY:
            people = _followed(network, frame.picture, before)
        else:
            people = sightings(network, frame.picture, before, turn // SEARCH_EVERY)
        looks.append(_look(people, frame.time_s, frame.scale))
        known = [(frame.time_s, pose) for pose in people] + [
            (since_s, pose)
            for since_s, pose in known
            if frame.time_s - since_s <= BRIDGED_S
            and all(separation(pose, newer) > SAME_PERSON for newer in people)
        ]
    return looks


def _followed(network: PoseNetwork, picture: Picture, known: list[Pose]) -> list[Pose]:
    """Look for people where they just were, each once."""
    people: list[Pose] = []
    for person in known:
        pose = network.look(picture, person.region)
        if pose.confidence >= MIN_CONFIDENCE and all(
            separation(pose, other) > SAME_PERSON for other in people
        ):
            people.append(pose)
    return people


def _look(people: list[Pose], time_s: float, scale: float) -> Look:
    return Look(time_s, tuple(box for pose in people for box in face_boxes(pose.image_px / scale)))
