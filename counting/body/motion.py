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
    gather_evidence,
    guess_frames,
    guess_shared,
    landmark_sureness,
    network_yaw,
    network_yaws,
    prior,
)
from counting.body.normal import BodyTerms
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
from counting.body.solve import Problem, Solution, covariance_of_shared, solve
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

IntArray = npt.NDArray[np.int64]

STATURE_SPREAD: Final = 0.055
"""Standard deviation of adult stature as a share of itself: common practice, no source."""

_SAMPLE = 240
_ROUGH = 60
_INDEPENDENT = 12
_WINDOW = 300
_SIDE_BY_SIDE = 3
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
    evidence = gather_evidence(track, base)
    sample = _facing_alike(track, rows)
    sample = sample[np.unique(np.linspace(0, len(sample) - 1, _SAMPLE).astype(int))]
    whole = _fit_shared(evidence.of(sample[:: math.ceil(len(sample) / _ROUGH)]), None)
    whole = _fit_shared(evidence.of(sample), whole)
    fitting = whole.misfit <= max(float(np.median(whole.misfit)), _GOOD_FIT)
    if _FEWEST <= fitting.sum() < len(sample):
        whole = _fit_shared(evidence.of(sample[fitting]), whole)
    joints = np.full((track.frames, JOINT_COUNT, 3), np.nan)
    misfit = np.full((track.frames, JOINT_COUNT), np.nan)
    windows = _windows(track.time_s, rows)
    for first in range(0, len(windows), _SIDE_BY_SIDE):
        some = windows[first : first + _SIDE_BY_SIDE]
        chosen = np.concatenate(some)
        joints[chosen], misfit[chosen] = _fit_windows(evidence, some, whole)
    return _motion(track, joints, misfit, whole)


@dataclass(frozen=True, slots=True, eq=False)
class _Whole:
    """Body and camera of the whole film, fitted to a sample of its frames.

    Attributes
    ----------
    shared, covariance
        (g,) and (g, g) shared unknowns.
    misfit
        (N,) of each sample frame.
    network
        (N, n) the network's metric guess in each sample frame.
    correction
        (N, K) what the fit added to the frame unknowns guessed from it.
    """

    shared: FloatArray
    covariance: FloatArray
    misfit: FloatArray
    network: FloatArray
    correction: FloatArray

    def start(self, evidence: Evidence) -> FloatArray:
        """Guess frame unknowns, (M, K): what the network errs in one posture it errs in alike.

        That holds for what the picture shows; depth, of which there may be two, is left to it.
        """
        unlike = (self.network**2).sum(axis=1) - 2 * _network(evidence) @ self.network.T
        corrected: FloatArray = guess_frames(evidence, self.shared)
        shown = np.ones(PER_FRAME)
        shown[0 : 2 * JOINT_COUNT : 2] = abs(math.sin(self.shared[G["yaw"]]))
        shown[SHIFT:] = abs(math.cos(self.shared[G["yaw"]]))
        corrected += shown * self.correction[np.argmin(unlike, axis=1)]
        return corrected


def _network(evidence: Evidence) -> FloatArray:
    points = evidence.world_m[:, POINT_LANDMARKS]
    return np.nan_to_num(points).reshape(len(points), -1)


def _fit_shared(evidence: Evidence, rough: _Whole | None) -> _Whole:
    """Fit body and camera to a sample of frames, from a rougher fit where there is one."""
    count = len(evidence.time_s)
    guess = guess_shared(evidence) if rough is None else rough.shared
    frames = guess_frames(evidence, guess) if rough is None else rough.start(evidence)
    mean, spread = prior(evidence, network_yaw(evidence.world_m))
    # neighbouring frames share their error: the film weighs no more than a few frames would
    spread = spread / math.sqrt(max(count / _INDEPENDENT, 1.0))
    scale = np.full(count, evidence.pixel_per_m)
    starts = np.zeros(1, dtype=np.int64)
    terms, problem = _problem(evidence, scale, starts, mean[None], spread[None])
    solution = solve(problem, frames, guess[None])
    misfit = np.sqrt(np.mean(_misfit(terms, solution, np.repeat(0, count)) ** 2, axis=1))
    return _Whole(
        shared=solution.shared[0],
        covariance=covariance_of_shared(problem, solution)[0],
        misfit=misfit,
        network=_network(evidence),
        correction=solution.frames - guess_frames(evidence, solution.shared[0]),
    )


def _misfit(terms: BodyTerms, solution: Solution, window: IntArray) -> FloatArray:
    """Root mean square of the landmark residuals of each frame and joint, (N, joints)."""
    rows = np.arange(len(window))
    squares = terms.landmark_misses(solution.frames, solution.shared[window], rows) ** 2
    of_joint = [squares[:, joint == POINT_JOINT].mean(axis=(0, 1)) for joint in range(JOINT_COUNT)]
    misfit: FloatArray = np.sqrt(np.stack(of_joint, axis=1))
    return misfit


def _fit_windows(
    evidence: Evidence, windows: Sequence[IntArray], whole: _Whole
) -> tuple[FloatArray, FloatArray]:
    """Joints (N, joints, 3) and misfit (N, joints) in the frames of some windows."""
    shared = whole.shared
    frames, scales, means, spreads = [], [], [], []
    for rows in windows:
        part = evidence.of(rows)
        frames.append(whole.start(part))
        scales.append(np.full(len(rows), part.pixel_per_m))
        yaw = network_yaw(part.world_m)
        turned = (yaw - shared[G["yaw"]] + math.pi) % (2 * math.pi) - math.pi
        mean = shared.copy()
        if abs(turned) > _TURNED:
            mean[G["yaw"]] = yaw
        means.append(mean)
        spread = np.zeros(len(GLOBALS))
        spread[G["yaw"]] = _YAW_WANDER / math.sqrt(max(len(rows) / _INDEPENDENT, 1.0))
        spreads.append(spread)
    lengths = [len(rows) for rows in windows]
    starts = np.cumsum([0, *lengths[:-1]])
    terms, problem = _problem(
        evidence.of(np.concatenate(windows)),
        np.concatenate(scales),
        starts,
        np.stack(means),
        np.stack(spreads),
    )
    solution = solve(problem, np.concatenate(frames), np.stack(means), iterations=15)
    window = np.repeat(np.arange(len(windows)), lengths)
    widths = joint_widths(solution.frames.T, solution.shared[window].T, evidence.proportions).T
    flat = solution.frames[:, : 2 * JOINT_COUNT].reshape(-1, JOINT_COUNT, 2)
    joints = np.stack([flat[..., 0], widths, flat[..., 1]], axis=-1)
    return joints, _misfit(terms, solution, window)


def _problem(
    evidence: Evidence,
    pixel_per_m: FloatArray,
    starts: IntArray,
    mean: FloatArray,
    spread: FloatArray,
) -> tuple[BodyTerms, Problem]:
    acceleration = np.full(PER_FRAME, 15.0)
    acceleration[SHIFT] = 3.0
    acceleration[WIDTHS] = 5.0
    free = [name for name, place in G.items() if spread[0, place] > 0]
    terms = BodyTerms(evidence, pixel_per_m, free)
    problem = Problem(
        cost=terms.cost,
        normal=terms.normal,
        time_s=evidence.time_s,
        starts=starts,
        acceleration=acceleration,
        prior_mean=mean,
        prior_spread=spread,
    )
    return terms, problem


def _facing_alike(track: PoseTrack, rows: IntArray) -> IntArray:
    """Rows in which the athlete faces the way they mostly do."""
    usual = network_yaw(track.world_m[rows])
    turned = network_yaws(track.world_m[rows]) - usual
    alike: IntArray = rows[np.cos(turned) > math.cos(_TURNED)]
    return alike if len(alike) >= _FEWEST else rows


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


def _motion(track: PoseTrack, joints: FloatArray, misfit: FloatArray, whole: _Whole) -> BodyMotion:
    shared = whole.shared
    u = np.sqrt(np.maximum(np.diag(whole.covariance), 0.0))
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
