"""Whether both feet stand on the box.

The box's top is where the feet come to rest in the reps of a film; that there is a box the picture
has to show. The lower foot is measured from there.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy import ndimage

from counting.objects.readings import Found, Measured, Unseen
from counting.reps.types import Rep
from counting.signals.body import stature_px, steadied_px
from vision.pose.landmarks import Landmark
from vision.track import FloatArray, PoseTrack

_FEET: Final = (
    (Landmark.LEFT_HEEL, Landmark.LEFT_FOOT_INDEX),
    (Landmark.RIGHT_HEEL, Landmark.RIGHT_FOOT_INDEX),
)
_AT_REST_S: Final = 0.12
"""How long both feet have to be up for a foot that only passes not to count."""
_FOOT_ERROR: Final = 0.022
"""Standard uncertainty of one foot's height over the other's, in statures."""


def soles(track: PoseTrack, reps: Sequence[Rep]) -> list[FloatArray | None]:
    """Where both feet are in each rep when the lower one is highest.

    Returns
    -------
    list
        (2, 2) the higher and the lower foot in the steadied picture; None where they were not
        seen.
    """
    steady = steadied_px(track)
    feet = np.stack([steady[:, list(foot)].mean(axis=1) for foot in _FEET], axis=1)
    return [_at_rest(track.time_s, feet, rep) for rep in reps]


def _at_rest(time_s: FloatArray, feet: FloatArray, rep: Rep) -> FloatArray | None:
    phase = next((one for one in rep.phases if one.first_s is not None), None)
    if phase is None or phase.first_s is None or phase.last_s is None:
        return None
    within = (time_s >= phase.first_s) & (time_s <= phase.last_s)
    rows = np.flatnonzero(within & np.isfinite(feet).all(axis=(1, 2)))
    if len(rows) < 3:
        return None
    step_s = float(np.median(np.diff(time_s[rows])))
    size = max(1, round(_AT_REST_S / step_s))
    lower = ndimage.median_filter(feet[rows, :, 1].max(axis=1), size, mode="nearest")
    held = ndimage.maximum_filter1d(lower, size, mode="nearest")
    best = feet[rows[int(held.argmin())]]
    sorted_feet: FloatArray = best[np.argsort(best[:, 1])]
    return sorted_feet


def box_top(stands: Sequence[FloatArray | None]) -> FloatArray | None:
    """(2,) where the feet come to rest in most reps; None where they were not seen."""
    higher = [feet[0] for feet in stands if feet is not None]
    if not higher:
        return None
    top: FloatArray = np.median(higher, axis=0)
    return top


def feet_above_box(
    stands: Sequence[FloatArray | None],
    reps: Sequence[Rep],
    track: PoseTrack,
    stature_m: float,
    *,
    seen: bool,
) -> list[Found]:
    """Measure how high each rep's lower foot is over the box's top, centimetres.

    Parameters
    ----------
    stands
        From `soles`.
    reps
        The reps.
    track
        The athlete's track.
    stature_m
        The athlete's height.
    seen
        Whether the picture shows a box there.
    """
    top = box_top(stands)
    if top is None or not seen:
        return [Unseen("the box was not seen") for _ in reps]
    tall_px = stature_px(steadied_px(track))
    cm_per_px = 100.0 * stature_m / tall_px
    error = _FOOT_ERROR * tall_px * cm_per_px
    found: list[Found] = []
    for rep, feet in zip(reps, stands, strict=True):
        if feet is None:
            found.append(Unseen("the feet were not seen on the box"))
            continue
        # a foot that is farther away stands higher in the picture: the nearer of both tops counts
        over = (max(float(top[1]), float(feet[0, 1])) - float(feet[1, 1])) * cm_per_px
        found.append(Measured(rep.turn_s, over, error))
    return found
