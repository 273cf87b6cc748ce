"""What stands still behind the athlete: the middle of many steadied pictures.

Whatever moves is at any one place for less than half of the time, so that the median of each pixel
over the film shows the room without athlete and ball.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from vision.film.frames import FilmFrame, frames
from vision.film.types import Film
from vision.track import PoseTrack

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
Picture = npt.NDArray[np.uint8]

LONG_SIDE_PX: Final = 720
"""Pictures are looked at in this size: a ball that fills the hands is then 15 px or more wide where
the athlete fills half of the picture."""
_PICTURES: Final = 25
_LEAST_STEP: Final = 14.0
"""Difference of a colour from the scenery's, of 255, that is never noise alone: light flickers and
edges of the scenery tremble by so much."""
_LARGEST_STEP: Final = 40.0
"""Where strong edges tremble, what is in front of them would not be seen with more: thin lines that
are left of them are round nowhere."""
_SIGMAS: Final = 5.0
"""Standard deviations of a place's noise that are no noise: by chance two places of a million in a
picture (normal distribution, three colours)."""


@dataclass(frozen=True, slots=True, eq=False)
class Scenery:
    """The still room.

    Attributes
    ----------
    picture
        (height, width, 3) RGB.
    step
        (height, width) difference from it that is not noise.
    """

    picture: Picture
    step: Picture

    def changed(self, picture: Picture, rows: int) -> Picture:
        """(rows, width) 255 where a steadied picture's upper rows differ in any colour, else 0."""
        difference = _largest(cv2.absdiff(picture[:rows], self.picture[:rows]))
        return np.asarray(cv2.compare(difference, self.step[:rows], cv2.CMP_GT), dtype=np.uint8)


def scenery_of(pictures: Sequence[Picture]) -> Scenery:
    """Take the median of steadied pictures and how far they scatter around it.

    The scatter is told by the median of distances (Rousseeuw and Croux 1993: 1.4826 of it is the
    standard deviation of normal noise), and smoothed, because edges tremble as a whole.
    """
    middle = np.median(np.stack(pictures), axis=0).astype(np.uint8)
    away = np.stack([_largest(cv2.absdiff(picture, middle)) for picture in pictures])
    usual = np.median(away, axis=0).astype(np.float32)
    scatter = 1.4826 * cv2.GaussianBlur(usual, (0, 0), 2.0)
    step = np.clip(_SIGMAS * scatter, _LEAST_STEP, _LARGEST_STEP)
    return Scenery(middle, step.astype(np.uint8))


def _largest(picture: "cv2.typing.MatLike") -> Picture:
    """(height, width) the largest of three colours."""
    red, green, blue = cv2.split(picture)
    return np.asarray(cv2.max(cv2.max(red, green), blue), dtype=np.uint8)


def scenery_in(film: Film, track: PoseTrack, wanted: BoolArray) -> Scenery | None:
    """Make the scenery of rows of a film; None where no picture of them decodes.

    Parameters
    ----------
    film
        The film.
    track
        Its athlete's track, whose measured camera motion is taken out.
    wanted
        (film.frames,) rows to choose pictures from.
    """
    rows = np.flatnonzero(wanted)
    chosen = rows[np.unique(np.linspace(0, len(rows) - 1, _PICTURES).astype(int))]
    few = np.isin(np.arange(film.frames), chosen)
    pictures = [
        steadied(frame, track)
        for frame in frames(film, rows=few, sparing=True, long_side_px=LONG_SIDE_PX)
    ]
    return scenery_of(pictures) if pictures else None


def steadied(frame: FilmFrame, track: PoseTrack) -> Picture:
    """Give a frame's picture as the camera of the reference frame would show it."""
    picture, row = frame.picture, frame.index
    shift = track.camera_shift_px[row] * frame.scale
    roll = track.camera_roll_rad[row]
    if not np.any(shift) and not roll:
        return picture
    height, width = picture.shape[:2]
    centre = np.array([track.width_px, track.height_px]) * frame.scale / 2.0
    turn = np.array([[np.cos(roll), -np.sin(roll)], [np.sin(roll), np.cos(roll)]])
    # where each point of the reference frame is in this one
    there = np.hstack([turn, (centre + shift - turn @ centre)[:, None]])
    return np.asarray(
        cv2.warpAffine(
            picture,
            there,
            (width, height),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        dtype=np.uint8,
    )
