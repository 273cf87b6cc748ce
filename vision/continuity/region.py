"""Where a picture changes at once: where things move, all over, or in a part that is still."""

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from vision.continuity.steps import TOP_SHARE, FloatPicture

BoolPicture = npt.NDArray[np.bool_]

WHOLE_SHARE: Final = 0.3
"""Captions, clocks and banners cover less of a picture than this, another scene all of it."""
_STILL: Final = 2.0
_STILL_LEVEL: Final = 1.0
"""What changes by less than twice as much as half of the picture does, and a grey level more, is
noise."""
_LEAST_SHARE: Final = 0.0025
"""Of the picture, below which what moves is noise: at 160 by 90 small pixels, 36 of them."""
_NEW: Final = 3.0
_NEW_LEVEL: Final = 4.0
"""A pixel is new where it changes by so many times as much as in any step around, and grey levels
more."""
_STRONG: Final = 0.3
"""Share of the greatest surprise from which a pixel is among what is most surprising."""
_GOES_ON: Final = 0.45
"""Correlation of the motion on both sides of a step. Over training films: 0.62 and more under text
that comes or goes, 0.28 and less at cuts."""
_LEAST_MOTION: Final = 0.03
"""Grey levels, over the whole picture, below which the motion on a side is too weak to compare."""
_GAINS: Final = (0.5, 2.0)
"""Contrast of a picture over that of the one before, within which it is the same scene relit."""


def moving_parts(differences: Sequence[FloatPicture]) -> BoolPicture:
    """Tell where anything moves in the steps before or after one step; nowhere where hardly at all.

    A cut sets the athlete, who moves before it or after it, elsewhere at once. A caption that
    comes or goes, and each digit of a clock, stands still before and after: it is in no moving
    part, and what is in one goes on as before.

    Parameters
    ----------
    differences
        Of each of those steps, the absolute difference of its two pictures.
    """
    if not differences:
        return np.zeros((1, 1), dtype=np.bool_)
    most = np.maximum.reduce(list(differences))
    moving = np.asarray(most > _STILL * float(np.median(most)) + _STILL_LEVEL)
    return moving if float(moving.mean()) > _LEAST_SHARE else np.zeros_like(moving)


def still_share(surprise: FloatPicture, moving: Sequence[BoolPicture]) -> float:
    """Share of what is most surprising in a step that moves neither before nor after it."""
    strong = surprise > _STRONG * float(surprise.max())
    still = ~np.logical_or.reduce(list(moving))
    return float(np.mean(still[strong])) if strong.any() else 0.0


def largest_within(values: FloatPicture, where: BoolPicture) -> float:
    """Mean of the largest values in a part of the picture, of no more than half of it."""
    inside = values[where]
    count = min(int(TOP_SHARE * values.size), max(1, inside.size // 2))
    return float(np.partition(inside, inside.size - count)[inside.size - count :].mean())


def new_share(difference: FloatPicture, others: Sequence[FloatPicture]) -> float:
    """Share of the picture that changes as it does in none of the steps around."""
    most = np.maximum.reduce(list(others))
    return float(np.mean(difference > _NEW * most + _NEW_LEVEL))


def motion_goes_on(before: FloatPicture, after: FloatPicture) -> bool:
    """Whether signed differences of pictures, brought to one place, show the same motion.

    What lies over the picture and stands still takes no part in either difference.
    """
    if min(_liveliness(before), _liveliness(after)) < _LEAST_MOTION:
        return False
    together = float((before * after).sum())
    return together >= _GOES_ON * float(np.sqrt((before**2).sum() * (after**2).sum()))


def _liveliness(difference: FloatPicture) -> float:
    """Mean difference above the noise that is all over the picture."""
    blurred = cv2.GaussianBlur(np.abs(difference), (0, 0), 1.0)
    return float(np.maximum(0.0, blurred - 2.0 * np.median(blurred) - 0.5).mean())


def relit(before: FloatPicture, picture: FloatPicture) -> FloatPicture:
    """Give ``before`` the brightness and contrast of ``picture``: a lamp or exposure is no cut.

    Unless half of the picture has another brightness, the light is as it was.
    """
    if float(np.median(np.abs(picture - before))) <= _STILL_LEVEL:
        return before
    x, y = before.ravel(), picture.ravel()
    spread = float(np.var(x))
    if spread == 0.0:
        return before
    covariance = float(np.mean((x - x.mean()) * (y - y.mean())))
    gain = min(max(covariance / spread, _GAINS[0]), _GAINS[1])
    lit = gain * (before - np.median(x)) + np.median(y)
    return np.asarray(np.clip(lit, 0.0, 255.0), dtype=np.float32)
