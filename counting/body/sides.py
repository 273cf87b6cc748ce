"""Left and right, told apart over a whole film.

From far away the network cannot always tell an athlete's front from the back. It then takes left
for right in some frames and puts both sides' joints in the middle, undecided, in others. Nobody
turns about within a frame: sides that follow those of the frames before and after are right, and
frames where they meet in the middle, while they are well apart around, show nothing.
"""

from dataclasses import replace
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.signals.body import PARTS
from counting.signals.running import medians_about
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

_LEFT: Final = np.array([j for j in Landmark if j.name.startswith(("LEFT_", "MOUTH_LEFT"))])
_RIGHT: Final = np.array([j for j in Landmark if j.name.startswith(("RIGHT_", "MOUTH_RIGHT"))])
MIRRORED: Final = np.arange(len(Landmark))
MIRRORED[_LEFT], MIRRORED[_RIGHT] = _RIGHT, _LEFT

_TRUNK: Final = (PARTS["shoulder"], PARTS["hip"])
_TOLD_BY: Final = (*_TRUNK, PARTS["elbow"], PARTS["knee"])
_AROUND: Final = 61
"""Looks compared with one another, two seconds or more: nobody turns away and back in them."""
_UNDECIDED_SHARE: Final = 0.5
"""Sides closer than this share of their usual distance around have met in the middle."""
_APART_SHARE: Final = 0.3
"""Sides this share of the trunk's length apart are seen from the front or back, not the side."""
_RELABEL_COST: Final = 0.02
"""What it takes to overrule the network in one frame, in squares of the trunk's length."""
_TURN_COST: Final = 0.2
"""What it takes to change over: from the side, where the sides coincide, it is all the same."""
_LONGEST_LINK_S: Final = 1.0
"""Between two frames whose sides are compared: longer, a body may have turned round."""
_LONGEST_BRIDGE_S: Final = 0.5
"""A stretch without a told side that is taken from what is on either end of it (chosen, not
measured)."""
_FARTHEST: Final = 0.25
"""Squares of the trunk's length beyond which a step says nothing more of the sides."""


def settled_sides(track: PoseTrack) -> PoseTrack:
    """Put left and right the same way round in all frames of one stretch.

    Parameters
    ----------
    track
        Landmarks of one athlete; pixels and metres stay what they are.

    Returns
    -------
    PoseTrack
        The same track where nothing is to be changed. Rows between two looks are put on the line
        between them again. Rows where the sides meet in the middle are bridged likewise and
        marked as filled, or unseen (NaN, visibility 0) where that lasts over half a second.
    """
    told = track.image_px[:, np.ravel(_TOLD_BY)]
    known = track.seen & track.looked & np.isfinite(told).all(axis=(1, 2))
    observed = np.flatnonzero(known)
    trunk_px = _trunk_px(track.image_px[observed]) if observed.size >= 3 else 0.0
    if not trunk_px > 0.0:
        return track
    apart = _sides_apart(track.image_px[observed]) / trunk_px
    undecided = _undecided(apart)
    firm = observed[~undecided]
    swapped = _swapped(apart[~undecided], track.time_s[firm])
    if not swapped.any() and not undecided.any():
        return track
    return _relabelled(track, firm, swapped, observed[undecided])


def _relabelled(
    track: PoseTrack, firm: IntArray, swapped: BoolArray, undecided: IntArray
) -> PoseTrack:
    """Change the sides over where they are swapped and bridge what lies between two labels."""
    rows = np.setdiff1d(np.flatnonzero(np.isfinite(track.image_px[:, 0, 0])), firm)
    rows = rows[(rows > firm[0]) & (rows < firm[-1])]
    after = np.searchsorted(firm, rows)
    first, last = firm[after - 1], firm[after]
    doubtful = np.searchsorted(undecided, last) > np.searchsorted(undecided, first)
    anew = doubtful | (swapped[after - 1] != swapped[after])
    mirrored = np.concatenate([firm[swapped], rows[~anew & swapped[after - 1]]])
    bridged, first, last = rows[anew], first[anew], last[anew]
    time_s = track.time_s
    share = (time_s[bridged] - time_s[first]) / (time_s[last] - time_s[first])
    too_long = time_s[last] - time_s[first] > _LONGEST_BRIDGE_S
    unseen = np.union1d(bridged[too_long], np.setdiff1d(undecided, bridged))

    def settled(array: FloatArray, nothing: float = np.nan) -> FloatArray:
        array = array.copy()
        array[mirrored] = array[mirrored][:, MIRRORED]
        weight = share.reshape(-1, *[1] * (array.ndim - 1))
        array[bridged] = (1 - weight) * array[first] + weight * array[last]
        array[unseen] = nothing
        return array

    filled = track.filled.copy()
    filled[np.intersect1d(bridged, undecided)] = True
    filled[unseen] = False
    return replace(
        track,
        image_px=settled(track.image_px),
        depth_px=settled(track.depth_px),
        world_m=settled(track.world_m),
        visibility=settled(track.visibility, 0.0),
        covariance_px2=settled(track.covariance_px2),
        filled=filled,
    )


def _trunk_px(image_px: FloatArray) -> float:
    """Usual distance from the middle of the shoulders to that of the hips, pixels."""
    shoulders, hips = (image_px[:, list(pair)].mean(axis=1) for pair in _TRUNK)
    return float(np.median(np.linalg.norm(shoulders - hips, axis=1)))


def _sides_apart(image_px: FloatArray) -> FloatArray:
    """(n, pairs, 2) from the right to the left of each pair of joints."""
    left, right = (np.array([pair[side] for pair in _TOLD_BY]) for side in (0, 1))
    apart: FloatArray = image_px[:, left] - image_px[:, right]
    return apart


def _undecided(apart: FloatArray) -> BoolArray:
    """(n,) whether the sides of the trunk meet in the middle while they are well apart around."""
    widths = np.linalg.norm(apart[:, : len(_TRUNK)], axis=2).sum(axis=1)
    met: BoolArray = widths < _UNDECIDED_SHARE * widths.max(initial=0.0)
    close = np.flatnonzero(met)
    usual = medians_about(widths, close, _AROUND)
    met[close] = (widths[close] < _UNDECIDED_SHARE * usual) & (usual > _APART_SHARE * len(_TRUNK))
    return met


def _swapped(apart: FloatArray, time_s: FloatArray) -> BoolArray:
    """(n,) where the network took left for right: the cheapest sequence of labels (Viterbi)."""
    alike, opposite = (
        np.minimum(np.sum((apart[1:] - sign * apart[:-1]) ** 2, axis=2), _FARTHEST).sum(axis=1)
        for sign in (1.0, -1.0)
    )
    linked = np.diff(time_s) <= _LONGEST_LINK_S
    turning = np.where(linked, opposite - alike + _TURN_COST, 0.0)
    if (turning >= 0.0).all():  # changing over never pays
        return np.zeros(len(apart), dtype=np.bool_)
    as_told, relabelled = 0.0, _RELABEL_COST
    came: list[tuple[bool, bool]] = []
    for cost in turning.tolist():
        came.append((relabelled + cost < as_told, as_told + cost < relabelled))
        as_told, relabelled = (
            min(as_told, relabelled + cost),
            min(relabelled, as_told + cost) + _RELABEL_COST,
        )
    swapped = np.zeros(len(apart), dtype=np.bool_)
    swapped[-1] = relabelled < as_told
    for row in range(len(came) - 1, -1, -1):
        swapped[row] = swapped[row + 1] ^ came[row][int(swapped[row + 1])]
    return swapped
