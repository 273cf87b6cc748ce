"""Fit the athlete model to attempts: the most likely athlete, and draws of how sure that is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from counting.pacing.model.athlete import (
    BREAK_SPREAD,
    FORMS,
    LEAST_RHYTHM_NOISE,
    TRANSITION_S,
    TRANSITION_SPREAD,
    Athletes,
    Form,
    Space,
    athletes_at,
    space_for,
)
from counting.pacing.model.attempt import Attempt
from counting.pacing.model.day import Noise
from counting.pacing.model.gaps import shortest_gap_draws
from counting.pacing.model.known import TYPED_GAP_SPREAD, Known
from counting.pacing.model.population import population_after
from counting.pacing.model.refusals import refused_draws
from counting.pacing.model.replay import replay
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.model.typed import LUCK, draws_after

SET_SPREAD = 0.05
"""Spread (log scale) by which a whole set runs faster or slower than any model says: reps of one
set err together, so that many reps do not make a wrong form look sure (common practice)."""

UNSEEN_DRAWS = 3
STARTS = 200
LEAST_WEIGHT = 0.1
PRIOR_WEIGHT: dict[Form, float] = {"linear": 0.25, "exponential": 0.25, "two-phase": 0.5}
"""Belief in each form before anything was seen: two phases are what measurements of recovery show
(Chorley et al. 2022), with constants that are not an athlete's own."""


@dataclass(frozen=True)
class FormFit:
    """Fit of one form of recovery.

    Attributes
    ----------
    best
        Scores of the most likely athlete, shape ``(P,)``.
    scores
        Draws from the posterior, shape ``(n, P)``.
    draws
        The same as athletes, with draws of breaks, transition and rhythm noise.
    typical
        The most likely athlete as a batch of one.
    log_evidence
        How well the form foretold the attempts, up to a constant shared by the forms.
    """

    form: Form
    best: FloatArray
    scores: FloatArray
    draws: Athletes
    typical: Athletes
    log_evidence: float


@dataclass(frozen=True)
class AthleteFit:
    """What is believed of one athlete after some attempts, under every form."""

    space: Space
    attempts: tuple[Attempt, ...]
    known: Known
    forms: tuple[FormFit, ...]

    @property
    def noise(self) -> Noise:
        """Differences to the next attempt: the attempts seen had a form of the day of their own."""
        form_of_day = Noise().form_of_day
        seen = max(len(self.attempts), 1)
        return Noise(form_of_day=float(form_of_day * np.sqrt(1.0 + 1.0 / seen)))

    @property
    def weights(self) -> dict[Form, float]:
        """How much each form is believed; none is ever dropped: all are only models."""
        evidence = np.array([form.log_evidence for form in self.forms])
        weight = np.exp(evidence - np.max(evidence))
        weight *= [PRIOR_WEIGHT[form.form] for form in self.forms]
        weight = LEAST_WEIGHT + (1.0 - LEAST_WEIGHT * len(weight)) * weight / np.sum(weight)
        return {form.form: float(share) for form, share in zip(self.forms, weight, strict=True)}

    def draws(self, count: int, seed: int) -> Athletes:
        """Draw athletes of every form, as many of each as it is believed."""
        random = np.random.default_rng(seed)
        ends = np.round(count * np.cumsum(list(self.weights.values()))).astype(np.int64)
        sizes = np.diff(ends, prepend=0)
        parts = [
            form.draws.take(np.resize(random.permutation(len(form.draws)), size))
            for form, size in zip(self.forms, sizes, strict=True)
        ]
        return joined(parts)


def fit_athlete(
    attempts: Sequence[Attempt],
    movements: Sequence[str] = (),
    known: Known | None = None,
    seed: int = 0,
    draws: int = 300,
    forms: Sequence[Form] = FORMS,
    at_kg: Mapping[str, float] | None = None,
) -> AthleteFit:
    """Fit every form of the athlete model, or only the ones asked for.

    Parameters
    ----------
    attempts
        None, one or several; none gives the usual athlete with its full spread.
    movements
        Movements that are to be planned beside those seen.
    known
        What was typed in.
    seed, draws
        Of the draws from the posterior, per form; without an attempt, where they cost little, there
        are several times as many, and of one luck.
    forms
        Which forms of recovery to fit.
    at_kg
        Loads by movement that unbroken sets are meant for; the usual one where there is no entry.

    Raises
    ------
    PacingError
        A movement has no loads.

    Notes
    -----
    The maximum of the posterior is found by least squares from the best of some draws; draws from
    the whole posterior are made by `population_after`, without an attempt by `draws_after`.
    Shortest breaks and the transition do not enter the reservoirs' equations and are drawn from
    posteriors of their own.
    """
    known = known or Known()
    seen = [movement for attempt in attempts for movement in attempt.movements]
    space = space_for((*movements, *seen, *known.movements), at_kg, known.refill_factor)
    count, luck = (draws, seed) if attempts else (UNSEEN_DRAWS * draws, LUCK)
    fitted = tuple(
        _fit_form(form, space, attempts, known, np.random.default_rng([luck, index]), count)
        for index, form in enumerate(forms)
    )
    return AthleteFit(space, tuple(attempts), known, fitted)


def joined(parts: Sequence[Athletes]) -> Athletes:
    """Join batches of athletes of the same movements."""
    arrays = {
        name: np.concatenate([part.arrays[name] for part in parts]) for name in parts[0].arrays
    }
    return parts[0].with_arrays(arrays)


def _fit_form(
    form: Form,
    space: Space,
    attempts: Sequence[Attempt],
    known: Known,
    random: np.random.Generator,
    draws: int,
) -> FormFit:
    def residuals(scores: FloatArray) -> FloatArray:
        return _residuals(space, form, np.atleast_2d(scores), attempts, known)

    def slopes(scores: FloatArray) -> FloatArray:
        step = 1e-4
        rows = residuals(np.vstack([scores, scores + step * np.eye(space.size)]))
        gradient: FloatArray = (rows[1:] - rows[0]).T / step
        return gradient

    tries = np.vstack([np.zeros(space.size), random.standard_normal((STARTS, space.size))])
    best = tries[np.argmin(np.sum(residuals(tries) ** 2, axis=1))]
    best = least_squares(
        lambda scores: residuals(scores)[0], best, jac=slopes, xtol=1e-6, ftol=1e-6
    ).x
    if attempts:
        scores, log_evidence = population_after(
            lambda scores: -0.5 * np.sum(residuals(scores)[:, space.size :] ** 2, axis=1),
            space.size,
            draws,
            random,
        )
    else:
        scores = draws_after(lambda s: residuals(s)[:, space.size :], best, draws)
        log_evidence = 0.0  # what is typed in is the same under every form
    athletes = athletes_at(space, scores, form)
    typical = athletes_at(space, best[None, :], form)
    drawn = _with_gaps(athletes, attempts, known, random)
    shared = {
        name: np.median(getattr(drawn, name), axis=0, keepdims=True)
        for name in ("shortest_break_s", "transition_s", "refused")
    }
    return FormFit(
        form=form,
        best=best,
        scores=scores,
        draws=drawn,
        log_evidence=log_evidence,
        typical=replace(typical, **shared),
    )


def _residuals(
    space: Space,
    form: Form,
    scores: FloatArray,
    attempts: Sequence[Attempt],
    known: Known,
) -> FloatArray:
    """Residuals whose half sum of squares is minus the log posterior, shape ``(n, K)``.

    Order: scores (the prior); rep times of each attempt, the normalisation of their density, their
    outcomes; what was typed in.
    """
    athletes = athletes_at(space, scores, form)
    noise = athletes.rhythm_noise[:, None]
    parts = [scores]
    for attempt in attempts:
        run = replay(athletes, attempt)
        missed = np.log([rep.time_s for rep in attempt.reps]) - run.log_time
        whitened, log_determinant = _whitened(missed, attempt, noise)
        weight = np.sqrt(attempt.weight)
        parts += [
            weight * whitened,
            weight * np.sqrt(log_determinant),
            weight * np.sqrt(2.0 * run.surprise),
        ]
    return np.concatenate([*parts, known.residuals(athletes)], axis=1)


def _whitened(
    missed: FloatArray, attempt: Attempt, noise: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Divide errors of rep times by what they vary by, each rep for itself and each set as a whole.

    Returns
    -------
    Residuals of the shape of ``missed``, and the logarithm of the determinant of their covariance
    over that of the least noise, shape ``(n, 1)``; never negative.
    """
    sets = np.array([rep.set_number for rep in attempt.reps])
    whitened = np.empty_like(missed)
    log_determinant = np.zeros((len(missed), 1))
    for number in np.unique(sets):
        own = sets == number
        count = int(np.sum(own))
        mean = np.mean(missed[:, own], axis=1, keepdims=True)
        shared = np.sqrt(noise**2 + count * SET_SPREAD**2)
        whitened[:, own] = (missed[:, own] - mean) / noise + mean / shared
        log_determinant += 2.0 * (count - 1) * np.log(noise / LEAST_RHYTHM_NOISE)
        log_determinant += 2.0 * np.log(shared / LEAST_RHYTHM_NOISE)
    return whitened, np.maximum(log_determinant, 0.0)


def _with_gaps(
    athletes: Athletes, attempts: Sequence[Attempt], known: Known, random: np.random.Generator
) -> Athletes:
    breaks = [gap for attempt in attempts for gap in attempt.breaks()]
    habit = [] if known.rest_s is None else [known.rest_s]
    columns = []
    for load in athletes.loads:
        own = known.movements.get(load.movement)
        typed_s = None if own is None else own.break_s
        gaps_s = [gap_s for movement, gap_s in breaks if movement == load.movement] or habit
        columns.append(
            shortest_gap_draws(
                typed_s or load.break_s,
                TYPED_GAP_SPREAD if typed_s else BREAK_SPREAD,
                np.array(gaps_s),
                random,
                len(athletes),
            )
        )
    between_sets_s = float(np.median([np.median(column) for column in columns]))
    transition = shortest_gap_draws(
        known.changeover_s or TRANSITION_S,
        TYPED_GAP_SPREAD if known.changeover_s else TRANSITION_SPREAD,
        np.array([gap_s for attempt in attempts for gap_s in attempt.transitions_s()]),
        random,
        len(athletes),
        rested_s=(0.0, between_sets_s),
    )
    chances = [np.exp(replay(athletes, attempt).log_chance) for attempt in attempts]
    return replace(
        athletes,
        shortest_break_s=np.column_stack(columns),
        transition_s=transition,
        refused=refused_draws(attempts, chances, athletes, random),
    )
