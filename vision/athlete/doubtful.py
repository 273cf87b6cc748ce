"""Readings that are hardly a person: a plate, a rack or half a body taken for somebody.

The landmark network finds a person in whatever square it is shown. Where it was shown a plate, it
is unsure of itself and the person is small. Somebody bent behind a bar may look like that, too, so
such a reading only gives way where somebody better is seen at the same time.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from vision.athlete.following import body_size
from vision.athlete.sightings import JOINTS
from vision.pose.network import Pose

CLEAR: Final = 0.42
"""Mean peak height of joints below which a reading may be none: on labelled films 5 in 100 of the
athlete's readings lie below it, and most of those of things."""
SMALL: Final = 0.65
"""Size over the usual one below which an unclear reading is doubtful. Of the athlete's readings on
labelled films 1 in 100 are both, of wrong ones 30."""
_USUAL: Final = 0.8


def without_doubtful(seen: Sequence[Sequence[Pose]]) -> list[list[Pose]]:
    """Leave out what is hardly a person at times at which somebody better is seen.

    Parameters
    ----------
    seen
        The people sighted at each time, onlookers not among them.
    """
    poses = [pose for people in seen for pose in people]
    if not poses:
        return [list(people) for people in seen]
    sharpness = np.array([_sharpness(pose) for pose in poses])
    sizes_px = np.array([body_size(pose) for pose in poses])
    sharper = sizes_px[sharpness >= np.median(sharpness)]
    least_px = SMALL * float(np.quantile(sharper, _USUAL))
    return [
        [p for p in people if _sharpness(p) >= CLEAR or body_size(p) >= least_px] or list(people)
        for people in seen
    ]


def _sharpness(pose: Pose) -> float:
    return float(pose.sharpness[JOINTS].mean())
