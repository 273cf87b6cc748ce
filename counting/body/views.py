"""What a second film saw at the moments of the first one's frames."""

from dataclasses import replace
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.body.evidence import View, gather_view
from counting.body.skeleton import FloatArray
from vision.track import PoseTrack

_LONGEST_GAP_S: Final = 0.25
"""Seconds between two frames over which a body moves along a line (no source)."""


def view_at(track: PoseTrack, time_s: FloatArray) -> View:
    """Bring a film's landmarks to other times.

    Parameters
    ----------
    track
        The film, with its sides settled.
    time_s
        (N,) the times on this film's own clock.

    Returns
    -------
    View
        On the line between the frames before and after; unseen (NaN, weight 0) where one of these
        shows nobody, or they lie over a quarter of a second apart, or outside the film.
    """
    own = gather_view(track)
    if track.frames < 2:
        return _unseen(own, len(time_s))
    after = np.clip(np.searchsorted(track.time_s, time_s), 1, track.frames - 1)
    before = after - 1
    gap_s = track.time_s[after] - track.time_s[before]
    share = (time_s - track.time_s[before]) / gap_s
    known = (share >= 0) & (share <= 1) & (gap_s <= _LONGEST_GAP_S)
    share = np.where(known, share, 0.0)

    def between(values: FloatArray) -> FloatArray:
        part = share.reshape(-1, *[1] * (values.ndim - 1))
        mixed: FloatArray = values[before] * (1 - part) + values[after] * part
        mixed[~known] = np.nan
        return mixed

    weight = np.minimum(own.weight[before], own.weight[after])
    picture_px = between(own.picture_px)
    weight[~known | ~np.isfinite(picture_px).all(axis=(1, 2))] = 0.0
    return replace(own, picture_px=picture_px, weight=weight, world_m=between(own.world_m))


def _unseen(view: View, count: int) -> View:
    def nothing(values: npt.NDArray[np.float64]) -> FloatArray:
        return np.full((count, *values.shape[1:]), np.nan)

    return replace(
        view,
        picture_px=nothing(view.picture_px),
        weight=np.zeros((count, view.weight.shape[1])),
        world_m=nothing(view.world_m),
    )
