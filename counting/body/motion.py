"""Fitting the body to a film, and the motion that comes out."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.body.evidence import (
    STATURE_M,
    Base,
    Evidence,
    first_guess,
    frame_residuals,
    gather_evidence,
    landmark_columns,
    landmark_sureness,
    network_yaw,
    prior,
)
from counting.body.skeleton import (
    GLOBALS,
    JOINT_COUNT,
    PER_FRAME,
    POINT_JOINT,
    POINT_LANDMARKS,
    SHIFT,
    WIDTHS,
    FloatArray,
    G,
    J,
    joint_widths,
)
from counting.body.solve import Problem, Solution, solve
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

IntArray = npt.NDArray[np.int64]

STATURE_SPREAD: Final = 0.055
"""Standard deviation of adult stature as a share of itself: common practice, no source."""

_SAMPLE = 240
_INDEPENDENT = 12
_WINDOW = 300
_GAP_S = 0.5
_FEWEST = 8
_GOOD_FIT = 0.6
_UNSURE_SHARE = 0.3
_TURNED = math.radians(30.0)
_YAW_WANDER = math.radians(4.0)


class BodyFitError(ValueError):
    """Too little of the athlete was seen to fit a body."""


@dataclass(frozen=True, slots=True)
class CameraFit:
    """Where the camera stood, for an athlete of `STATURE_M`; real lengths scale with stature.

    Angles in degrees, tilt positive downwards, roll positive clockwise; ``*_u`` are standard
    uncertainties from the fit alone.
    """

    distance_m: float
    height_m: float
    height_u_m: float
    tilt_deg: float
    tilt_u_deg: float
    roll_deg: float
    focal_px: float


@dataclass(frozen=True, slots=True, eq=False)
class BodyMotion:
    """The athlete's joints in space.

    Attributes
    ----------
    time_s
        (N,) times of the track.
    joints_m
        (N, joints, 3) each joint pair's forward, half-width and up coordinates (see
        `counting.body.skeleton`); NaN in frames that were not fitted.
    joint_misfit
        (N, joints) root mean square distance of each joint's landmarks from the fitted body, in
        their standard errors; NaN in frames that were not fitted.
    joint_sureness
        (N, joints) how sure the better seen of a joint's two landmarks is, 0 to 1.
    camera
        Where the camera stood.
    yaw_deg
        Direction the athlete faces: 0 into the camera, positive towards the picture's right.
    yaw_u_deg
        Its standard uncertainty from the fit alone.
    stature_m, stature_u_m
        Assumed body height and its spread between people.
    shared
        (g,) all unknowns shared by the frames, in the order of `GLOBALS`.
    """

    time_s: FloatArray
    joints_m: FloatArray
    joint_misfit: FloatArray
    joint_sureness: FloatArray
    camera: CameraFit
    yaw_deg: float
    yaw_u_deg: float
    stature_m: float
    stature_u_m: float
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

    def misfit_of(self, joints: Sequence[str]) -> FloatArray:
        """(N,) misfit that bears on some joints, more where their landmarks are unsure.

        Their own misfit, or half the whole body's if that is larger; to it comes a share of what
        their landmarks' errors exceed those of sure ones.
        """
        chosen = [J[name] for name in joints]
        own = np.sqrt(np.mean(self.joint_misfit[:, chosen] ** 2, axis=1))
        excess = 1 / np.maximum(self.joint_sureness[:, chosen], 1e-3) - 1
        bearing: FloatArray = np.maximum(own, self.misfit / 2) + _UNSURE_SHARE * excess.mean(axis=1)
        return bearing

    def joint(self, name: str) -> FloatArray:
        """(N, 3) forward, half-width and up of one joint pair, metres."""
        joint: FloatArray = self.joints_m[:, J[name]]
        return joint


def fit_body(track: PoseTrack, rows: IntArray, base: Base) -> BodyMotion:
    """Fit body and camera to the chosen rows of a track.

    Parameters
    ----------
    track
        Landmarks of the athlete.
    rows
        Increasing row numbers around the repetitions; rows without the athlete are left out.
    base
        What holds the athlete: feet on the floor, hands on the pull-up bar, or hands and toes.

    Raises
    ------
    BodyFitError
        The athlete is seen in fewer than eight of the rows.
    """
    seen = np.isfinite(track.world_m[rows, Landmark.LEFT_HIP, 0])
    seen &= np.isfinite(track.image_px[rows, Landmark.LEFT_HIP, 0])
    rows = rows[seen]
    if len(rows) < _FEWEST:
        raise BodyFitError(f"the athlete is seen in {len(rows)} frames of the reps only")
    sample = _facing_alike(track, rows)
    sample = sample[np.unique(np.linspace(0, len(sample) - 1, _SAMPLE).astype(int))]
    whole, misfit = _fit_shared(track, sample, base)
    fitting = sample[misfit <= max(float(np.median(misfit)), _GOOD_FIT)]
    if _FEWEST <= len(fitting) < len(sample):
        whole, _ = _fit_shared(track, fitting, base)
    joints = np.full((track.frames, JOINT_COUNT, 3), np.nan)
    misfit = np.full((track.frames, JOINT_COUNT), np.nan)
    for window in _windows(track.time_s, rows):
        part, part_evidence = _fit_window(track, window, base, whole)
        widths = joint_widths(part.frames, part.shared, part_evidence.proportions)
        flat = part.frames[:, : 2 * JOINT_COUNT].reshape(-1, JOINT_COUNT, 2)
        joints[window] = np.stack([flat[..., 0], widths, flat[..., 1]], axis=-1)
        misfit[window] = _misfit(part, part_evidence)
    return _motion(track, joints, misfit, whole)


def _fit_shared(track: PoseTrack, rows: IntArray, base: Base) -> tuple[Solution, FloatArray]:
    """Fit body and camera to a sample of frames; also how badly each frame fits, (rows,)."""
    evidence = gather_evidence(track, rows, base)
    guess, frames = first_guess(evidence)
    mean, spread = prior(evidence, network_yaw(evidence.world_m))
    # neighbouring frames share their error: the film weighs no more than a few frames would
    spread = spread / math.sqrt(max(len(rows) / _INDEPENDENT, 1.0))
    solution = solve(_problem(evidence, mean, spread), frames, guess)
    return solution, np.sqrt(np.mean(_misfit(solution, evidence) ** 2, axis=1))


def _misfit(solution: Solution, evidence: Evidence) -> FloatArray:
    """Root mean square of the landmark residuals of each frame and joint, (N, joints)."""
    residual = frame_residuals(solution.frames, solution.shared, evidence)
    squares = residual[:, : landmark_columns()].reshape(len(residual), -1, 2) ** 2
    of_joint = [squares[:, joint == POINT_JOINT].mean(axis=(1, 2)) for joint in range(JOINT_COUNT)]
    misfit: FloatArray = np.sqrt(np.stack(of_joint, axis=1))
    return misfit


def _fit_window(
    track: PoseTrack, window: IntArray, base: Base, whole: Solution
) -> tuple[Solution, Evidence]:
    evidence = gather_evidence(track, window, base)
    _, frames = first_guess(evidence)
    mean = whole.shared.copy()
    spread = np.zeros(len(GLOBALS))
    yaw = network_yaw(evidence.world_m)
    turned = (yaw - mean[G["yaw"]] + math.pi) % (2 * math.pi) - math.pi
    if abs(turned) > _TURNED:
        mean[G["yaw"]] = yaw
    spread[G["yaw"]] = _YAW_WANDER / math.sqrt(max(len(window) / _INDEPENDENT, 1.0))
    return solve(_problem(evidence, mean, spread), frames, mean.copy(), iterations=15), evidence


def _problem(evidence: Evidence, mean: FloatArray, spread: FloatArray) -> Problem:
    acceleration = np.full(PER_FRAME, 15.0)
    acceleration[SHIFT] = 3.0
    acceleration[WIDTHS] = 5.0
    return Problem(
        residuals=lambda frames, shared: frame_residuals(frames, shared, evidence),
        robust_columns=landmark_columns(),
        time_s=evidence.time_s,
        acceleration=acceleration,
        prior_mean=mean,
        prior_spread=spread,
    )


def _facing_alike(track: PoseTrack, rows: IntArray) -> IntArray:
    """Rows in which the athlete faces the way they mostly do."""
    usual = network_yaw(track.world_m[rows])
    alike = [
        row
        for row in rows
        if math.cos(network_yaw(track.world_m[row : row + 1]) - usual) > math.cos(_TURNED)
    ]
    return np.array(alike) if len(alike) >= _FEWEST else rows


def _windows(time_s: FloatArray, rows: IntArray) -> list[IntArray]:
    """Cut rows where time jumps, and into pieces whose cost stays small."""
    breaks = np.flatnonzero(np.diff(time_s[rows]) > _GAP_S) + 1
    pieces: list[IntArray] = []
    for stretch in np.split(rows, breaks):
        pieces += np.array_split(stretch, max(1, math.ceil(len(stretch) / _WINDOW)))
    return pieces


def _joint_sureness(track: PoseTrack) -> FloatArray:
    points = landmark_sureness(track)[:, POINT_LANDMARKS]
    best: FloatArray = np.stack(
        [points[:, joint == POINT_JOINT].max(axis=1) for joint in range(JOINT_COUNT)], axis=1
    )
    return best


def _motion(
    track: PoseTrack, joints: FloatArray, misfit: FloatArray, whole: Solution
) -> BodyMotion:
    shared = whole.shared
    u = np.sqrt(np.maximum(np.diag(whole.shared_covariance), 0.0))
    return BodyMotion(
        time_s=track.time_s,
        joints_m=joints,
        joint_misfit=misfit,
        joint_sureness=_joint_sureness(track),
        camera=CameraFit(
            distance_m=math.exp(shared[G["log_distance"]]),
            height_m=float(shared[G["height"]]),
            height_u_m=float(u[G["height"]]),
            tilt_deg=math.degrees(shared[G["tilt"]]),
            tilt_u_deg=math.degrees(u[G["tilt"]]),
            roll_deg=math.degrees(shared[G["roll"]]),
            focal_px=math.exp(shared[G["log_focal"]]),
        ),
        yaw_deg=math.degrees(shared[G["yaw"]]),
        yaw_u_deg=math.degrees(u[G["yaw"]]),
        stature_m=STATURE_M,
        stature_u_m=STATURE_M * STATURE_SPREAD,
        shared=shared,
    )
