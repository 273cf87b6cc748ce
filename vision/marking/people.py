"""Looking for everybody's face in a film, several times a second."""

import itertools
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Final

import numpy as np

from vision.athlete.detection import detect
from vision.film.frames import frames
from vision.film.types import Film
from vision.marking.faces import LOOK_EVERY_S, Look
from vision.pose.movenet import PeopleFinder
from vision.pose.region import Picture

LONG_SIDE_PX: Final = 960
SEARCHED_PX: Final = (512, 288)
"""Longer and shorter side of what the network sees. On 48 pictures of six labelled films with
company it finds 75 people likelier somebody than nobody, as many as 640 by 384 (76), in half the
time."""
STRETCH_S: Final = 8.0
"""Length of the parts of a film that are looked through side by side."""


def look_for_faces(
    film: Film,
    start_s: float | None = None,
    end_s: float | None = None,
    progress: Callable[[float], None] | None = None,
    workers: int = 1,
) -> list[Look]:
    """Find the faces of everybody in a film, or in a stretch of it.

    A pose network serves as the face detector: it finds people from the back, from far away and
    half hidden, where detectors of frontal faces fail. Parts of the film are looked through on
    ``workers`` threads; what is found does not depend on their number.
    """
    first_s = float(film.time_s[0]) if start_s is None else start_s
    last_s = float(film.time_s[-1]) + 1e-3 if end_s is None else end_s
    count = max(1, int(np.ceil((last_s - first_s) / STRETCH_S)))
    edges = [first_s + STRETCH_S * part for part in range(count)] + [last_s]
    own = threading.local()

    def part(bound: tuple[float, float]) -> list[Look]:
        if not hasattr(own, "finder"):
            own.finder = PeopleFinder(SEARCHED_PX)
        pictures = frames(film, *bound, every_s=LOOK_EVERY_S, long_side_px=LONG_SIDE_PX, threads=1)
        return [_look(own.finder, frame.picture, frame.time_s, frame.scale) for frame in pictures]

    looks: list[Look] = []
    bounds = list(itertools.pairwise(edges))
    with ThreadPoolExecutor(max(1, workers)) as pool:
        for bound, found in zip(bounds, pool.map(part, bounds), strict=True):
            looks += found
            if progress is not None:
                progress(bound[1])
    return looks


def faces_in(picture: Picture, time_s: float) -> Look:
    """Find everybody in one RGB picture."""
    return _look(PeopleFinder(SEARCHED_PX), picture, time_s, 1.0)


def _look(finder: PeopleFinder, picture: Picture, time_s: float, scale: float) -> Look:
    found = detect(finder, picture)
    return Look(time_s, tuple(replace(one, image_px=one.image_px / scale) for one in found))
