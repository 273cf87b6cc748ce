"""How likely a film's reps are under a batch of athletes, replayed with their own times."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import log_ndtr, ndtr

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.exertion import (
    SET_FADE_S,
    Work,
    cycle_time_s,
    drain,
    levels_of,
    rep_cost,
    rested,
    success_score,
    whole_cost,
    work_of,
)
from counting.pacing.model.refusals import reasons_of
from counting.pacing.model.reservoir import FloatArray

KEPT_IN_RESERVE: Final = 0.5
"""How often an athlete lets go after a slow rep though one more would have gone (common practice,
no source)."""

Kind = tuple[str, float | None]


@dataclass(frozen=True)
class Replay:
    """What a batch of ``n`` athletes would have been expected to show on ``R`` seen reps.

    Attributes
    ----------
    log_time
        Shape ``(n, R)``: logarithm of each rep's expected time.
    log_chance
        Shape ``(n, R)``: logarithm of the probability that the rep goes.
    surprise
        Shape ``(n, R)``: minus the log probability that it went (or gave out, or was let go
        after) as it did; where it did not count, that it failed or was refused.
    missing
        Shape ``(2, G + 1, n)``: state after the last rep.
    """

    log_time: FloatArray
    log_chance: FloatArray
    surprise: FloatArray
    missing: FloatArray


def replay(athletes: Athletes, attempt: Attempt) -> Replay:
    """Lead a batch of athletes through the reps and gaps of an attempt.

    Between sets the gap is rest. Inside a set it is a pause with the bar in hand: it rests the
    whole body and muscles that the movement does not load, and nothing else.

    Notes
    -----
    A fit replays the same reps some hundred times, so only what depends on the rep before is
    stepped through; costs, expected times and chances are worked out for all reps of a movement at
    once. Step by step, `after_rep` and `after_rest` give the same.
    """
    count, reps = len(athletes), len(attempt.reps)
    kinds: list[Kind] = [(rep.movement, rep.load_kg) for rep in attempt.reps]
    works = {kind: work_of(athletes, *kind) for kind in dict.fromkeys(kinds)}
    rows = {kind: np.array([i for i, own in enumerate(kinds) if own == kind]) for kind in works}
    time_s = np.array([rep.time_s for rep in attempt.reps])
    spent = _spent_before(attempt)
    cost, again = np.empty((2, reps, count))
    drawn = np.zeros((reps, len(athletes.groups) + 1, count))
    for kind, work in works.items():
        own = rows[kind]
        cost[own] = rep_cost(work, spent[own, None])
        again[own] = rep_cost(work, spent[own, None] + 1.0)
        for group in work.used:
            drawn[own, group] = work.loads[group] * cost[own]
        drawn[own, -1] = whole_cost(work, time_s[own, None])
    before, after, missing = _levels(athletes, attempt, works, drawn)
    log_time, score, next_score = np.empty((3, count, reps))
    for kind, work in works.items():
        own = rows[kind]
        log_time[:, own] = np.log(cycle_time_s(work, before[own], 1.0)).T
        score[:, own] = success_score(work, before[own], cost[own]).T
        next_score[:, own] = success_score(work, after[own], again[own]).T
    log_chance = log_ndtr(score)
    surprise = -log_chance
    gave_out = np.array([rep.gave_out is True for rep in attempt.reps])
    surprise[:, gave_out] = -log_ndtr(-score[:, gave_out])
    unknown, reasons = [rep.gave_out is None for rep in attempt.reps], reasons_of(attempt)
    went = np.exp(log_chance[:, unknown])
    surprise[:, unknown] = -np.log(
        (1.0 - went) * reasons.as_failed[unknown] + went * reasons.as_refused[unknown]
    )
    let_go = np.array([rep.let_go for rep in attempt.reps])
    surprise[:, let_go] -= np.log(1.0 - (1.0 - KEPT_IN_RESERVE) * ndtr(next_score[:, let_go]))
    return Replay(log_time, log_chance, surprise, missing)


def _gaps(attempt: Attempt) -> Iterator[tuple[SeenRep | None, SeenRep, float]]:
    """Each rep with the one before it, None for the first, and the seconds between them."""
    before = None
    for rep in attempt.reps:
        yield before, rep, 0.0 if before is None else max(rep.start_s - before.end_s, 0.0)
        before = rep


def _spent_before(attempt: Attempt) -> FloatArray:
    """Reps of the running set before each rep, faded by the breaks; shape ``(R,)``."""
    spent, seen = 0.0, []
    for before, rep, gap_s in _gaps(attempt):
        if before is not None and rep.place != before.place and rep.set_number != before.set_number:
            spent = 0.0
        elif before is not None and rep.set_number != before.set_number:
            spent *= np.exp(-gap_s / SET_FADE_S)
        seen.append(spent)
        spent += 1.0
    return np.array(seen)


def _levels(
    athletes: Athletes, attempt: Attempt, works: Mapping[Kind, Work], drawn: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Levels before and after each rep, shape ``(R, G + 1, n)``, and the state after the last.

    ``drawn``, of the same shape, is what each rep draws.
    """
    busy = {kind: np.append(work.used, len(athletes.groups)) for kind, work in works.items()}
    missing = np.zeros((2, *drawn.shape[1:]))
    before_each, after_each = np.empty((2, *drawn.shape))
    for index, (before, rep, gap_s) in enumerate(_gaps(attempt)):
        own = busy[rep.movement, rep.load_kg]
        if gap_s > 0.0:
            held = missing
            missing = rested(athletes, held, gap_s)
            if before is not None and rep.set_number == before.set_number:
                missing[:, own[:-1]] = held[:, own[:-1]]
        before_each[index] = levels_of(missing)
        held = missing
        missing = rested(athletes, held, rep.time_s)
        drain(athletes, held, missing, own, drawn[index, own])
        after_each[index] = levels_of(missing)
    return before_each, after_each, missing
