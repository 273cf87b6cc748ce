"""How many reps stand: an interval and the probability of each count."""

from collections.abc import Sequence
from dataclasses import dataclass

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
        Reps that stand if every one too close or only counted falls, and if every one stands.
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


def count_reps(
    states: Sequence[RepState], probabilities: Sequence[float], shared: float = 0.0
) -> CountOfReps:
    """Count verdicts of one film; ``states`` and ``probabilities`` in the same order."""
    if len(states) != len(probabilities):
        raise ValueError(f"{len(states)} verdicts but {len(probabilities)} probabilities")
    good, close = states.count("good"), states.count("too close")
    counted = states.count("only counted")
    return CountOfReps(
        good=good,
        no_rep=len(states) - good - close - counted,
        too_close=close,
        only_counted=counted,
        lowest=good,
        highest=good + close + counted,
        distribution=tuple(float(p) for p in count_distribution(probabilities, shared)),
    )
