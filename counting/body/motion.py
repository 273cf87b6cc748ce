"""The athlete's joints in space: the body fitted to the frames that matter."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.body.evidence import STATURE_M, Base, Evidence, View, gather_evidence
from counting.body.film_fit import FEWEST, FilmFit, exchange_sides
from counting.body.kept import KeptFits, film_fit, fit_key, frames_fit
from counting.body.skeleton import (
    JOINT_COUNT,
    POINT_JOINT,
    FloatArray,
    G,
    J,
)
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

STATURE_SPREAD: Final = 0.055
"""Standard deviation of adult stature as a share of itself: common practice, no source."""

_NEIGHBOURS: Final = 4
"""Frames to either side that are fitted with one that decides (chosen, not measured)."""
_UNSURE_SHARE: Final = 0.3
"""Part of what landmarks' stated errors exceed those of sure ones that is added to the misfit
(chosen, not measured)."""


class BodyFitError(ValueError):
    """Too little of the athlete was seen to fit a body."""


@dataclass(frozen=True, slots=True)
class CameraFit:
    """Where the camera stood, for an athlete of `STATURE_M`; real lengths scale with stature."""

    distance_m: float
    height_m: float
    focal_px: float


@dataclass(frozen=True, slots=True, eq=False)
class BodyMotion:
    """The athlete's joints in space.

    Attributes
    ----------
    time_s
        (N,) times of the track.
    around
        (N,) True in rows around the reps that show the athlete.
    joints_m
        (N, joints, 3) each joint pair's forward, half-width and up coordinates (see
        `counting.body.skeleton`); NaN in frames that were not fitted.
    joint_misfit
        (N, joints) root mean square distance of each joint's landmarks from the fitted body, in
        their standard errors; NaN in frames that were not fitted.
    joint_sureness
        (N, joints) how sure the better seen of a joint's two landmarks is, 0 to 1.
    hands_up_m
        Usual height of the hands about the reps.
    camera
        Where the camera stood.
    yaw_deg
        Direction the athlete faces: 0 into the camera, positive towards the picture's right.
    yaw_u_deg
        Its standard uncertainty from the fit alone.
    stature_m
        Assumed body height.
    shared
        (g,) all unknowns shared by the frames, in the order of `GLOBALS`.
    """

    time_s: FloatArray
    around: BoolArray
    joints_m: FloatArray
    joint_misfit: FloatArray
    joint_sureness: FloatArray
    hands_up_m: float
    camera: CameraFit
    yaw_deg: float
    yaw_u_deg: float
    stature_m: float
    shared: FloatArray

    @property
    def view_deg(self) -> float:
        """0 = front, 90 = side (either), 180 = back."""
        return abs((self.yaw_deg + 180.0) % 360.0 - 180.0)

    @property
    def misfit(self) -> FloatArray:
        """(N,) root mean square of the joints' misfits."""
        whole: FloatArray = np.sqrt(np.mean(self.joint_misfit**2, axis=1))
        return whole

    def misfit_of(self, joints: Sequence[str], rows: IntArray | None = None) -> FloatArray:
        """(N,) misfit that bears on some joints, more where their landmarks are unsure.

        Of all rows or of the given ones. Their own misfit, or half the whole body's if that is
        larger; to it comes a share of what their landmarks' errors exceed those of sure ones. On no
        joints, which is what the picture alone shows, none bears.
        """
        if not joints:
            return np.zeros(len(self.joint_misfit) if rows is None else len(rows))
        chosen = [J[name] for name in joints]
        here = slice(None) if rows is None else rows
        squares = self.joint_misfit[here] ** 2
        own = np.sqrt(np.mean(squares[:, chosen], axis=1))
        whole = np.sqrt(np.mean(squares, axis=1))
        excess = 1 / np.maximum(self.joint_sureness[here][:, chosen], 1e-3) - 1
        bearing: FloatArray = np.maximum(own, whole / 2) + _UNSURE_SHARE * excess.mean(axis=1)
        return bearing

    def joint(self, name: str) -> FloatArray:
        """(N, 3) forward, half-width and up of one joint pair, metres."""
        joint: FloatArray = self.joints_m[:, J[name]]
        return joint


@dataclass(frozen=True, slots=True, eq=False)
class FoundBody:
    """Body and camera of a film, whose frames can be fitted.

    Attributes
    ----------
    unfitted
        The motion before any frame is fitted: camera and view, but no joints.
    """

    unfitted: BodyMotion
    _track: PoseTrack
    _evidence: Evidence
    _whole: FilmFit
    _kept: tuple[str, KeptFits | None]

    def fitted(self, chosen: BoolArray | None = None) -> BodyMotion:
        """Fit the chosen rows, (N,), and those next to them; all rows around the reps if None."""
        around = self.unfitted.around
        wanted = around if chosen is None else around & _with_neighbours(chosen)
        rows = np.flatnonzero(around)
        before, after = _looks(self._track, rows, wanted)
        looked = np.zeros_like(around)
        looked[before] = looked[after] = True
        joints, misfit = frames_fit(self._evidence, self._whole, rows, looked, self._kept)
        time_s = self._track.time_s
        _carry(time_s, np.flatnonzero(wanted), before, after, (joints, misfit))
        return replace(self.unfitted, joints_m=joints, joint_misfit=misfit)


def find_body(
    track: PoseTrack,
    rows: IntArray,
    base: Base,
    kept: KeptFits | None = None,
    others: Sequence[View] = (),
) -> FoundBody:
    """Find body and cameras from the chosen rows of a track.

    Parameters
    ----------
    track
        Landmarks of the athlete.
    rows
        Increasing row numbers around the repetitions; rows without the athlete are left out.
    base
        What holds the athlete: feet on the floor, hands on the pull-up bar, or hands and toes.
    kept
        Fits of earlier audits; None to make and keep none.
    others
        What further cameras saw at the track's times: rows that one of them misses are left out.

    Raises
    ------
    BodyFitError
        The athlete is seen in fewer than eight of the rows.
    """
    seen = np.isfinite(track.world_m[rows, Landmark.LEFT_HIP, 0])
    seen &= np.isfinite(track.image_px[rows, Landmark.LEFT_HIP, 0])
    for other in others:
        seen &= np.isfinite(other.picture_px[rows, 0, 0])
    rows = rows[seen]
    if len(rows) < FEWEST:
        raise BodyFitError(f"the athlete is seen in {len(rows)} frames of the reps only")
    evidence = gather_evidence(track, base, others)
    evidence = exchange_sides(evidence, rows)
    key = "" if kept is None else fit_key(evidence, rows)
    whole = film_fit(evidence, rows, key, kept)
    around = np.zeros(track.frames, dtype=np.bool_)
    around[rows] = True
    unfitted = _unfitted(track.time_s, around, evidence, whole)
    return FoundBody(unfitted, track, evidence, whole, (key, kept))


def _with_neighbours(chosen: BoolArray) -> BoolArray:
    """Add the rows about the chosen ones, whose landmarks steady theirs."""
    wider = chosen.copy()
    for step in range(1, _NEIGHBOURS + 1):
        wider[step:] |= chosen[:-step]
        wider[:-step] |= chosen[step:]
    return wider


def _looks(track: PoseTrack, rows: IntArray, wanted: BoolArray) -> tuple[IntArray, IntArray]:
    """Rows last and next looked at from each wanted row, within the rows."""
    looks = rows[track.looked[rows]]
    asked = np.flatnonzero(wanted)
    if not len(looks):
        return asked, asked
    at = np.searchsorted(looks, asked)
    after = looks[np.minimum(at, len(looks) - 1)]
    at = np.searchsorted(looks, asked, "right") - 1
    before = looks[np.maximum(at, 0)]
    inside = (before <= asked) & (asked <= after)
    return np.where(inside, before, asked), np.where(inside, after, asked)


def _carry(
    time_s: FloatArray,
    rows: IntArray,
    before: IntArray,
    after: IntArray,
    fitted: Sequence[FloatArray],
) -> None:
    """Fill rows between two looks: like their landmarks they lie on the line between these."""
    between = before < after
    rows, before, after = rows[between], before[between], after[between]
    share = (time_s[rows] - time_s[before]) / (time_s[after] - time_s[before])
    for values in fitted:
        part = share.reshape(-1, *[1] * (values.ndim - 1))
        values[rows] = values[before] + part * (values[after] - values[before])


def _joint_sureness(points: FloatArray) -> FloatArray:
    best: FloatArray = np.stack(
        [points[:, joint == POINT_JOINT].max(axis=1) for joint in range(JOINT_COUNT)], axis=1
    )
    return best


def _unfitted(
    time_s: FloatArray, around: BoolArray, evidence: Evidence, whole: FilmFit
) -> BodyMotion:
    shared = whole.shared
    u = np.sqrt(np.maximum(np.diag(whole.covariance), 0.0))
    return BodyMotion(
        time_s=time_s,
        around=around,
        joints_m=np.full((len(time_s), JOINT_COUNT, 3), np.nan),
        joint_misfit=np.full((len(time_s), JOINT_COUNT), np.nan),
        joint_sureness=_joint_sureness(
            np.max([view.weight for view in (evidence.view, *evidence.others)], axis=0)
        ),
        hands_up_m=whole.hands_up_m,
        camera=CameraFit(
            distance_m=math.exp(shared[G["log_distance"]]),
            height_m=float(shared[G["height"]]),
            focal_px=math.exp(shared[G["log_focal"]]),
        ),
        yaw_deg=math.degrees(shared[G["yaw"]]),
        yaw_u_deg=math.degrees(u[G["yaw"]]),
        stature_m=STATURE_M,
        shared=shared,
    )
