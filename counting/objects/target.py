"""How high a thrown ball comes over its target.

The target is on the wall that the ball flies to, so both are compared in the picture, where ball
and target are as far from the camera but for the ball's own radius. Lengths are by the athlete's
stature, who stands nearer or farther: that stretches a height over the target and never turns it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.objects.line import Target
from counting.objects.readings import Found, Measured, Unseen
from counting.reps.types import Rep
from counting.signals.body import stature_px, steadied_px
from vision.objects.types import ObjectTrack
from vision.pose.landmarks import Landmark
from vision.track import BoolArray, FloatArray, IntArray, PoseTrack

_AFTER_S: Final = 1.2
"""How long after a rep's end its ball may be in the air: the next rep begins with the catch."""
_NEAR_S: Final = 0.12
"""How far from its highest point a ball tells where that is."""
_SEEN_S: Final = 0.03
"""How long before and after its highest point a ball has to be seen."""
_SCALE: Final = 0.12
"""Standard uncertainty of lengths at the wall by the stature of the athlete before it, as a share:
the wall is up to a metre beyond, of four to six that the camera is away; statures are not known to
6 %."""
_POINTED: Final = 0.003
"""Standard error of a point that somebody marks in a picture, as a share of its longer side."""
_FOCAL: Final = 0.75
"""Focal length of phones' main cameras over a film's longer side (common practice, no source); it
only tells how steeply the camera looks up."""
_CAMERA_M: Final = 1.0
"""Height of a phone that stands as film-setup advises, from 0.5 to 1.5 m."""
_ANKLE_M: Final = 0.07
_ANKLES: Final = [Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE]
_SHORT_OF_WALL: Final = 0.6
"""Where a ball is highest it need not touch the wall: standard uncertainty of its way from there,
in what lies between its middle and the wall when it does."""
_APART_S: Final = 0.35
"""Between two flights the ball is in the hands for longer than it is ever hidden in one."""
_FEWEST: Final = 4
"""Pictures of the ball: one more than a parabola has numbers."""


def flights_of(reps: Sequence[Rep]) -> list[tuple[float, float]]:
    """Give the stretch of the film in which each rep's ball flies: from its turn to the next's."""
    turns_s = [rep.turn_s for rep in reps[1:]] + [np.inf]
    return [
        (rep.turn_s, min(next_s, rep.end_s + _AFTER_S))
        for rep, next_s in zip(reps, turns_s, strict=True)
    ]


def balls_over_target(
    ball: ObjectTrack,
    reps: Sequence[Rep],
    target: Target,
    track: PoseTrack,
    stature_m: float,
    camera_m: float | None = None,
) -> list[Found]:
    """Measure how high each rep's ball comes over the target, centimetres.

    Parameters
    ----------
    ball
        The ball.
    reps
        The reps of one movement, in order of time.
    target
        The target.
    track
        The athlete's track.
    stature_m
        The athlete's height.
    camera_m
        Height of the camera, where it is known.
    """
    steady = steadied_px(track)
    cm_per_px = 100.0 * stature_m / stature_px(steady)
    feet_px = float(np.nanmedian(steady[:, _ANKLES, 1]))
    horizon_px = feet_px - 100.0 * ((camera_m or _CAMERA_M) - _ANKLE_M) / cm_per_px
    within = (track, cm_per_px, horizon_px)
    return [
        _over(ball, (ball.time_s >= start_s) & (ball.time_s < end_s), target, *within)
        for start_s, end_s in flights_of(reps)
    ]


def _over(
    ball: ObjectTrack,
    within: BoolArray,
    target: Target,
    track: PoseTrack,
    cm_per_px: float,
    horizon_px: float,
) -> Found:
    highest = [_highest(ball, flight) for flight in _flights(ball, within)]
    known = [one for one in highest if one is not None]
    if not known or not np.isfinite(cm_per_px):
        return Unseen(
            "the ball's highest point was not seen" if highest else "the ball was not seen"
        )
    top = min(known, key=lambda one: one.y_px)
    long_px = max(track.width_px, track.height_px)
    origin = np.array([track.width_px / 2, horizon_px])
    x, y = np.array([top.x_px, top.y_px]) - origin
    over_px, spread_px = _over_line(
        target.ends_px(track) - origin, float(x), float(y), top.radius_px, _FOCAL * long_px
    )
    spread_px = np.hypot(spread_px, top.error_px)
    over, spread = over_px * cm_per_px, spread_px * cm_per_px
    return Measured(top.at_s, float(over), float(np.hypot(spread, _SCALE * over)))


def _over_line(
    ends: FloatArray, x: float, y: float, radius: float, focal: float
) -> tuple[float, float]:
    """How high a ball that touches a wall is over a level line on it, with the standard error.

    A pinhole camera sees a line along the wall rise towards the horizon as the
    wall recedes: with a slope of m at (x, y) from the horizon, the wall is turned by the angle
    whose tangent is m f / (m x - y) out of the picture's plane. The ball's middle is its
    radius before the wall, so the place where it touches is seen farther along and lower.

    All in pixels from the picture's middle at the height of the horizon.
    """
    (left, up), (right, down) = ends
    slope = (down - up) / (right - left)

    def over(before: float) -> tuple[float, float]:
        at_line = up + slope * (x - left)
        turned = np.arctan2(slope * focal, max(slope * x - at_line, _LEVEL * focal))
        touch_x = x - before * (np.sin(turned) + x / focal * np.cos(turned))
        touch_y = y * (1.0 - before * np.cos(turned) / focal)
        return up + slope * (touch_x - left) - touch_y, (touch_x - left) / (right - left)

    seen, _ = over(0.0)
    touching, along = over(radius)
    pointed = _POINTED * focal / _FOCAL * np.hypot(1.0 - along, along) * np.hypot(1.0, slope)
    return touching, float(np.hypot(pointed, _SHORT_OF_WALL * (touching - seen)))


_LEVEL: Final = 0.02
"""Tangent of the elevation below which a line on the wall does not tell how the wall is turned."""


@dataclass(frozen=True, slots=True)
class _Top:
    """A ball's highest point in the steadied picture."""

    at_s: float
    x_px: float
    y_px: float
    error_px: float
    radius_px: float


def _flights(ball: ObjectTrack, within: BoolArray) -> list[IntArray]:
    """Rows of each flight within a stretch."""
    rows = np.flatnonzero(ball.found & within)
    if not rows.size:
        return []
    return np.split(rows, np.flatnonzero(np.diff(ball.time_s[rows]) > _APART_S) + 1)


def _turn_s(ball: ObjectTrack, rows: IntArray) -> float:
    """When the parabola through a ball's heights turns; NaN where it does not come down."""
    start_s = float(ball.time_s[rows].mean())
    bend, slope, _ = np.polyfit(ball.time_s[rows] - start_s, ball.centre_px[rows, 1], 2)
    return start_s - float(slope / (2 * bend)) if bend > 0 else float("nan")


def _highest(ball: ObjectTrack, rows: IntArray) -> _Top | None:
    """Tell when and where a ball was highest; None where that was not seen."""
    if len(rows) < _FEWEST:
        return None
    # A ball that goes away and comes nearer flies no parabola in the picture but where it turns.
    at_s = _turn_s(ball, rows)
    near = rows[np.abs(ball.time_s[rows] - at_s) <= _NEAR_S]
    if len(near) < _FEWEST:
        return None
    first_s, last_s = ball.time_s[near[0]], ball.time_s[near[-1]]
    if not first_s + _SEEN_S <= at_s <= last_s - _SEEN_S:
        return None
    time_s = ball.time_s[near] - at_s
    return _Top(
        at_s=at_s,
        x_px=float(np.polyval(np.polyfit(time_s, ball.centre_px[near, 0], 1), 0.0)),
        y_px=float(np.polyval(np.polyfit(time_s, ball.centre_px[near, 1], 2), 0.0)),
        error_px=float(np.sqrt(np.median(ball.covariance_px2[rows, 1, 1]))),
        radius_px=float(np.median(ball.radius_px[rows])),
    )
