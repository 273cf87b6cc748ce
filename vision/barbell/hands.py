"""The hands put on the bar: from the side, plates hide them."""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

SIDE_SHARE: Final = 0.3
"""Shoulder breadth over trunk length in the picture below which the view is from the side: labelled
films read 0.2 at most beyond 80 degrees and 0.4 to 0.5 at 50 to 60, where the near plate is beside
the hands, not before them."""
PLATE_OVER_STATURE: Final = 0.13
"""225 mm (the radius of the largest disc, IWF) over 1.73 m, at the athlete's own depth."""

_SHOULDER_HEIGHT: Final = 0.818 - 0.039
"""Shoulders over ankles in statures (Drillis and Contini 1966)."""
_UPPER_ARM: Final = 0.186
_FOREARM: Final = 0.146
"""Bones in statures (Drillis and Contini 1966)."""

_IN_HANDS: Final = 0.05
"""Statures over the hips from which a bar is in the hands."""
_UPRIGHT: Final = 0.15
"""Shoulders over the hips in the picture, in statures, of somebody who does not lie: half of a
trunk."""
_CLEARLY: Final = 0.03
"""Standard deviation of a wrist, in statures, up to which it is read and not guessed. On labelled
films plates leave 0.04 to 0.07; beside a plate that hid no hand it was 0.015."""

LOST_S: Final = 6.0
"""An athlete under the bar whom the network loses for so long is still where they were."""
_SURE: Final = 0.6
"""Visibility of hands that were put on the bar: as the network gave its wrong guesses."""
_CLEAR: Final = 0.9
"""Visibility from which an elbow stays where the network saw it."""
_LEAST_HELD_S: Final = 1.0
"""In all; a rep with a bar takes longer (common practice, no source)."""

_LEFT: Final = (Landmark.LEFT_SHOULDER, Landmark.LEFT_ELBOW, Landmark.LEFT_WRIST)
_RIGHT: Final = (Landmark.RIGHT_SHOULDER, Landmark.RIGHT_ELBOW, Landmark.RIGHT_WRIST)
_HANDS: Final = {
    Landmark.LEFT_WRIST: (Landmark.LEFT_PINKY, Landmark.LEFT_INDEX, Landmark.LEFT_THUMB),
    Landmark.RIGHT_WRIST: (Landmark.RIGHT_PINKY, Landmark.RIGHT_INDEX, Landmark.RIGHT_THUMB),
}


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """The near plate of a barbell.

    Attributes
    ----------
    centre_px
        (N, 2) centre in the upright picture, one row a row of the track; NaN where it was not
        found for longer than half a second.
    radius_px
        Apparent radius of the plate.
    stature_px
        Apparent height of the athlete.
    """

    centre_px: FloatArray
    radius_px: float
    stature_px: float


def seen_from_the_side(track: PoseTrack) -> bool:
    """Whether the plates may hide the hands: the shoulders lie behind each other."""
    left, right = Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER
    shoulders = track.image_px[:, left] - track.image_px[:, right]
    trunk = middle(track, left, right) - middle(track, Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
    share = np.abs(shoulders[:, 0]) / np.linalg.norm(trunk, axis=1)
    known = share[np.isfinite(share)]
    return bool(known.size) and float(np.median(known)) < SIDE_SHARE


def middle(track: PoseTrack, one: Landmark, other: Landmark) -> FloatArray:
    """(N, 2) the middle of two landmarks in the picture."""
    between: FloatArray = (track.image_px[:, one] + track.image_px[:, other]) / 2.0
    return between


def hands_on_bar(track: PoseTrack, bar: Bar) -> PoseTrack:
    """Put the wrists where the bar is: a bar above the hips is in the hands.

    Behind a plate the network guesses the hands, and often calls its guess visible: measured on a
    press from the side, its wrists were 13 to 17 % of stature off at a visibility of 0.6. The
    plate is nearer to the camera than the hands and so looks farther from the picture's middle;
    it is drawn in by the ratio of its usual to its apparent size. Elbows that were not clearly
    seen are put where upper arm and forearm of usual length meet, on the side where the network
    saw them. Everything stays as it was where no bar was followed long enough.
    """
    held = _held(track, bar)
    if not held.any():
        return track
    centre = np.array([track.width_px / 2.0, track.height_px / 2.0])
    nearer = min(1.0, PLATE_OVER_STATURE * bar.stature_px / bar.radius_px)
    hand = centre + (bar.centre_px - centre) * nearer
    if np.mean(_read_beside(track, bar)[held]) > 0.5:
        return track
    image, visibility = track.image_px.copy(), track.visibility.copy()
    for shoulder, elbow, wrist in (_LEFT, _RIGHT):
        rows = np.flatnonzero(held)
        shift = hand[rows] - image[rows, wrist]
        for point in _HANDS[wrist]:
            image[rows, point] += shift
        image[rows, wrist] = hand[rows]
        for point in (wrist, *_HANDS[wrist]):
            visibility[rows, point] = _SURE
        hidden = rows[track.visibility[rows, elbow] < _CLEAR]
        image[hidden, elbow] = _elbow(
            image[hidden, shoulder], image[hidden, wrist], image[hidden, elbow], bar.stature_px
        )
    return replace(track, image_px=image, visibility=visibility)


def _read_beside(track: PoseTrack, bar: Bar) -> BoolArray:
    """(N,) whether a hand is clearly read outside the plate, which then hides none.

    With the arms overhead shoulders look narrow from 60 degrees, and the bar's end is beside them.
    """
    beside = np.zeros(track.frames, dtype=np.bool_)
    for wrist in (Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST):
        off_px = np.hypot(*(track.image_px[:, wrist] - bar.centre_px).T)
        spread_px = np.sqrt(np.trace(track.covariance_px2[:, wrist], axis1=1, axis2=2) / 2)
        beside |= (off_px > bar.radius_px) & (spread_px < _CLEARLY * bar.stature_px)
    return beside


def _held(track: PoseTrack, bar: Bar) -> BoolArray:
    hips = middle(track, Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
    hips = bridged(track.time_s, hips, LOST_S)
    shoulders = middle(track, Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
    shoulders = bridged(track.time_s, shoulders, LOST_S)
    above = hips[:, 1] - bar.centre_px[:, 1] > _IN_HANDS * bar.stature_px
    # A bar at rest is above the hips of somebody who lies down beside it.
    upright = hips[:, 1] - shoulders[:, 1] > _UPRIGHT * bar.stature_px
    held: BoolArray = np.isfinite(bar.centre_px[:, 0]) & above & upright
    if not held.any():
        return held
    held_s = float(np.sum(np.diff(track.time_s)[held[1:]]))
    raised = bar.centre_px[held, 1]
    moved = float(np.ptp(np.percentile(raised, [5.0, 95.0]))) > 0.1 * bar.stature_px
    return held if held_s > _LEAST_HELD_S and moved else np.zeros_like(held)


def _elbow(
    shoulder: FloatArray, wrist: FloatArray, guess: FloatArray, stature_px: float
) -> FloatArray:
    """(n, 2) where two bones between shoulder and wrist meet (law of cosines)."""
    upper, fore = _UPPER_ARM * stature_px, _FOREARM * stature_px
    line = wrist - shoulder
    apart = np.clip(np.linalg.norm(line, axis=1), abs(upper - fore) + 1e-9, None)
    along = np.clip((upper**2 - fore**2 + apart**2) / (2.0 * apart), -upper, upper)
    aside = np.sqrt(np.maximum(upper**2 - along**2, 0.0))
    unit = line / apart[:, None]
    normal = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    side = np.where(np.sum((guess - shoulder) * normal, axis=1) < 0.0, -1.0, 1.0)
    along = np.where(apart > upper + fore, apart * upper / (upper + fore), along)
    joint: FloatArray = shoulder + along[:, None] * unit + (side * aside)[:, None] * normal
    return joint


def bridged(time_s: FloatArray, points: FloatArray, longest_s: float) -> FloatArray:
    """Fill gaps of up to ``longest_s`` by straight lines."""
    bridged = points.copy()
    for before, after in pairwise(np.flatnonzero(np.isfinite(points[:, 0]))):
        if after - before > 1 and time_s[after] - time_s[before] <= longest_s:
            inside = slice(before + 1, after)
            for axis in (0, 1):
                bridged[inside, axis] = np.interp(
                    time_s[inside], time_s[[before, after]], points[[before, after], axis]
                )
    return bridged


def stature_px(track: PoseTrack) -> float:
    """Apparent height of the athlete, from how far the shoulders are over the ankles at most."""
    shoulders = middle(track, Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
    ankles = middle(track, Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE)
    standing = np.linalg.norm(shoulders - ankles, axis=1)
    return float(np.nanpercentile(standing, 90.0)) / _SHOULDER_HEIGHT
