"""Which pictures of a stretch to read: those that tell something the others do not.

Between two readings the picture midway is read too. If the body lies on the line between them, up
to what the readings may be off, so does the rest, and no more is read; else both halves are treated
likewise. So rest and even motion cost little, every picture around a turn is read, and joints that
nobody can see, whose readings wander, call for no more looks.
"""

import itertools
from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.athlete.reading import Body
from vision.pose.movenet import JOINTS

FloatArray = npt.NDArray[np.float64]

Read = Callable[[int, "tuple[Body, Body] | None"], Body | None]

ON_LINE: Final = 0.009
"""Distance of joints from the line between two readings, over stature, up to which the pictures
between are taken to lie on it, were readings perfectly sure: 1.5 cm, as much as a clear landmark
is off."""
_LIMBS: Final = slice(5, 17)


def read_where_needed(
    read: Read,
    marks: Sequence[int],
    time_s: Sequence[float],
    stature_px: float,
    *,
    every: bool = False,
) -> Mapping[int, Body | None]:
    """Read a stretch of pictures.

    Parameters
    ----------
    read
        Reads the picture of a place, given the readings around it if both are known.
    marks
        Ascending places that are read in any case, the first and the last among them.
    time_s
        Times of all places.
    stature_px
        Height of the standing body in the picture.
    every
        Read every picture.

    Returns
    -------
    Mapping
        By place what was read; None where the athlete was not found.
    """
    known: dict[int, Body | None] = {place: read(place, None) for place in marks}
    ahead = list(itertools.pairwise(marks))
    while ahead:
        start, end = ahead.pop()
        if end - start < 2:
            continue
        one, other = known[start], known[end]
        both = None if one is None or other is None else (one, other)
        middle = (start + end) // 2
        known[middle] = here = read(middle, both)
        if both is not None and here is not None and not every:
            share = (time_s[middle] - time_s[start]) / (time_s[end] - time_s[start])
            if _on_line(*both, share, here, stature_px):
                continue
        ahead += [(start, middle), (middle, end)]
    return known


def _on_line(one: Body, other: Body, share: float, here: Body, stature_px: float) -> bool:
    """Whether a body's limbs lie on the line between two others, up to the errors of all three.

    The mean over joints of the squared distance, each over what it would be were the joint there:
    1 or less.
    """
    line = (1 - share) * one.joints_px + share * other.joints_px
    square = ((here.joints_px - line) ** 2).sum(axis=1)[_LIMBS]
    errors = [_variances(body) for body in (one, other, here)]
    along_axis = (1 - share) ** 2 * errors[0] + share**2 * errors[1] + errors[2]
    expected = (ON_LINE * stature_px) ** 2 + 2 * along_axis
    return float((square / expected).mean()) < 1.0


def _variances(body: Body) -> FloatArray:
    joints = body.error_px[list(JOINTS)][_LIMBS]
    return np.asarray(joints**2)
