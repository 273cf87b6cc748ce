"""Clues beside the truth: what calibration learns from."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np
import numpy.typing as npt

from counting.body.motion import BodyMotion, fit_body
from counting.body.sides import settled_sides
from counting.body.skeleton import FloatArray
from counting.checks.judge import stay_clues
from counting.checks.phases import find_stays, rep_rows
from counting.checks.table import entry_name
from counting.lab.body_truth import BodyTruth
from counting.movements.loader import built_in_movements
from counting.movements.types import QUANTITY_APPARATUS, QUANTITY_UNITS, Check
from counting.quantities.clues import CLUES
from counting.quantities.scene import Scene, view_scene
from vision.track import PoseTrack

_WINDOW: Final = {"deg": (35.0, 16.0), "cm": (12.0, 12.0)}
_BINS = 12
_A_BIN = 4
_NEAR_S = 0.4
_GOOD_FIT = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """One check in one film.

    Attributes
    ----------
    key
        Context in the table.
    check
        The check.
    film, body, view_deg
        Where it was seen; the view is the fitted one.
    rep_clues, rep_truth
        (reps, clues) at the deciding stay, NaN where unseen, and (reps,) true values.
    rep_factors
        (reps, clues) error factors there.
    frame_clues, frame_truth
        The same for single frames on the way through the range around the limit; a clue is NaN
        where the body fitted its joints badly.
    """

    key: str
    check: Check
    film: str
    body: str
    view_deg: float
    rep_clues: FloatArray
    rep_truth: FloatArray
    rep_factors: FloatArray
    frame_clues: FloatArray
    frame_truth: FloatArray


def film_samples(
    film: BodyTruth, track: PoseTrack, motion: BodyMotion | None = None
) -> list[Sample]:
    """All checks of a labelled film; ``motion`` spares the fit where it is at hand."""
    track = settled_sides(track)
    if motion is None:
        motion = fit_body(track, rep_rows(track.time_s, film.reps), film.movement.base)
    scene = view_scene(track, motion, film.movement.base)
    base = film.movement.base
    keyed = [(entry_name(c.quantity, base, c.phase), c) for c in film.movement.checks]
    keyed += [(check.quantity, check) for check in _beyond_the_standards(film)]
    samples = [_sample(film, scene, key, check) for key, check in keyed]
    return [sample for sample in samples if sample is not None]


def _beyond_the_standards(film: BodyTruth) -> list[Check]:
    """Quantities no built-in standard asks for, read at the turn: users' standards may ask."""
    asked = {check.quantity for movement in built_in_movements() for check in movement.checks}
    checks = []
    for quantity, unit in QUANTITY_UNITS.items():
        apparatus = QUANTITY_APPARATUS.get(quantity, film.movement.apparatus)
        fits = apparatus == film.movement.apparatus and film.movement.base != "hanging"
        if quantity in asked or not fits:
            continue
        check = Check(
            name=quantity,
            words=quantity,
            quantity=quantity,
            phase="turn",
            read="highest",
            relation="at least",
            limit=0.0,
            unit=unit,
        )
        truth = [film.true_value(rep, check) for rep in film.reps]
        known = [value for value in truth if value is not None]
        if known:
            checks.append(msgspec.structs.replace(check, limit=float(np.median(known))))
    return checks


def _sample(film: BodyTruth, scene: Scene, key: str, check: Check) -> Sample | None:
    clues = CLUES[check.quantity](scene)
    truth = [film.true_value(rep, check) for rep in film.reps]
    if any(value is None for value in truth):
        return None
    stays = find_stays(scene, film.reps, check, clues)
    at_stay, factors = stay_clues(scene.motion, stays, clues)
    time_s = scene.motion.time_s
    near = np.zeros(len(time_s), bool)
    for stay in stays:
        if stay is not None:
            first, last = time_s[stay.rows[[0, -1]]]
            near |= (time_s >= first - _NEAR_S) & (time_s <= last + _NEAR_S)
    misfit = np.stack([scene.motion.misfit_of(joints) for joints in clues.joints], axis=1)
    well_seen = np.where(misfit < _GOOD_FIT, clues.values, np.nan)
    frame_clues, frame_truth = _frames(film, near, check, well_seen)
    return Sample(
        key=key,
        check=check,
        film=film.name,
        body=film.body,
        view_deg=scene.motion.view_deg,
        rep_clues=at_stay,
        rep_truth=np.array(truth, float),
        rep_factors=factors,
        frame_clues=frame_clues,
        frame_truth=frame_truth,
    )


def _frames(
    film: BodyTruth, near: npt.NDArray[np.bool_], check: Check, clues: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Frames on the way into and out of the deciding posture, a few from each part of the range."""
    series = film.true_series(check.quantity)
    if series is None:
        return np.zeros((0, clues.shape[1])), np.zeros(0)
    n = min(len(series), len(clues))
    below, above = _WINDOW[check.unit]
    inside = near[:n] & np.isfinite(clues[:n]).any(axis=1)
    rng = np.random.default_rng(0)
    edges = np.linspace(check.limit - below, check.limit + above, _BINS + 1)
    chosen: list[int] = []
    for low, high in pairwise(edges):
        rows = np.flatnonzero(inside & (series[:n] >= low) & (series[:n] < high))
        chosen += list(rng.permutation(rows)[:_A_BIN])
    rows = np.array(sorted(chosen), int)
    return clues[rows], series[rows]
