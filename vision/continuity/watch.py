"""One look at a film's pictures for everything that continuity asks of them."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from vision.continuity.camera import CameraEvent, CameraWatch
from vision.continuity.jumps import Jump, JumpWatch
from vision.continuity.repeats import SignatureWatch
from vision.continuity.steps import LONG_SIDE_PX, small_grey, smooth
from vision.film.frames import Glance, frames
from vision.film.types import Film

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """What is kept of the pictures: about a hundred bytes each.

    Attributes
    ----------
    time_s
        (N,) presentation times.
    change
        (N,) grey levels by which the moving parts of each picture differ from the one before.
    signatures
        (N, 32) random projections of the pictures.
    jumps
        Steps that do not follow.
    camera
        Bumps and moves of the camera.
    """

    time_s: FloatArray
    change: FloatArray
    signatures: npt.NDArray[np.int16]
    jumps: tuple[Jump, ...]
    camera: tuple[CameraEvent, ...]


class PictureWatch:
    """Takes a film's pictures one by one, as they are decoded for another purpose or for this."""

    def __init__(self) -> None:
        self._times: list[float] = []
        self._jumps = JumpWatch()
        self._camera = CameraWatch()
        self._signatures = SignatureWatch()

    def push(self, time_s: float, picture: npt.NDArray[np.uint8]) -> None:
        """Take the next picture, (h, w, 3) RGB or (h, w) grey, upright, of one size throughout."""
        grey = small_grey(picture)
        self._times.append(time_s)
        smoothed = smooth(grey)
        self._jumps.push(time_s, grey, smoothed)
        self._camera.push(time_s, smoothed)
        self._signatures.push(smoothed)

    def finish(self) -> Watched:
        """Judge what is left and return everything."""
        jumps = self._jumps.finish()
        return Watched(
            time_s=np.array(self._times, dtype=np.float64),
            change=np.array(self._jumps.change, dtype=np.float64),
            signatures=self._signatures.finish(),
            jumps=tuple(jumps),
            camera=tuple(self._camera.finish()),
        )


def watch_film(film: Film) -> Watched:
    """Decode a film for its continuity alone."""
    watch = PictureWatch()
    for frame in frames(film, long_side_px=LONG_SIDE_PX):
        watch.push(frame.time_s, frame.picture)
    return watch.finish()


def glance_of(watch: PictureWatch) -> Glance:
    """Let a watch see the pictures of a film that is decoded for another purpose."""
    return Glance(LONG_SIDE_PX, watch.push)
