"""Reps that do not count: for want of strength or refused, how often, by which fault, and when."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.reservoir import FloatArray

PRIOR_REFUSED: Final = 0.25
PRIOR_COUNTED: Final = 4.75
"""Before any rep is seen, as if one rep in twenty of five were refused (common practice)."""

LEAST_TOLD: Final = 1.0
"""Refused reps below which nothing is told of a movement."""

LEAST_LATE: Final = 2.0
"""Refused reps below which nothing is said of when they came."""

LATE_SHARE: Final = 0.75
"""Faults are called late when so many lie in the second half of a movement's reps."""


FAILED_ENDS: Final = 0.95
"""How often a rep that fails for want of strength ends its set (common practice, no source)."""


@dataclass(frozen=True)
class Reasons:
    """How likely what was seen of each rep is, had it failed for want of strength or been refused.

    Attributes
    ----------
    as_failed, as_refused
        Shape ``(R,)``: probability that the set went on or ended there as it did, of a rep that
        failed; and of one that went, of being refused and of that.
    even
        Shape ``(R,)``: probability that the rep went, under even odds of both reasons.
    """

    as_failed: FloatArray
    as_refused: FloatArray
    even: FloatArray

    def refused(self, chance: FloatArray) -> FloatArray:
        """Probability that a rep which did not count went, from the chance that it would go."""
        went = chance * self.as_refused
        share: FloatArray = went / (went + (1.0 - chance) * self.as_failed)
        return share


def reasons_of(attempt: Attempt) -> Reasons:
    """Tell tries that failed from refused ones by what came next.

    Who fails lets go; a refused rep ends a set about as often as any other rep of the film does.
    How often reps of a movement are refused is taken from the film under even odds of both reasons.
    """
    reps = attempt.reps
    ended = [_ended(rep, after) for rep, after in pairwise(reps)] + [None]
    plain = [end for rep, end in zip(reps, ended, strict=True) if rep.gave_out is False]
    ends = (0.5 + plain.count(True)) / (1.0 + plain.count(True) + plain.count(False))
    as_failed, as_plain = (
        np.array([1.0 if end is None else share if end else 1.0 - share for end in ended])
        for share in (FAILED_ENDS, ends)
    )
    even = as_plain / (as_plain + as_failed)
    rate = np.empty(len(reps))
    for movement in attempt.movements:
        own = np.array([rep.movement == movement for rep in reps])
        seen = [
            (1.0 if rep.gave_out is False else float(share), rep.refused)
            for rep, share in zip(reps, even, strict=True)
            if rep.movement == movement and not rep.gave_out
        ]
        refused = PRIOR_REFUSED + sum(went * of_these for went, of_these in seen)
        rate[own] = refused / (PRIOR_REFUSED + PRIOR_COUNTED + sum(went for went, _ in seen))
    return Reasons(as_failed, rate * as_plain, even)


def _ended(rep: SeenRep, after: SeenRep) -> bool | None:
    """Whether a rep ended its set; None where the station was left."""
    return None if after.place != rep.place else after.set_number != rep.set_number


@dataclass(frozen=True)
class Refusals:
    """Refused reps of one movement, over all attempts by their weight.

    ``refused`` is the expected number, ``fault`` the standard missed most often in words, None
    where no audit names one; ``late`` says that most of them came in the second half.
    """

    movement: str
    tried: float
    refused: float
    fault: str | None
    late: bool


def refusals_of(attempts: Sequence[Attempt], movement: str) -> Refusals:
    """Count the refused reps of a movement; reps that failed are a matter of strength."""
    tried = refused = late = 0.0
    faults: Counter[str] = Counter()
    for attempt in attempts:
        went = reasons_of(attempt).even
        own = [
            (rep, 1.0 if rep.gave_out is False else float(share))
            for rep, share in zip(attempt.reps, went, strict=True)
            if rep.movement == movement and not rep.gave_out
        ]
        for index, (rep, share) in enumerate(own):
            tried += attempt.weight * share
            refused += attempt.weight * share * rep.refused
            late += attempt.weight * share * rep.refused * (index >= len(own) / 2)
            if rep.fault is not None and rep.refused > 0.5:
                faults[rep.fault] += 1
    return Refusals(
        movement=movement,
        tried=tried,
        refused=refused,
        fault=faults.most_common(1)[0][0] if faults else None,
        late=refused >= LEAST_LATE and late >= LATE_SHARE * refused,
    )


def refused_draws(
    attempts: Sequence[Attempt],
    chances: Sequence[FloatArray],
    athletes: Athletes,
    random: np.random.Generator,
) -> FloatArray:
    """Draw the share of refused reps, shape ``(n, M)``; 0 for movements that no film shows.

    ``chances`` are those of each attempt's reps to go, shape ``(n, R)`` each: what a weaker athlete
    failed at, a stronger one was refused.

    Notes
    -----
    The posterior of a binomial share under a beta prior.
    """
    drawn = np.zeros((len(athletes), len(athletes.loads)))
    for column, load in enumerate(athletes.loads):
        counted, refused = np.zeros((2, len(athletes)))
        for attempt, chance in zip(attempts, chances, strict=True):
            own = [
                index
                for index, rep in enumerate(attempt.reps)
                if rep.movement == load.movement and not rep.gave_out
            ]
            went = reasons_of(attempt).refused(chance)[:, own]
            went[:, [attempt.reps[index].gave_out is False for index in own]] = 1.0
            share = went * [attempt.reps[index].refused for index in own]
            refused += attempt.weight * np.sum(share, axis=1)
            counted += attempt.weight * np.sum(went - share, axis=1)
        if any(load.movement in attempt.movements for attempt in attempts):
            drawn[:, column] = random.beta(PRIOR_REFUSED + refused, PRIOR_COUNTED + counted)
    return drawn
