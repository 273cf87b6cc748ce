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
from counting.pacing.model.population import population_after
from counting.pacing.model.replay import log_density_of_gaps, replay
from counting.pacing.model.reservoir import FloatArray

USUAL_EXTRA_REST_S = 10.0
GAP_SPREAD = 0.10
TYPED_SPREAD = 0.08
STARTS = 200
LEAST_WEIGHT = 0.1


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
    """What is believed of one athlete after some attempts, under both forms."""

    space: Space
    attempts: tuple[Attempt, ...]
    typed: Mapping[str, float]
    forms: tuple[FormFit, ...]

    @property
    def noise(self) -> Noise:
        """Differences to the next attempt: the attempts seen had a form of the day of their own."""
        form_of_day = Noise().form_of_day
        seen = max(len(self.attempts), 1)
        return Noise(form_of_day=float(form_of_day * np.sqrt(1.0 + 1.0 / seen)))

    @property
    def weights(self) -> dict[Form, float]:
        """How much each form is believed; neither is ever dropped, for both are only models."""
        evidence = np.array([form.log_evidence for form in self.forms])
        weight = np.exp(evidence - np.max(evidence))
        weight = LEAST_WEIGHT + (1.0 - LEAST_WEIGHT * len(weight)) * weight / np.sum(weight)
        return {form.form: float(share) for form, share in zip(self.forms, weight, strict=True)}

    def draws(self, count: int, seed: int) -> Athletes:
        """Draw athletes of both forms, as many of each as it is believed."""
        random = np.random.default_rng(seed)
        ends = np.round(count * np.cumsum(list(self.weights.values()))).astype(np.int64)
        sizes = np.diff(ends, prepend=0)
        parts = [
            form.draws.take(random.integers(0, len(form.draws), size))
            for form, size in zip(self.forms, sizes, strict=True)
        ]
        return joined(parts)


def fit_athlete(
    attempts: Sequence[Attempt],
    movements: Sequence[str] = (),
    typed: Mapping[str, float] | None = None,
    seed: int = 0,
    draws: int = 300,
    forms: Sequence[Form] = FORMS,
) -> AthleteFit:
    """Fit both forms of the athlete model, or only the ones asked for.

    Parameters
    ----------
    attempts
        None, one or several; none gives the usual athlete with its full spread.
    movements
        Movements that are to be planned beside those seen.
    typed
        Unbroken sets given by hand, by movement.
    seed, draws
        Of the draws from the posterior, per form.
    forms
        Which forms of recovery to fit.

    Raises
    ------
    PacingError
        A movement has no loads.

    Notes
    -----
    The maximum of the posterior is found by least squares from the best of some draws; draws from
    the whole posterior are made by `population_after`. Shortest breaks and the
    transition do not enter the reservoirs' equations and are drawn from posteriors of their own.
    """
    typed = dict(typed or {})
    seen = [movement for attempt in attempts for movement in attempt.movements]
    space = space_for((*movements, *seen, *typed))
    fitted = tuple(
        _fit_form(form, space, attempts, typed, np.random.default_rng([seed, index]), draws)
        for index, form in enumerate(forms)
    )
    return AthleteFit(space, tuple(attempts), typed, fitted)


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
    typed: Mapping[str, float],
    random: np.random.Generator,
    draws: int,
) -> FormFit:
    def residuals(scores: FloatArray) -> FloatArray:
        return _residuals(space, form, np.atleast_2d(scores), attempts, typed)

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
    scores, log_evidence = population_after(
        lambda scores: -0.5 * np.sum(residuals(scores)[:, space.size :] ** 2, axis=1),
        space.size,
        draws,
        random,
    )
    exponential = np.full(draws, form == "exponential")
    athletes = athletes_at(space, scores, exponential)
    typical = athletes_at(space, best[None, :], exponential[:1])
    drawn = _with_gaps(athletes, attempts, random)
    shared = {
        name: np.median(getattr(drawn, name), axis=0, keepdims=True)
        for name in ("shortest_break_s", "transition_s")
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
    typed: Mapping[str, float],
) -> FloatArray:
    """Residuals whose half sum of squares is minus the log posterior, shape ``(n, K)``.

    Order: scores (the prior), rep times of all attempts, the normalisation of their density, their
    outcomes, typed capacities.
    """
    athletes = athletes_at(space, scores, np.full(len(scores), form == "exponential"))
    replays = [(attempt, replay(athletes, attempt)) for attempt in attempts]
    noise = athletes.rhythm_noise[:, None]
    reps = sum(len(attempt.reps) for attempt in attempts)
    normalisation = np.sqrt(2.0 * reps * np.log(noise / LEAST_RHYTHM_NOISE))
    times = [
        (np.log([rep.time_s for rep in attempt.reps]) - run.log_time) / noise
        for attempt, run in replays
    ]
    outcomes = [np.sqrt(2.0 * run.surprise) for _, run in replays]
    given = [
        (np.log(athletes.unbroken[:, [athletes.column(name)]]) - np.log(reps)) / TYPED_SPREAD
        for name, reps in typed.items()
    ]
    return np.concatenate([scores, *times, normalisation, *outcomes, *given], axis=1)


def _with_gaps(
    athletes: Athletes, attempts: Sequence[Attempt], random: np.random.Generator
) -> Athletes:
    breaks = [gap for attempt in attempts for gap in attempt.breaks()]
    shortest = np.column_stack(
        [
            _shortest_gap_draws(
                load.break_s,
                BREAK_SPREAD,
                np.array([gap_s for movement, gap_s in breaks if movement == load.movement]),
                random,
                len(athletes),
            )
            for load in athletes.loads
        ]
    )
    moves = np.array([gap_s for attempt in attempts for gap_s in attempt.transitions_s()])
    transition = _shortest_gap_draws(TRANSITION_S, TRANSITION_SPREAD, moves, random, len(athletes))
    return replace(athletes, shortest_break_s=shortest, transition_s=transition)


def _shortest_gap_draws(
    usual_s: float, spread: float, gaps_s: FloatArray, random: np.random.Generator, count: int
) -> FloatArray:
    scores = np.linspace(-4.0, 4.0, 801)
    candidates_s = usual_s * np.exp(spread * scores)
    log_weight = -0.5 * scores**2
    if gaps_s.size:
        log_weight += log_density_of_gaps(candidates_s, gaps_s, USUAL_EXTRA_REST_S, GAP_SPREAD)
    weight = np.cumsum(np.exp(log_weight - np.max(log_weight)))
    draws: FloatArray = np.interp(random.random(count), weight / weight[-1], candidates_s)
    return draws
