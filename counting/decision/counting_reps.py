"""How many reps stand: an interval and the probability of each count."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.decision.combination import NODE_WEIGHTS, RepState, conditional_probabilities


@dataclass(frozen=True, slots=True)
class CountOfReps:
    """Counts of verdicts and the range the score may honestly take.

    Attributes
    ----------
    good, no_rep, too_close, only_counted
        Numbers of verdicts.
    lowest, highest
        Reps that stand if every one too close or only counted falls, and if every one stands that
        is too close, only counted or may be hidden.
    distribution
        ``distribution[k]`` is the probability that exactly k reps stand.
    """

    good: int
    no_rep: int
    too_close: int
    only_counted: int
    lowest: int
    highest: int
    distribution: tuple[float, ...]


UNKNOWN_SHARE: Final = 0.5
"""Latent correlation of reps that are even bets, any share of which may be good: with it each
count is as likely as any other."""
_LARGEST_SHARED: Final = 0.995
"""At 1 all reps stand or fall together, and the quadrature over the shared error has no answer."""
_HALVINGS: Final = 20
"""To a millionth: finer than the four digits that are kept, which 14 would give."""


def shared_error(good_given_film: np.ndarray) -> float:
    """How much of the reps' errors is common to the film, going by what it does to their count.

    Parameters
    ----------
    good_given_film
        (cases, n) probability of each rep being good in equally likely cases of the film's errors.

    Returns
    -------
    float
        Correlation of the latent errors with which `count_distribution` spreads as widely as the
        number of good reps does over these cases; 0 where reps have nothing in common, and for one
        rep, whose count is as wide whatever it shares.
    """
    if good_given_film.shape[1] < 2:
        return 0.0
    probabilities = good_given_film.mean(axis=0)
    spread = _variance(good_given_film, np.full(len(good_given_film), 1 / len(good_given_film)))
    low, high = 0.0, _LARGEST_SHARED
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        given = conditional_probabilities(list(probabilities), middle)
        if _variance(given, NODE_WEIGHTS) < spread:
            low = middle
        else:
            high = middle
    return round((low + high) / 2, 4)


def _variance(given: np.ndarray, weights: np.ndarray) -> float:
    """Variance of the number of good reps, given (cases, n) probabilities and weights of cases."""
    expected = given.sum(axis=1)
    mean = weights @ expected
    return float(weights @ (given * (1 - given)).sum(axis=1) + weights @ (expected - mean) ** 2)


def count_distribution(probabilities: Sequence[float], shared: float = 0.0) -> np.ndarray:
    """Distribution of the number of good reps.

    Parameters
    ----------
    probabilities
        Probability of each rep being good.
    shared
        Correlation of the latent errors of the reps of one film: 0 gives the Poisson-binomial
        distribution; above it the same shared error moves all reps and the distribution widens
        while its mean stays.

    Returns
    -------
    ndarray
        (n + 1,) probabilities, summing to 1.
    """
    n = len(probabilities)
    if shared == 0.0:
        given = np.asarray(probabilities, float)[None, :].reshape(1, n)
        weights = np.ones(1)
    else:
        given = conditional_probabilities(probabilities, shared)
        weights = NODE_WEIGHTS
    counts = np.zeros((given.shape[0], n + 1))
    counts[:, 0] = 1.0
    for k in range(n):
        p = given[:, k : k + 1]
        counts[:, 1 : k + 2] = counts[:, 1 : k + 2] * (1 - p) + counts[:, : k + 1] * p
        counts[:, 0] *= 1 - p[:, 0]
    total: np.ndarray = weights @ counts
    distribution: np.ndarray = total / total.sum()
    return distribution


HIDDEN: Final = (0.75, 0.2, 0.05)
"""Probability that a stretch in which up to two reps may be hidden hides none, one, two.

On 76 labelled films 22 stretches were unexplained and 6 of them hid a rep, each of them one.
"""


def with_hidden(distribution: np.ndarray, hidden: Sequence[int]) -> np.ndarray:
    """Widen a count by reps that may be hidden; each is as likely good as not.

    Parameters
    ----------
    distribution
        (n,) probability of each count of good reps.
    hidden
        For each unexplained stretch the most reps it may hide.

    Returns
    -------
    ndarray
        (n + sum of ``hidden``,) probabilities.
    """
    for most in hidden:
        distribution = np.convolve(distribution, hidden_good(most))
    return distribution


def hidden_good(most: int) -> np.ndarray:
    """Distribution, (most + 1,), of the good reps that a stretch hides which may hide so many."""
    chances = np.zeros(most + 1)
    for count, chance in enumerate(HIDDEN):
        chances[min(count, most)] += chance
    good: np.ndarray = chances @ np.stack([_good_of(count, most) for count in range(most + 1)])
    return good


def _good_of(count: int, most: int) -> np.ndarray:
    """Distribution of the good ones among some reps that are each an even bet."""
    good = np.zeros(most + 1)
    good[: count + 1] = [math.comb(count, k) / 2**count for k in range(count + 1)]
    return good


def count_reps(
    states: Sequence[RepState],
    probabilities: Sequence[float],
    shared: float = 0.0,
    hidden: Sequence[int] = (),
) -> CountOfReps:
    """Count verdicts of one film.

    ``states`` and ``probabilities`` are in the same order, ``shared`` as in `count_distribution`,
    ``hidden`` as in `with_hidden`.
    """
    if len(states) != len(probabilities):
        raise ValueError(f"{len(states)} verdicts but {len(probabilities)} probabilities")
    good, close = states.count("good"), states.count("too close")
    found = count_distribution(probabilities, shared)
    counted = states.count("only counted")
    return CountOfReps(
        good=good,
        no_rep=len(states) - good - close - counted,
        too_close=close,
        only_counted=counted,
        lowest=good,
        highest=good + close + counted + sum(hidden),
        distribution=tuple(float(p) for p in with_hidden(found, hidden)),
    )
