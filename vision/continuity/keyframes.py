"""Key frames that an encoder sets for no reason but the count, and the redraw that they bring."""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.continuity.jumps import Jump
from vision.film.types import Film

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

REDRAW_LIMIT: Final = 2.0
"""Sum of the log ratios of change and surprise up to which a jump at a regular key frame is the
picture drawn anew. In rendered films of low quality with a key frame a second it came to 1.66 at
most; cuts that show by a clear change of pose come to 2 to 3.8."""
_MOST_FRAMES: Final = 250
"""Frames from key frame to key frame at most, as x264 sets it unless told otherwise."""
_NEARLY: Final = 0.95
"""Share of the longest distance from which another is as long (no source)."""


def regular_key_frames(key: BoolArray) -> BoolArray:
    """Tell the key frames that came by count from those that a new scene brought.

    An encoder sets a key frame where a new scene begins, and wherever the last one lies as many
    frames back as it allows at most. The longest distance in the film is taken for that number if
    it is met at least twice, or is the usual one.

    Parameters
    ----------
    key
        (N,) which frames are key frames.
    """
    regular = np.zeros(key.shape, dtype=np.bool_)
    places = np.flatnonzero(key)
    distances = np.diff(places)
    if not distances.size:
        return regular
    full = distances >= _NEARLY * distances.max()
    if full.sum() >= 2 or distances.max() == _MOST_FRAMES:
        regular[places[1:][full]] = True
    return regular


def redraw_times_s(film: Film) -> FloatArray:
    """Presentation times at which a film's picture is drawn anew by count alone."""
    if film.key.size != film.frames:
        return np.empty(0)
    times_s: FloatArray = film.time_s[regular_key_frames(film.key)]
    return times_s


def is_redraw(jump: Jump, redraws_s: FloatArray) -> bool:
    """Whether a jump is no more than the picture drawn anew at a regular key frame.

    Films spliced without encoding them again are cut at key frames, so a larger jump counts there.
    """
    strength = math.log(jump.change_ratio) + math.log(jump.surprise_ratio)
    return strength <= REDRAW_LIMIT and bool(np.isin(jump.after_s, redraws_s))
