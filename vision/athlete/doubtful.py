"""Readings that are hardly a person: a plate, a rack or half a body taken for somebody.

The landmark network finds a person in whatever square it is shown. Where it was shown a plate, it
is unsure of itself and the person is small. Somebody bent behind a bar may look like that, too, so
such a reading only gives way where somebody better is seen at the same time. Half of an athlete is
sometimes read as one more person, who is less clear and at the same place.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from vision.athlete.following import body_size
from vision.athlete.sightings import JOINTS, separation
from vision.pose.network import Pose

CLEAR: Final = 0.42
"""Mean peak height of joints below which a reading may be none: on labelled films 5 in 100 of the
athlete's readings lie below it, and most of those of things."""
SMALL: Final = 0.65
"""Size over the usual one below which an unclear reading is doubtful. Of the athlete's readings on
labelled films 1 in 100 are both, of wrong ones 30."""
OVER: Final = 0.4
CLEARER: Final = 0.1
"""Who is so much clearer, in mean peak height of joints, and less than `OVER` apart over the
region's side, is the person of whom the other is a second reading, or the one who hides them."""
_USUAL: Final = 0.8


def without_doubtful(
    seen: Sequence[Sequence[Pose]], behind: Sequence[Sequence[bool]]
) -> list[list[Pose]]:
    """Leave out what is hardly a person at times at which somebody better is seen.

    Parameters
    ----------
    seen
        The people sighted at each time, those who only stand there not among them.
    behind
        Shaped like ``seen``: who is an onlooker behind the athlete. However clear they are, the one
        on the floor before them is the athlete.
    """
    poses = [pose for people in seen for pose in people]
    if not poses:
        return [list(people) for people in seen]
    sharpness = np.array([_sharpness(pose) for pose in poses])
    sizes_px = np.array([body_size(pose) for pose in poses])
    sharper = sizes_px[sharpness >= np.median(sharpness)]
    least_px = SMALL * float(np.quantile(sharper, _USUAL))
    left = []
    for people, onlookers in zip(seen, behind, strict=True):
        before = [pose for pose, is_one in zip(people, onlookers, strict=True) if not is_one]
        sure = [p for p in people if _sharpness(p) >= CLEAR or body_size(p) >= least_px]
        left.append([p for p in sure or people if not _is_shade(p, before)])
    return left


def _is_shade(pose: Pose, people: Sequence[Pose]) -> bool:
    """Whether somebody much clearer is seen at the same place."""
    return any(
        _sharpness(other) - _sharpness(pose) > CLEARER and separation(pose, other) < OVER
        for other in people
    )


def _sharpness(pose: Pose) -> float:
    return float(pose.sharpness[JOINTS].mean())
