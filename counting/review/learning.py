"""Learning the film error of a user's own films from the reps that people decided.

For each movement and view, with c the checks, f the films and i the reps:

    film error of c in f  =  offset of c  +  size of c * (Student's t),   one draw a film
    P(rep i called good)  =  slips / 2  +  (1 - slips) * product over c of P(c met | film errors)

The table's film error holds for any body before any camera. Before looking, half of its variance is
taken to be common to all films of one user, the offset, and half to differ from film to film: then
the two make up the table's error, and where nobody decides anything nothing changes. Offsets, sizes
and the share of calls that slip are found together, at the mode of their distribution; how far the
offset stays unsure (Laplace's approximation) goes back into the size.

Only calls are learnt from, given the readings: which reps people looked at does not matter, so it
does no harm that the flagged ones come first.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit, stdtrit
from scipy.stats import qmc

from counting.body.skeleton import FloatArray
from counting.checks.inference import COMMON_FREEDOM, met_given_error
from counting.checks.table import CalibrationTable, packaged_digest, packaged_table, view_name
from counting.checks.tuning import TunedError, TunedGroup, Tuning, entries_of
from counting.movements.types import Movement
from counting.record.types import CheckPart
from counting.review.sheet import ReviewedRep, ReviewedSheet

FEWEST_REPS: Final = 30
"""Decided reps of a movement and view from which its film error is learnt."""

_OF_THE_USER: Final = 0.5
"""Share of the film error's variance that is common to a user's films, before looking. Nothing
tells it; a half leaves either to be found."""
_SIZE_SPREAD: Final = 0.35
"""Standard deviation of the logarithm of the size, before looking."""
_SLIPS: Final = (-3.5, 1.0)
"""Mean and standard deviation of the logit of the share of calls that slip, before looking: 3 %,
from 0.4 to 18 %."""
MOST_SLIPS: Final = 0.25
"""Share of slips above which calls say nothing of the film error: simulated calls that are tossed
come out at 30 to 50 %, calls of which one in ten is tossed at 7 to 10 %."""
_FARTHEST: Final = 4.0
"""Standard deviations from what was thought before looking that nothing may lead beyond."""
_DRAWS: Final = 128
ERRORS: Final = np.linspace(-6.0, 6.0, 97)
"""Film errors, in scales of the table's, at which a rep's probability is worked out."""
_STEP: Final = 0.02
"""Of each parameter, for second differences: small beside what calls move one by."""


@dataclass(frozen=True, slots=True, eq=False)
class DecidedReps:
    """Reps of one movement from one view that people decided.

    Attributes
    ----------
    entries
        The table's entry of each check; two checks may share one.
    film
        (n,) number of each rep's film.
    good
        (n,) what people called it.
    met
        (checks, n, errors) probability of each check being met, were the film's error so many times
        ``scale`` as `ERRORS` says.
    scale
        (checks,) the table's film error.
    """

    entries: tuple[str, ...]
    film: np.ndarray
    good: np.ndarray
    met: FloatArray
    scale: FloatArray


def learn_tuning(
    sheets: Iterable[ReviewedSheet],
    movements: Mapping[str, Movement],
    table: CalibrationTable | None = None,
) -> Tuning:
    """Learn the film error of each movement and view of which people decided enough reps.

    Parameters
    ----------
    sheets
        Reviewed audits. Those that were read by another calibration are left out, and those of
        several films: their error is no film's.
    movements
        The standards they were judged by, by name.
    table
        Calibration that the readings were made by; the packaged one if None.
    """
    table = packaged_table() if table is None else table
    rows: dict[tuple[str, str], list[tuple[str, ReviewedRep]]] = {}
    for sheet in sheets:
        record = sheet.record
        view = None if record.camera.view_deg is None else view_name(record.camera.view_deg)
        if view is None or record.versions.calibration != packaged_digest() or record.second_views:
            continue
        for rep in sheet.reps:
            movement = movements.get(rep.measured.movement)
            if rep.state == "decided" and movement is not None and _is_read(rep, movement):
                rows.setdefault((movement.name, view), []).append((record.film.sha256, rep))
    groups = []
    for (name, view), reps in sorted(rows.items()):
        if len(reps) >= FEWEST_REPS:
            decided = decided_reps(reps, movements[name], table)
            groups.append(learn_group(name, view, decided))
    return Tuning(calibration=packaged_digest(), groups=tuple(groups))


def _is_read(rep: ReviewedRep, movement: Movement) -> bool:
    """Whether all that a rep has to meet was read: else a call may be about something unread."""
    read = [check.name for check in rep.measured.checks if check.reading is not None]
    asked = [check.name for check in movement.checks]
    return bool(asked) and read == asked and len(rep.measured.checks) == len(asked)


def decided_reps(
    reps: Sequence[tuple[str, ReviewedRep]], movement: Movement, table: CalibrationTable
) -> DecidedReps:
    """Lay out reps of one movement, each with its film's digest, for `learn_group`."""
    entries = entries_of(movement)
    names = [check.name for check in movement.checks]
    known = sorted({film for film, _ in reps})
    met, scale = [], []
    for index, name in enumerate(names):
        checks = [rep.measured.checks[index] for _, rep in reps]
        met_of, scale_of = _met(checks, entries[name], table, len(names))
        met.append(met_of)
        scale.append(scale_of)
    return DecidedReps(
        entries=tuple(entries[name] for name in names),
        film=np.array([known.index(film) for film, _ in reps]),
        good=np.array([rep.verdict == "good" for _, rep in reps]),
        met=np.array(met),
        scale=np.array(scale),
    )


def _met(
    checks: Sequence[CheckPart], entry: str, table: CalibrationTable, of_rep: int
) -> tuple[FloatArray, float]:
    """Probability of one check being met by film error, (n, errors), and the error's scale."""
    calibration = table.entries.get(entry) or table.entries[entry.partition(" / ")[0]]
    readings = [check.reading for check in checks if check.reading is not None]
    scale = float(np.median([reading.film_error for reading in readings]))
    met = met_given_error(
        np.array([reading.value for reading in readings]),
        np.array([reading.own_error for reading in readings]),
        scale * ERRORS,
        calibration.before,
        checks[0].limit,
        checks[0].relation,
        of_rep,
    )
    return met, scale


def learn_group(movement: str, view: str, decided: DecidedReps) -> TunedGroup:
    """Learn offsets and sizes of one movement from one view; none where calls contradict it all."""
    entries = list(dict.fromkeys(decided.entries))
    of_check = np.array([entries.index(entry) for entry in decided.entries])
    k = len(entries)
    draws = _draws(k)

    def cost(free: FloatArray) -> float:
        offset, size, slips = _parameters(free, k)
        before = free[:k] @ free[:k] + free[k : 2 * k] @ free[k : 2 * k] + free[-1] ** 2
        errors = (offset + size * draws)[:, of_check]
        return float(0.5 * before - _log_likelihood(decided, errors, slips))

    start = np.zeros(2 * k + 1)
    found = minimize(cost, start, method="L-BFGS-B", bounds=[(-_FARTHEST, _FARTHEST)] * len(start))
    offset, size, slips = _parameters(found.x, k)
    told = slips <= MOST_SLIPS
    unsure = _parameters(np.sqrt(np.diag(_covariance(cost, found.x))), k)[0]
    scale = {entry: float(np.mean(decided.scale[of_check == j])) for j, entry in enumerate(entries)}
    return TunedGroup(
        movement=movement,
        view=view,
        reps=len(decided.good),
        films=len(np.unique(decided.film)),
        slips=round(float(slips), 3),
        errors=tuple(
            TunedError(
                entry=entry,
                offset=round(float(offset[j]) * scale[entry], 3),
                size=round(float(np.hypot(size[j], unsure[j])), 4),
            )
            for j, entry in enumerate(entries)
            if told
        ),
    )


def _parameters(free: FloatArray, k: int) -> tuple[FloatArray, FloatArray, float]:
    """Offsets and sizes, (entries,) each in scales of the table's film error, and slips.

    ``free`` are standard normal before looking.
    """
    offset = np.sqrt(_OF_THE_USER) * free[:k]
    size = np.sqrt(1.0 - _OF_THE_USER) * np.exp(_SIZE_SPREAD * free[k : 2 * k])
    return offset, size, float(expit(_SLIPS[0] + _SLIPS[1] * free[-1]))


def _draws(k: int) -> FloatArray:
    """(draws, entries) film errors of scale one, spread evenly (Sobol 1967)."""
    even = qmc.Sobol(k, scramble=True, seed=0).random(_DRAWS)
    draws: FloatArray = stdtrit(COMMON_FREEDOM, np.clip(even, 1e-4, 1 - 1e-4))
    return draws


def _log_likelihood(decided: DecidedReps, errors: FloatArray, slips: float) -> float:
    """Of all calls, given (draws, checks) equally likely film errors."""
    place = np.clip((errors - ERRORS[0]) / (ERRORS[1] - ERRORS[0]), 0.0, len(ERRORS) - 1.001)
    lower = place.astype(int)
    part = place - lower
    good = np.ones((len(decided.good), len(errors)))
    for check, met in enumerate(decided.met):
        low, share = lower[:, check], part[:, check]
        good *= (1.0 - share) * met[:, low] + share * met[:, low + 1]
    called_good = slips / 2.0 + (1.0 - slips) * good
    called = np.log(np.where(decided.good[:, None], called_good, 1.0 - called_good))
    total = 0.0
    for film in np.unique(decided.film):
        of_film = called[decided.film == film].sum(axis=0)
        total += float(np.logaddexp.reduce(of_film)) - np.log(len(errors))
    return total


def _covariance(cost: Callable[[FloatArray], float], at: FloatArray) -> FloatArray:
    """Inverse of the cost's second derivatives at its minimum (Laplace's approximation)."""
    n = len(at)
    steps = _STEP * np.eye(n)
    second = np.array(
        [
            [
                cost(at + a + b) - cost(at + a - b) - cost(at - a + b) + cost(at - a - b)
                for b in steps
            ]
            for a in steps
        ]
    ) / (4 * _STEP**2)
    values, vectors = np.linalg.eigh((second + second.T) / 2)
    # No call can make a parameter less sure than it was before looking.
    covariance: FloatArray = (vectors / np.maximum(values, 1.0)) @ vectors.T
    return covariance
