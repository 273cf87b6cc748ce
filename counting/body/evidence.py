"""What the film says about the body, weighed: landmarks, limb lengths, contacts, priors."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from counting.body.cameras import CAMERAS_OWN, relative
from counting.body.sides import MIRRORED
from counting.body.skeleton import (
    GLOBALS,
    LIMB_GLOBALS,
    OTHER_SIDE,
    POINT_LANDMARKS,
    WIDTHS,
    FloatArray,
    G,
    J,
    Proportions,
)
from counting.signals.body import steadied_px
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

Base = Literal["standing", "hanging", "floor", "supported", "lying", "inverted"]

LANDMARK_ERROR_M: Final = 0.02
"""Standard error of a clearly visible landmark about its joint, metres at the athlete."""

_HIDDEN_FACTOR: Final = 6.0
"""How many times surer a visible landmark is than one surely hidden, less one, where a track states
no errors (chosen, not measured)."""
_BRIDGED: Final = 0.3
"""What a bridged landmark counts against one that was seen (chosen, not measured)."""

FOCAL_SHARE: Final = 0.755
"""Focal length of a phone camera over the picture's long side: common practice, no source."""

_BEARING_SPREAD: Final = math.radians(90.0)
"""How far apart cameras stand is for the pictures to say: networks take fronts for backs."""

STATURE_M: Final = 1.73
"""Assumed body height. One camera cannot tell a small athlete from a distant one: all lengths of
the fit scale with it, and its spread between people belongs to every length read from it."""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """What one camera saw in some frames.

    Attributes
    ----------
    picture_px
        (N, points, 2) landmark positions with the camera's shake taken out; NaN where unseen.
    weight
        (N, points) from 0 (unseen) to 1.
    world_m
        (N, 33, 3) the pose network's own metric guess.
    """

    picture_px: FloatArray
    weight: FloatArray
    world_m: FloatArray
    centre_px: FloatArray
    long_side_px: float

    def of(self, rows: npt.NDArray[np.int64]) -> "View":
        """Return the view of some frames."""
        return replace(
            self,
            picture_px=self.picture_px[rows],
            weight=self.weight[rows],
            world_m=self.world_m[rows],
        )

    def mirrored(self) -> "View":
        """Return the view with left and right changed over."""
        return replace(
            self,
            picture_px=self.picture_px[:, OTHER_SIDE],
            weight=self.weight[:, OTHER_SIDE],
            world_m=self.world_m[:, MIRRORED],
        )

    @property
    def pixel_per_m(self) -> float:
        """Scale of the picture at the athlete: what a metre of the network's guess takes there."""
        return _picture_scale(self.picture_px, self.world_m[:, POINT_LANDMARKS])


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Frames chosen for fitting, ready to be compared with a body.

    Attributes
    ----------
    time_s
        (N,) seconds on the first camera's clock.
    view
        What the first camera saw.
    others
        What further cameras saw at these moments.
    """

    time_s: FloatArray
    view: View
    base: Base
    proportions: Proportions = field(default_factory=Proportions)
    others: tuple[View, ...] = ()

    def alone(self) -> list["Evidence"]:
        """Return what each camera saw, as if it were the only one."""
        views = (self.view, *self.others)
        return [replace(self, view=view, others=()) for view in views]

    def of(self, rows: npt.NDArray[np.int64]) -> "Evidence":
        """Return the evidence of some frames."""
        return replace(
            self,
            time_s=self.time_s[rows],
            view=self.view.of(rows),
            others=tuple(other.of(rows) for other in self.others),
        )


@lru_cache(maxsize=1)
def landmark_sureness(track: PoseTrack) -> FloatArray:
    """How sure each landmark is, (N, 33): 1 at an error of `LANDMARK_ERROR_M`, half at twice it.

    By the stated error of its position, of which visibility tells hardly anything; that stands in
    where a track states no errors. Bridged frames count a third, unseen landmarks nothing.
    Kept for the next who asks: not to be written to.
    """
    seen = np.asarray(np.isfinite(track.image_px).all(axis=-1))
    by_visibility = 1 / (1 + _HIDDEN_FACTOR * (1 - track.visibility))
    whole = np.isfinite(track.world_m).all(axis=(1, 2)) & seen.all(axis=1)
    scale = _picture_scale(track.image_px[whole], track.world_m[whole]) if whole.any() else 1.0
    error_m = track.error_px / scale
    by_error = LANDMARK_ERROR_M / np.maximum(error_m, LANDMARK_ERROR_M)
    sureness = np.where(np.isfinite(error_m), by_error, by_visibility)
    sureness[track.filled] *= _BRIDGED
    return np.where(seen, sureness, 0.0)


def gather_evidence(track: PoseTrack, base: Base, others: Sequence[View] = ()) -> Evidence:
    """Bring a whole track into the form in which it is compared with a body."""
    return Evidence(time_s=track.time_s, view=gather_view(track), base=base, others=tuple(others))


def gather_view(track: PoseTrack) -> View:
    """Take what one camera saw from its track."""
    return View(
        picture_px=steadied_px(track)[:, POINT_LANDMARKS],
        weight=landmark_sureness(track)[:, POINT_LANDMARKS],
        world_m=track.world_m,
        centre_px=np.array([track.width_px / 2, track.height_px / 2]),
        long_side_px=float(max(track.width_px, track.height_px)),
    )


def _picture_scale(picture_px: FloatArray, world_m: FloatArray) -> float:
    """Pixels a metre of the network's metric guess takes in the picture, median over frames."""
    flat = world_m[..., :2] - np.nanmean(world_m[..., :2], axis=1, keepdims=True)
    picture = picture_px - np.nanmean(picture_px, axis=1, keepdims=True)
    scale = np.sqrt(np.nansum(picture**2, axis=(1, 2)) / np.nansum(flat**2, axis=(1, 2)))
    return float(np.nanmedian(scale))


def world_middle(world_m: FloatArray, joint: str) -> FloatArray:
    """Middle of a joint's two sides in the network's own metric guess, (N, 3)."""
    name = {"toe": "FOOT_INDEX"}.get(joint, joint).upper()
    if joint == "nose":
        return world_m[:, Landmark.NOSE]
    left, right = Landmark[f"LEFT_{name}"], Landmark[f"RIGHT_{name}"]
    middle: FloatArray = (world_m[:, left] + world_m[:, right]) / 2
    return middle


def network_yaw(world_m: FloatArray) -> float:
    """Direction the athlete faces by the network's guess of hips and shoulders, radians.

    NaN where it has none.
    """
    across = np.zeros(2)
    for flat in _across(world_m):
        known = np.isfinite(flat).all(axis=1)
        if known.any():
            across += np.median(flat[known], axis=0)
    return math.atan2(-across[1], -across[0]) if across.any() else math.nan


def network_yaws(world_m: FloatArray) -> FloatArray:
    """Direction likewise in each frame, (N,)."""
    across = np.nan_to_num(_across(world_m)).sum(axis=0)
    yaws: FloatArray = np.arctan2(-across[:, 1], -across[:, 0])
    return yaws


def _across(world_m: FloatArray) -> FloatArray:
    """(2, N, 2) unit vectors from left to right hip and shoulder, seen from above."""
    spans = []
    for joint in ("HIP", "SHOULDER"):
        span = world_m[:, Landmark[f"RIGHT_{joint}"]] - world_m[:, Landmark[f"LEFT_{joint}"]]
        spans.append(span[:, [0, 2]])
    flat = np.stack(spans)
    length = np.linalg.norm(flat, axis=2, keepdims=True)
    unit: FloatArray = np.divide(flat, length, out=np.full_like(flat, np.nan), where=length > 0)
    return unit


def prior(evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """Say what each shared unknown is expected to be before looking: means and deviations."""
    found = [_prior_alone(one, network_yaw(one.view.world_m)) for one in evidence.alone()]
    (mean, spread), others = found[0], found[1:]
    return (
        relative(mean, [one for one, _ in others]),
        np.concatenate([spread, *([*one[CAMERAS_OWN][:-1], _BEARING_SPREAD] for _, one in others)]),
    )


def _prior_alone(evidence: Evidence, yaw: float) -> tuple[FloatArray, FloatArray]:
    p = evidence.proportions
    mean, spread = np.zeros(len(GLOBALS)), np.ones(len(GLOBALS))

    def expect(name: str, value: float, deviation: float) -> None:
        mean[G[name]], spread[G[name]] = value, deviation

    expect("log_distance", math.log(4.5), 0.5)
    expect("height", 1.05, 0.35)
    expect("tilt", math.radians(2.0), math.radians(7.0))
    expect("roll", 0.0, math.radians(2.0))
    expect("pan", 0.0, math.radians(15.0))
    expect("log_focal", math.log(FOCAL_SHARE * evidence.view.long_side_px), 0.06)
    expect("yaw", yaw, math.radians(12.0))
    expect("log_stature", math.log(STATURE_M), 0.0)
    mean[LIMB_GLOBALS] = 0.0
    spread[LIMB_GLOBALS] = p.limb_spread
    expect("hip width", 0.0, p.width_spread)
    expect("shoulder width", 0.0, p.width_spread)
    expect("toe outward", p.toe_outward, 0.03)
    expect("bar forward", 0.0, 0.3)
    expect("bar up", 1.30 * STATURE_M, 0.25)
    return mean, spread


def guess_shared(evidence: Evidence) -> FloatArray:
    """Start values of the shared unknowns from the pictures' scale and the network's guess."""
    first, *others = (_guess_alone(one) for one in evidence.alone())
    return relative(first, others)


def _guess_alone(evidence: Evidence) -> FloatArray:
    shared = prior(evidence)[0].copy()
    focal = math.exp(shared[G["log_focal"]])
    distance = focal / evidence.view.pixel_per_m
    shared[G["log_distance"]] = math.log(distance)
    middle_x = float(np.nanmedian(evidence.view.picture_px[..., 0]))
    shared[G["pan"]] = -math.atan((middle_x - evidence.view.centre_px[0]) / focal)
    floor_y = float(np.nanpercentile(np.nanmax(evidence.view.picture_px[..., 1], axis=1), 90))
    floor_z = 0.55 if evidence.base == "hanging" else 0.0
    sight = math.atan((floor_y - evidence.view.centre_px[1]) / focal)
    shared[G["tilt"]] = math.atan((shared[G["height"]] - floor_z) / distance) - sight
    return shared


def guess_frames(evidence: Evidence, shared: FloatArray) -> FloatArray:
    """Start values of the frames' unknowns, (N, unknowns), given those of the shared ones."""
    focal, distance = math.exp(shared[G["log_focal"]]), math.exp(shared[G["log_distance"]])
    yaw = shared[G["yaw"]]
    frames = np.zeros((len(evidence.time_s), WIDTHS.stop))
    forward = np.array([math.sin(yaw), 0.0, -math.cos(yaw)])
    hip_world = world_middle(evidence.view.world_m, "hip")
    hip_px = np.nanmean(evidence.view.picture_px[:, [0, 1]], axis=1)
    ray = (hip_px - evidence.view.centre_px) / focal
    hip_up = shared[G["height"]] - distance * np.tan(np.arctan(ray[:, 1]) + shared[G["tilt"]])
    for joint, index in J.items():
        offset = world_middle(evidence.view.world_m, joint) - hip_world
        frames[:, 2 * index] = offset @ forward
        frames[:, 2 * index + 1] = hip_up - offset[:, 1]
    right = np.array([-math.cos(yaw), 0.0, -math.sin(yaw)])
    for k, joint in enumerate(("ELBOW", "WRIST", "KNEE", "ANKLE")):
        span = (
            evidence.view.world_m[:, Landmark[f"RIGHT_{joint}"]]
            - evidence.view.world_m[:, Landmark[f"LEFT_{joint}"]]
        )
        frames[:, WIDTHS.start + k] = np.abs(span @ right) / 2
    return _bridge(frames)


def _bridge(frames: FloatArray) -> FloatArray:
    """Fill rows the network did not see from their neighbours."""
    known = np.isfinite(frames).all(axis=1)
    if not known.any():
        return np.nan_to_num(frames)
    index = np.arange(len(frames))
    for column in range(frames.shape[1]):
        frames[:, column] = np.interp(index, index[known], frames[known, column])
    return frames
