"""Which pictures of a stretch to read: those that tell something the others do not.

Between two readings the picture midway is read too; if the body lies on the line between them, so
does the rest, and no more is read. Where it does not, both halves are treated likewise. Where the
body stands still before, between and after two readings, nothing between them is read. So rest and
even motion cost little, and every picture around a turn is read.
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

ON_LINE: Final = 0.012
"""Distance of joints from the line between two readings, over stature, up to which the pictures
between are taken to lie on it: 2 cm, as much as a clear landmark is off."""
AT_REST: Final = 0.006
"""Distance between two readings up to which the body is taken to stand still between them."""
_MAIN: Final = slice(5, 17)


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
    spans = list(itertools.pairwise(marks))
    still = [_is_still(known[start], known[end], stature_px) for start, end in spans]
    ahead = [
        span
        for number, span in enumerate(spans)
        if every or not all(still[max(0, number - 1) : number + 2])
    ]
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
            if _apart(*both, share, here) < ON_LINE * stature_px:
                continue
        ahead += [(start, middle), (middle, end)]
    return known


def _is_still(one: Body | None, other: Body | None, stature_px: float) -> bool:
    if one is None or other is None:
        return False
    return _apart(one, other, 0.0, other) < AT_REST * stature_px


def _apart(one: Body, other: Body, share: float, here: Body) -> float:
    """Root mean square distance of a body's limbs from the line between two others.

    Weighed by sureness: joints that nobody can see wander; they call for no more looks.
    """
    line = (1 - share) * one.joints_px + share * other.joints_px
    square = ((here.joints_px - line) ** 2).sum(axis=1)[_MAIN]
    weight = 1.0 / (_errors(one) * _errors(other) * _errors(here)) ** (2 / 3)
    return float(np.sqrt((square * weight).sum() / weight.sum()))


def _errors(body: Body) -> FloatArray:
    return body.error_px[list(JOINTS)][_MAIN]
