"""Reading the reps of one film: the body is fitted, and each check's features are taken from it.

What is read depends on no limit and on no calibration: calibration learns from the same readings
that users' films are judged by.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.body.evidence import View
from counting.body.kept import KeptFits
from counting.body.motion import BodyMotion, find_body
from counting.body.sides import settled_sides
from counting.body.skeleton import FloatArray
from counting.checks.phases import BoolArray, Stay, deciding_rows, find_stays, rep_rows
from counting.checks.table import error_factor
from counting.movements.types import Check, Movement
from counting.quantities.features import FEATURES, Features
from counting.quantities.scene import Scene, view_scene
from counting.reps.types import Rep
from vision.track import PoseTrack

BENT_UNSEEN: Final = 3.0
"""Error factor from which a joint's bend is not read. On labelled films features of bends followed
misses by 0.8 below it and by 0.1 to 0.3 above; heights and distances followed at any factor."""


@dataclass(frozen=True, slots=True, eq=False)
class CheckClues:
    """Features of one check at the deciding moment of each rep.

    Attributes
    ----------
    check
        The check.
    stays
        (reps) the deciding frames; None where the body was hidden or lost.
    features, factors
        (reps, features) features, NaN where nothing was seen, and how many times larger than usual
        each one's error is.
    """

    check: Check
    stays: tuple[Stay | None, ...]
    features: FloatArray
    factors: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class FilmReading:
    """All checks of all reps of one movement in one film, with the fitted body."""

    scene: Scene
    checks: tuple[CheckClues, ...]

    @property
    def motion(self) -> BodyMotion:
        """The fitted body and camera."""
        return self.scene.motion


def read_film(
    track: PoseTrack,
    reps: Sequence[Rep],
    movement: Movement,
    checks: Sequence[Check],
    kept: KeptFits | None = None,
    also: BoolArray | None = None,
    others: Sequence[View] = (),
) -> FilmReading:
    """Fit the body to the frames that decide, and take each check's features.

    Parameters
    ----------
    track
        Landmarks of the athlete.
    reps
        The reps of this movement, in film order.
    movement, checks
        What is done, and what is read.
    kept
        Fits of earlier audits; None to make and keep none.
    also
        (N,) frames around the reps that are to be fitted besides those that decide.
    others
        What further cameras saw at the track's times.

    Raises
    ------
    counting.body.motion.BodyFitError
        The athlete is hardly seen.
    """
    track = settled_sides(track)
    body = find_body(track, rep_rows(track.time_s, reps), movement.base, kept, others)
    scene = view_scene(track, body.unfitted, movement.base)
    deciding = deciding_rows(scene, reps, checks)
    if also is not None:
        deciding |= also
    scene = replace(scene, motion=body.fitted(deciding))
    features = {name: FEATURES[name](scene) for name in {check.quantity for check in checks}}
    return FilmReading(
        scene,
        tuple(_check_features(scene, features[check.quantity], reps, check) for check in checks),
    )


def _check_features(
    scene: Scene, features: Features, reps: Sequence[Rep], check: Check
) -> CheckClues:
    stays = find_stays(scene, reps, check, features)
    return CheckClues(check, tuple(stays), *stay_features(scene.motion, stays, features))


def stay_features(
    motion: BodyMotion, stays: Sequence[Stay | None], features: Features
) -> tuple[FloatArray, FloatArray]:
    """Features at each stay and their error factors, (stays, features), NaN where nothing was seen.

    The network draws a joint that it cannot see as straight as it usually is. Such a feature does
    not scatter, it stands still, and would outvote what does move: it is no reading.
    """
    at_stay = np.full((len(stays), features.values.shape[1]), np.nan)
    factors = np.full_like(at_stay, np.nan)
    known = [index for index, stay in enumerate(stays) if stay is not None]
    rows = [stay.rows for stay in stays if stay is not None]
    if not rows:
        return at_stay, factors
    edges = np.cumsum([len(some) for some in rows])[:-1]
    joined = np.concatenate(rows)
    misfit = np.stack([motion.misfit_of(joints, joined) for joints in features.joints], axis=1)
    of_stays = zip(
        known, np.split(features.values[joined], edges), np.split(misfit, edges), strict=True
    )
    for index, values, misfits in of_stays:
        at_stay[index] = _medians(values)
        factors[index] = _medians(misfits)
    factors = error_factor(factors)
    at_stay[(factors > BENT_UNSEEN) & np.array(features.bends)] = np.nan
    return at_stay, factors


def _medians(values: FloatArray) -> FloatArray:
    """Median of each column, NaN where any is: as the library's, which takes ten times longer."""
    ordered = np.sort(values, axis=0)
    middle = len(values) // 2
    lower = ordered[middle] if len(values) % 2 else ordered[middle - 1]
    return np.where(np.isnan(ordered[-1]), np.nan, (lower + ordered[middle]) / 2)
