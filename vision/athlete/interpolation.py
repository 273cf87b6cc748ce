"""Rows of a track that nobody looked at: on the line between the looks before and after."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from vision.track import FloatArray, PoseTrack

IntArray = npt.NDArray[np.int64]


def with_lines_between(track: PoseTrack, looked_at: IntArray) -> PoseTrack:
    """Lay the rows between two looks at the same person on the line between them.

    Parameters
    ----------
    track
        Observed in rows of ``looked_at`` only.
    looked_at
        (K,) rows that were looked at, ascending, with or without finding the athlete. A row between
        two looks of which one was in vain stays unobserved, and so does one outside all looks.
    """
    looked = np.zeros(track.frames, dtype=np.bool_)
    looked[looked_at] = True
    rows = np.flatnonzero(~looked)
    after = np.searchsorted(looked_at, rows)
    inner = (after > 0) & (after < len(looked_at))
    rows, after = rows[inner], after[inner]
    one, other = looked_at[after - 1], looked_at[after]
    same = (track.identity[one] >= 0) & (track.identity[one] == track.identity[other])
    rows, one, other = rows[same], one[same], other[same]
    span_s = track.time_s[other] - track.time_s[one]
    share = (track.time_s[rows] - track.time_s[one]) / span_s

    def laid(values: FloatArray) -> FloatArray:
        filled = values.copy()
        weight = share.reshape(-1, *[1] * (values.ndim - 1))
        filled[rows] = (1.0 - weight) * values[one] + weight * values[other]
        return filled

    identity = track.identity.copy()
    identity[rows] = track.identity[one]
    return replace(
        track,
        image_px=laid(track.image_px),
        depth_px=laid(track.depth_px),
        world_m=laid(track.world_m),
        visibility=laid(track.visibility),
        covariance_px2=laid(track.covariance_px2),
        camera_shift_px=laid(track.camera_shift_px),
        camera_roll_rad=laid(track.camera_roll_rad),
        identity=identity,
        looked=looked,
    )
