"""The one way from a track to its signals."""

from typing import Final

import numpy as np

from counting.signals.body import (
    PARTS,
    elsewhere,
    hands_elsewhere,
    inverted,
    part_px,
    plausible,
    stature_px,
    steadied_px,
)
from counting.signals.filtering import dual_pass, without_spikes
from counting.signals.percentiles import percentile
from counting.signals.resampling import even_grid, median_rate_hz, resample
from counting.signals.types import Signals
from vision.track import FloatArray, PoseTrack

LONGEST_BRIDGED_GAP_S: Final = 0.6
"""Longer than a blink of the tracker, shorter than any rep."""

_SPIKE_WINDOW_S: Final = 0.17
_SPIKE_STATURES: Final = 0.12
_PERSPECTIVE: Final = 0.08
"""Statures by which the farther of two hands on the floor looks higher: 0.3 apart, three away from
a camera at the height of the breast."""

_HIGHEST_SHARE_OF_FRAME_RATE: Final = 0.35
"""Cut-off of the low-pass at most: half would be the highest frequency that the frames can hold
(Shannon 1949); a Butterworth filter needs room below it."""


def signals_of(track: PoseTrack, *, upright: bool = False, upside_down: bool = False) -> Signals:
    """Turn landmarks into signals.

    Steadies the picture, drops poses that cannot be this body, takes each part's position weighed
    by visibility, blanks single spikes, carries the rest over to an even grid and filters it
    without delay at 6 Hz (lower where the frame rate is too small for that).

    Parameters
    ----------
    track
        Landmarks of one athlete. Filled rows count as unseen.
    upright
        Whether the shoulders stay above the hips in all that is done, as they do in everything
        but floor work: poses that say otherwise are left out but for the hips, and hands where
        they cannot get in time. (Lying bodies' hands are drawn too wildly to tell.)
    upside_down
        Whether what is done turns the body upside down, or its feet up to its hands: then no pose
        is left out for that.
    """
    points = steadied_px(track)
    points[track.filled] = np.nan
    stature = stature_px(points)
    points[~plausible(points, stature)] = np.nan
    on_its_head = inverted(points, stature, upright=upright)
    points[elsewhere(track.time_s, points, stature)] = np.nan
    if upright:
        astray = hands_elsewhere(track.time_s, points, stature)
        for wrist, astray_here in zip(PARTS["wrist"], astray.T, strict=True):
            points[astray_here, wrist] = np.nan
    hips = points[:, list(PARTS["hip"])]
    points[on_its_head & (not upside_down)] = np.nan
    points[:, list(PARTS["hip"])] = hips
    grid_s = even_grid(track.time_s)
    rate_hz = float(1.0 / (grid_s[1] - grid_s[0])) if grid_s.size > 1 else float("nan")
    frame_rate_hz = median_rate_hz(track.time_s)
    cutoff_hz = min(6.0, _HIGHEST_SHARE_OF_FRAME_RATE * frame_rate_hz)
    window = 2 * round(_SPIKE_WINDOW_S * frame_rate_hz / 2) + 1 if grid_s.size > 1 else 1

    def even(values: FloatArray) -> FloatArray:
        kept = without_spikes(values, window, _SPIKE_STATURES) if window > 2 else values
        carried, _ = resample(track.time_s, kept, grid_s, LONGEST_BRIDGED_GAP_S)
        return dual_pass(carried, rate_hz, cutoff_hz) if grid_s.size > 1 else carried

    places = {
        name: part_px(points, track.visibility, landmarks) / stature
        for name, landmarks in PARTS.items()
    }
    floor = _percentile(places["ankle"][:, 1], 50)
    leg = np.linalg.norm(places["hip"] - places["ankle"], axis=1)
    trunk = np.linalg.norm(places["shoulder"] - places["hip"], axis=1)
    seen = np.isfinite(points[..., 0]).any(axis=1).astype(float)
    return Signals(
        time_s=grid_s,
        rate_hz=rate_hz,
        stature_px=stature,
        **{name: even(floor - place[:, 1]) for name, place in places.items()},
        hip_x=even(places["hip"][:, 0]),
        ankle_x=even(places["ankle"][:, 0]),
        leg_share=even(leg / _percentile(leg, 95)),
        size=even(trunk / _percentile(trunk, 50)),
        ankle_gap=even(np.abs(_apart(points, "ankle")[:, 1]) / stature),
        wrist_higher=even(floor - _farther(points, "wrist", np.fmin) / stature),
        knee_lower=even(floor - _farther(points, "knee", np.fmax) / stature),
        wrist_lead=even(_lead(points, "wrist", stature)),
        knee_lead=even(_lead(points, "knee", stature)),
        wrist_spread=even(np.abs(_apart(points, "wrist")[:, 0]) / stature),
        ankle_spread=even(np.abs(_apart(points, "ankle")[:, 0]) / stature),
        wrist_seen=_carried(
            grid_s, track.time_s, track.visibility[:, list(PARTS["wrist"])].max(axis=1)
        ),
        observed=_carried(grid_s, track.time_s, seen) > 0.5,
    )


def _farther(points: FloatArray, part: str, choose: np.ufunc) -> FloatArray:
    """(N,) place down the picture of the higher or lower of a part's two sides, pixels."""
    left, right = PARTS[part]
    chosen: FloatArray = choose(points[:, left, 1], points[:, right, 1])
    return chosen


def _apart(points: FloatArray, part: str) -> FloatArray:
    """(N, 2) place of a part's left side less that of its right one, pixels."""
    left, right = PARTS[part]
    apart: FloatArray = points[:, left] - points[:, right]
    return apart


def _lead(points: FloatArray, part: str, stature: float) -> FloatArray:
    """(N,) height of the left side over the right one, from where they are level.

    To a camera above them the farther side looks higher: what is usual is taken for level, as far
    as perspective goes.
    """
    lead = -_apart(points, part)[:, 1] / stature
    usual = _percentile(lead, 50)
    return lead - (min(max(usual, -_PERSPECTIVE), _PERSPECTIVE) if np.isfinite(usual) else 0.0)


def _carried(grid_s: FloatArray, time_s: FloatArray, values: FloatArray) -> FloatArray:
    """Carry values that are always known over to the grid."""
    return np.interp(grid_s, time_s, values) if time_s.size else np.empty(0)


def _percentile(values: FloatArray, share: float) -> float:
    """Percentile of what is known; NaN where nothing is."""
    return percentile(values[np.isfinite(values)], share)
