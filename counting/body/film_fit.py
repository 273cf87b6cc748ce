"""Fitting body and camera to a film, first to a sample of its frames, then to the frames asked for.

What the frames share is found once, from a sample. A frame is then a small problem of its own, tied
to its neighbours by smoothness alone, so that only frames that matter have to be fitted.
"""

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.body.bearings import bearings_seen
from counting.body.cameras import relative
from counting.body.evidence import (
    Evidence,
    guess_frames,
    guess_shared,
    network_yaw,
    network_yaws,
    prior,
)
from counting.body.normal import BodyTerms
from counting.body.skeleton import (
    FREE_WIDTH_OF,
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
from vision.cores import core_count

IntArray = npt.NDArray[np.int64]

FEWEST: Final = 8
"""Fewer frames than this tell nothing of body and camera."""

_SAMPLE: Final = 240
_ROUGH: Final = 60
"""Frames that camera and view are sought in, and those for the first rough try: the time that a fit
takes is in proportion."""
_NEARLY: Final = 1e-2
_CLOSELY: Final = 4e-3
_WELL: Final = 1e-3
"""Share of the cost by which a step must still lower it: for a first try, for single frames and for
what all frames share."""
_INDEPENDENT: Final = 12
"""Neighbouring frames that count as one: their errors are alike."""
_WINDOW: Final = 300
_AT_ONCE: Final = 900
"""Frames solved together at most, and worked out side by side: memory and time, hardly the result,
depend on it."""
_GAP_S: Final = 0.5
"""Between two frames, over which a body's motion is not carried on."""
_TIED_S: Final = 0.4
"""Between the frames on either side of one, beyond which they do not hold its joints."""
_GOOD_FIT: Final = 0.6
"""Misfit in landmark errors below which a frame is always kept in the sample."""
_AS_WELL: Final = 1.3
"""Misfit of one body in all pictures over the worst of a body for each, up to which one explains
all. All of these are chosen, not measured."""
_CLEARLY: Final = 0.8
"""Of a symmetric body both ways fit, the wrong one hardly worse where cameras stand alike."""
_TURNED: Final = math.radians(30.0)
"""Direction by which frames face another way than the film's usual."""
_YAW_WANDER: Final = math.radians(4.0)
"""By which the direction of an athlete who stays wanders, standard deviation (chosen, not
measured)."""
_HELD: Final = 0.3
"""Acceleration, m/s2, of a hand along the bar that it holds: it stays where it is. Two cameras see
the elbow well enough to gain by it; of one the table was learnt without."""


def exchange_sides(evidence: Evidence, rows: IntArray) -> Evidence:
    """Change left and right over in further pictures where the body then fits better.

    From far away a network takes a front for a back, and that for a whole film. Then left in one
    picture is right in the other, and no body and cameras explain both well.
    """
    for index in range(len(evidence.others)):
        changed = list(evidence.others)
        changed[index] = changed[index].mirrored()
        other_way = replace(evidence, others=tuple(changed))
        some = rows[np.unique(np.linspace(0, len(rows) - 1, _ROUGH).astype(int))]
        told, alone = _fit_rough(evidence.of(some))
        if _is_explained(told, alone):
            continue
        turned, _ = _fit_rough(other_way.of(some))
        if turned.rms() < _CLEARLY * told.rms():
            evidence = other_way
    return evidence


def fit_film(evidence: Evidence, rows: IntArray) -> "FilmFit":
    """Fit what the frames share to a sample of the rows."""
    sample = _facing_alike(evidence.view.world_m, rows)
    sample = sample[np.unique(np.linspace(0, len(sample) - 1, _SAMPLE).astype(int))]
    rough = evidence.of(sample[:: math.ceil(len(sample) / _ROUGH)])
    whole, _ = _fit_rough(rough)
    whole = _fit_shared(evidence.of(sample), whole, None, _WELL)
    fitting = whole.misfit <= max(float(np.median(whole.misfit)), _GOOD_FIT)
    if fitting.sum() < FEWEST:
        fitting[:] = True
    return _fit_shared(evidence.of(sample[fitting]), whole, whole.frames[fitting], _WELL)


def _fit_rough(evidence: Evidence) -> "tuple[FilmFit, Sequence[FilmFit]]":
    """Fit a few frames, those of several cameras from what each says alone and both together.

    Also returns the fits to what each camera saw alone.
    """
    alone = [_fit_shared(one, None, None, _NEARLY) for one in evidence.alone()]
    if len(alone) == 1:
        return alone[0], alone
    first, *others = (fit.shared for fit in alone)
    frames = np.mean([fit.frames for fit in alone], axis=0)
    fit = _fit_shared(evidence, None, frames, _NEARLY, relative(first, others))
    if not _is_explained(fit, alone):
        turned = relative(first, list(bearings_seen(evidence, first, others)))
        again = _fit_shared(evidence, None, frames, _NEARLY, turned)
        fit = min(fit, again, key=FilmFit.rms)
    return fit, alone


def _is_explained(fit: "FilmFit", alone: "Sequence[FilmFit]") -> bool:
    """Whether one body explains all pictures about as well as one each explains its own."""
    return fit.rms() <= _AS_WELL * max(one.rms() for one in alone)


@dataclass(frozen=True, slots=True, eq=False)
class FilmFit:
    """Body and camera of the whole film, fitted to a sample of its frames.

    Attributes
    ----------
    shared, covariance
        (g,) and (g, g) shared unknowns.
    frames
        (N, K) unknowns of each sample frame.
    hands_up_m
        Usual height of the hands in the sample.
    misfit
        (N,) of each sample frame.
    network
        (N, n) the network's metric guess in each sample frame.
    correction
        (N, K) what the fit added to the frame unknowns guessed from it.
    """

    shared: FloatArray
    covariance: FloatArray
    frames: FloatArray
    hands_up_m: float
    misfit: FloatArray
    network: FloatArray
    correction: FloatArray

    def rms(self) -> float:
        """Root mean square misfit of the sample."""
        return float(np.sqrt(np.mean(self.misfit**2)))

    def start(self, evidence: Evidence) -> FloatArray:
        """Guess frame unknowns, (M, K): what the network errs in one posture it errs in alike.

        That holds for what the picture shows; depth, of which there may be two, is left to it.
        """
        unlike = (self.network**2).sum(axis=1) - 2 * _network(evidence) @ self.network.T
        corrected: FloatArray = guess_frames(evidence, self.shared)
        shown = np.ones(PER_FRAME)
        shown[0 : 2 * JOINT_COUNT : 2] = abs(math.sin(self.shared[G["yaw"]]))
        shown[SHIFT:] = abs(math.cos(self.shared[G["yaw"]]))
        if evidence.others:
            shown[:] = 1.0  # several views show depth, too
        corrected += shown * self.correction[np.argmin(unlike, axis=1)]
        return corrected


def _network(evidence: Evidence) -> FloatArray:
    points = evidence.view.world_m[:, POINT_LANDMARKS]
    return np.nan_to_num(points).reshape(len(points), -1)


def _fit_shared(
    evidence: Evidence,
    rough: FilmFit | None,
    frames: FloatArray | None,
    enough_gain: float,
    guess: FloatArray | None = None,
) -> FilmFit:
    """Fit body and cameras to a sample of frames, from a rougher fit and frames where there are."""
    count = len(evidence.time_s)
    if guess is None:
        guess = guess_shared(evidence) if rough is None else rough.shared
    if frames is None:
        frames = guess_frames(evidence, guess) if rough is None else rough.start(evidence)
    mean, spread = prior(evidence)
    # neighbouring frames share their error: the film weighs no more than a few frames would
    spread = spread / math.sqrt(max(count / _INDEPENDENT, 1.0))
    scale = np.full(count, evidence.view.pixel_per_m)
    starts = np.zeros(1, dtype=np.int64)
    terms, problem = _problem(evidence, scale, starts, mean[None], spread[None])
    solution = solve(problem, frames, guess[None], enough_gain=enough_gain)
    misfit = np.sqrt(np.mean(_misfit(terms, solution, np.repeat(0, count)) ** 2, axis=1))
    return FilmFit(
        shared=solution.shared[0],
        covariance=covariance_of_shared(problem, solution)[0],
        frames=solution.frames,
        hands_up_m=float(np.median(solution.frames[:, 2 * J["wrist"] + 1])),
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


def fit_frames(
    evidence: Evidence, whole: FilmFit, rows: IntArray, wanted: npt.NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    """Fit frames given what they share, some windows on each core.

    Windows have nothing in common: results are the same for any number of cores, bit for bit.

    Parameters
    ----------
    evidence, whole
        The film, and what was found of it.
    rows
        Increasing rows around the reps.
    wanted
        (N,) which of the film's rows to fit; those outside ``rows`` are not.

    Returns
    -------
    joints_m, misfit
        (N, joints, 3) and (N, joints), NaN in rows that were not fitted.
    """
    count = len(evidence.time_s)
    joints = np.full((count, JOINT_COUNT, 3), np.nan)
    misfit = np.full((count, JOINT_COUNT), np.nan)
    windows = [window for window in _windows(evidence.time_s, rows) if wanted[window].any()]
    sizes = np.cumsum([int(wanted[window].sum()) for window in windows])

    def fit_batch(batch: IntArray) -> None:
        some = [windows[index] for index in batch]
        chosen = np.concatenate([window[wanted[window]] for window in some])
        joints[chosen], misfit[chosen] = _fit_windows(evidence, some, wanted, whole)

    batches = np.split(np.arange(len(windows)), _borders(sizes))
    with ThreadPoolExecutor(min(len(batches), core_count())) as threads:
        list(threads.map(fit_batch, batches if windows else []))
    return joints, misfit


def _borders(sizes: IntArray) -> IntArray:
    """Where to part windows, given their summed sizes, into batches of about `_AT_ONCE` frames."""
    borders: IntArray = np.flatnonzero(np.diff(sizes // _AT_ONCE)) + 1
    return borders


def _fit_windows(
    evidence: Evidence,
    windows: Sequence[IntArray],
    wanted: npt.NDArray[np.bool_],
    whole: FilmFit,
) -> tuple[FloatArray, FloatArray]:
    """Joints (N, joints, 3) and misfit (N, joints) in the wanted frames of some windows."""
    shared = whole.shared
    lengths = [int(wanted[rows].sum()) for rows in windows]
    scales, means, spreads = [], [], []
    for rows, length in zip(windows, lengths, strict=True):
        part = evidence.of(rows)
        scales.append(np.full(length, part.view.pixel_per_m))
        yaw = network_yaw(part.view.world_m)
        turned = (yaw - shared[G["yaw"]] + math.pi) % (2 * math.pi) - math.pi
        mean = shared.copy()
        if abs(turned) > _TURNED:
            mean[G["yaw"]] = yaw
        means.append(mean)
        spread = np.zeros(len(shared))
        spread[G["yaw"]] = _YAW_WANDER / math.sqrt(max(length / _INDEPENDENT, 1.0))
        spreads.append(spread)
    chosen = np.concatenate(windows)
    part = evidence.of(chosen[wanted[chosen]])
    starts = np.cumsum([0, *lengths[:-1]])
    terms, problem = _problem(
        part, np.concatenate(scales), starts, np.stack(means), np.stack(spreads)
    )
    solution = solve(
        problem, whole.start(part), np.stack(means), iterations=15, enough_gain=_CLOSELY
    )
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
    if evidence.others and evidence.base == "hanging":
        acceleration[FREE_WIDTH_OF[J["wrist"]]] = _HELD
    terms = BodyTerms(evidence, pixel_per_m, np.flatnonzero(spread[0] > 0).tolist())
    problem = Problem(
        cost=terms.cost,
        normal=terms.normal,
        time_s=evidence.time_s,
        starts=starts,
        acceleration=acceleration,
        prior_mean=mean,
        prior_spread=spread,
        tied_s=_TIED_S,
    )
    return terms, problem


def _facing_alike(world_m: FloatArray, rows: IntArray) -> IntArray:
    """Rows in which the athlete faces the way they mostly do."""
    usual = network_yaw(world_m[rows])
    turned = network_yaws(world_m[rows]) - usual
    alike: IntArray = rows[np.cos(turned) > math.cos(_TURNED)]
    return alike if len(alike) >= FEWEST else rows


def _windows(time_s: FloatArray, rows: IntArray) -> list[IntArray]:
    """Cut rows where time jumps, and into pieces whose cost stays small."""
    breaks = np.flatnonzero(np.diff(time_s[rows]) > _GAP_S) + 1
    pieces: list[IntArray] = []
    for stretch in np.split(rows, breaks):
        pieces += np.array_split(stretch, max(1, math.ceil(len(stretch) / _WINDOW)))
    return pieces
