"""The most likely path through a workout's script, given what the athlete was seen doing."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.workout.postures import BETWEEN, RATE_HZ, Posture, PostureTrack, log_likelihoods
from counting.workout.types import Run
from vision.track import FloatArray, IntArray

INDEPENDENT_PER_S: Final = 3.0
"""Postures closer together than a third of a second tell the same thing."""

BEGIN_OR_STOP: Final = -5.0
"""Log probability of beginning or ending work at a given moment."""

OUT_OF_ORDER: Final = -9.5
"""Log probability of going anywhere but to the next station: the script is a strong prior.

A station that is only touched begins and stops, and must cost more than leaving it out.
"""

OFF_SCRIPT: Final = -19.5
"""Log probability of beginning a movement that is not due."""

LATER_PREFERRED: Final = 1e-6
"""Rounds look alike: of a missing one nobody can tell which it was, so it is the last.

Log probability for each run in front of the one gone to; it settles ties and outweighs nothing.
"""

NEARER_PREFERRED: Final = -2e-6
"""Whoever leaves a station out goes to the next of the kind, not to that of a far-off round.

Log probability for each run in between; larger than the preference for later ones.
"""

RULED_OUT: Final = -1e6
"""Log probability of what cannot be: below that of any film."""
SHORTEST_STRETCH_S: Final = 0.8
"""Seconds: no rep of any movement is shorter (no source)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Time in which one movement was done; ``run`` is None where the script has no place for it."""

    movement: str
    run: int | None
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class ScriptPath:
    """Stretches in film order, and the log likelihood of the whole path."""

    stretches: tuple[Stretch, ...]
    log_likelihood: float


def most_likely_path(
    postures: PostureTrack,
    all_runs: tuple[Run, ...],
    mixtures: Mapping[str, Mapping[Posture, float]],
    others: Sequence[str],
    ruled_out: Sequence[Stretch] = (),
) -> ScriptPath:
    """Find the path by Viterbi's algorithm over (run, what is done).

    A state is a run and one of: between reps at or before it, its own work, another movement done
    while it is due. States are laid out as (R, 2 + M) in this order; there are at most
    `counting.workout.types.LONGEST_SCRIPT` runs, so that a state's number fits 16 bits.

    Parameters
    ----------
    postures
        What was seen.
    all_runs
        The script.
    mixtures
        By movement, how its time is spread over the postures.
    others
        Movements that may be done off the script.
    ruled_out
        Stretches in which their movement was not done.
    """
    count, kinds = len(all_runs), 2 + len(others)
    table = {name: log_likelihoods(mixture) for name, mixture in mixtures.items()}
    weight = INDEPENDENT_PER_S / RATE_HZ
    emission = np.empty((len(Posture), count, kinds))
    emission[:, :, 0] = log_likelihoods(BETWEEN)[:, None]
    for index, run in enumerate(all_runs):
        emission[:, index, 1] = table[run.movement]
    for column, name in enumerate(others, start=2):
        emission[:, :, column] = table[name][:, None]
    emission *= weight

    ruled_states = [_doing(stretch.movement, all_runs, others) for stretch in ruled_out]
    numbers = {name: number for number, name in enumerate(mixtures)}
    names = np.array([numbers[run.movement] for run in all_runs])
    best = np.full((count, kinds), -np.inf)
    best[0, 0] = 0.0
    best[1:, 0] = _out_of_order(count, 0)[1:]
    came_from = np.empty(
        (len(postures.time_s), count, kinds), dtype=np.min_scalar_type(count * kinds)
    )
    for moment, posture in enumerate(postures.posture):
        best, came_from[moment] = _step(best, names)
        best = best + emission[posture]
        for doing, stretch in zip(ruled_states, ruled_out, strict=True):
            if stretch.start_s <= postures.time_s[moment] <= stretch.end_s:
                best = best + doing
    state = int(np.argmax(best))
    log_likelihood = float(best.max())
    path = np.empty(len(postures.time_s), dtype=np.int64)
    for moment in range(len(path) - 1, -1, -1):
        path[moment] = state
        state = int(came_from[moment].reshape(-1)[state])
    stretches = _stretches(postures.time_s, path, all_runs, others)
    return ScriptPath(tuple(stretches), log_likelihood)


def _doing(movement: str, all_runs: tuple[Run, ...], others: Sequence[str]) -> FloatArray:
    """(R, 2 + M) what rules out every state in which a movement is done."""
    states = np.zeros((len(all_runs), 2 + len(others)))
    states[[run.movement == movement for run in all_runs], 1] = RULED_OUT
    states[:, [2 + column for column, name in enumerate(others) if name == movement]] = RULED_OUT
    return states


def _step(best: FloatArray, names: IntArray) -> tuple[FloatArray, IntArray]:
    """One moment on: the best predecessor of every state; ``names`` (R,) numbers movements."""
    count, kinds = best.shape
    stay = np.arange(count * kinds).reshape(count, kinds)
    score, source = best.copy(), stay.copy()
    anywhere = int(np.argmax(best))

    def offer(target: tuple[slice, int | slice], value: FloatArray, origin: IntArray) -> None:
        better = value > score[target]
        score[target] = np.where(better, value, score[target])
        source[target] = np.where(better, origin, source[target])

    every = slice(None)
    offer((every, 0), best[:, 1] + BEGIN_OR_STOP, stay[:, 1])
    offer((every, 1), best[:, 0] + BEGIN_OR_STOP, stay[:, 0])
    offer((slice(1, None), 0), best[:-1, 1] + BEGIN_OR_STOP, stay[:-1, 1])
    offer((slice(1, None), 1), best[:-1, 1] + 2 * BEGIN_OR_STOP, stay[:-1, 1])
    other = best[:, 2:].max(axis=1)
    from_other = stay[:, 2:][np.arange(count), best[:, 2:].argmax(axis=1)]
    offer((every, 0), other + BEGIN_OR_STOP, from_other)
    leave = np.broadcast_to(best[:, :1] + OFF_SCRIPT, (count, kinds - 2))
    offer((every, slice(2, None)), leave, np.broadcast_to(stay[:, :1], (count, kinds - 2)))
    # Going on to another run of the movement just done looks like a break in it.
    due, doing = divmod(anywhere, kinds)
    elsewhere = names != names[due]
    if doing == 0 and due > 0:
        elsewhere &= names != names[due - 1]
    jump = np.where(elsewhere, best.reshape(-1)[anywhere] + _out_of_order(count, due), -np.inf)
    offer((every, 0), jump, np.full(count, anywhere))
    return score, source


def _out_of_order(count: int, due: int) -> FloatArray:
    """(R,) log probability of going from one run straight to another."""
    run = np.arange(count)
    ties = run * LATER_PREFERRED + np.abs(run - due) * NEARER_PREFERRED
    return np.asarray(OUT_OF_ORDER + ties)


def _stretches(
    time_s: FloatArray, path: IntArray, all_runs: tuple[Run, ...], others: Sequence[str]
) -> list[Stretch]:
    """Join the work of one run, breaks included, as long as nothing else was done between."""
    kinds = 2 + len(others)
    found: list[Stretch] = []
    changes = np.flatnonzero(np.diff(path)) + 1
    for first, last in zip(
        np.concatenate(([0], changes)), np.concatenate((changes, [len(path)])), strict=True
    ):
        run, kind = divmod(int(path[first]), kinds)
        if kind == 0:
            continue
        movement = all_runs[run].movement if kind == 1 else others[kind - 2]
        start_s, end_s = float(time_s[first]), float(time_s[last - 1])
        due = run if kind == 1 else None
        before = found[-1] if found else None
        if before is not None and (before.movement, before.run) == (movement, due):
            found[-1] = replace(before, end_s=end_s)
        elif end_s - start_s >= SHORTEST_STRETCH_S:
            found.append(Stretch(movement, due, start_s, end_s))
    return found
