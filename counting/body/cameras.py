"""Several cameras about one body: which shared unknowns are whose.

Each camera stands at its own distance and height, with its own tilt, roll, pan and focal length,
and sees the body face its own way. The first camera's unknowns and the body's come first
(`GLOBALS`); each further camera adds seven, the last of which is by how much its view is turned
against the first one's. So the body may turn, and all cameras see it turn alike.
"""

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from counting.body.skeleton import GLOBALS, FloatArray, G

CAMERA: Final = ("log_distance", "height", "tilt", "roll", "pan", "log_focal", "yaw")
CAMERAS_OWN: Final = [G[name] for name in CAMERA]
"""Where a camera's unknowns stand in `GLOBALS`."""
_YAW: Final = G["yaw"]
_OF_BODY: Final = [index for index in range(len(GLOBALS)) if index not in CAMERAS_OWN]


def unknown_count(cameras: int) -> int:
    """How many unknowns the frames share."""
    return len(GLOBALS) + len(CAMERA) * (cameras - 1)


def place(name: str, camera: int) -> int:
    """Where a camera's unknown stands; a further camera's yaw is its turn against the first."""
    if camera == 0:
        return G[name]
    return len(GLOBALS) + len(CAMERA) * (camera - 1) + CAMERA.index(name)


def as_seen(shared: FloatArray, camera: int) -> FloatArray:
    """(g, ...) shared unknowns as they would be if this camera were the only one."""
    if camera == 0:
        return shared
    own: FloatArray = shared[: len(GLOBALS)].copy()
    own[CAMERAS_OWN] = shared[place(CAMERA[0], camera) : place(CAMERA[-1], camera) + 1]
    own[_YAW] += shared[_YAW]
    return own


def bears_on(free: Iterable[int], camera: int) -> list[tuple[int, int]]:
    """Pairs of a free unknown that this camera's picture depends on and what it is in `as_seen`."""
    if camera == 0:
        return [(index, index) for index in free if index < len(GLOBALS)]
    seen_as = {index: index for index in (*_OF_BODY, _YAW)}
    seen_as |= {place(name, camera): G[name] for name in CAMERA}
    return [(index, seen_as[index]) for index in free if index in seen_as]


def turned_by(
    by_shared: Iterable[tuple[int, FloatArray]], camera: int
) -> Iterator[tuple[int, FloatArray]]:
    """Give slopes by what `as_seen` holds, of which only the yaw is a camera's, by unknown."""
    for index, slope in by_shared:
        yield index, slope
        if camera and index == _YAW:
            yield place("yaw", camera), slope


def relative(shared: FloatArray, others: Iterable[FloatArray]) -> FloatArray:
    """Put the (g,) unknowns of cameras, each fitted alone, into one vector."""
    parts = [shared[: len(GLOBALS)]]
    for other in others:
        own = other[CAMERAS_OWN].copy()
        turned = own[-1] - shared[_YAW]
        own[-1] = (turned + np.pi) % (2 * np.pi) - np.pi
        parts.append(own)
    return np.concatenate(parts)
