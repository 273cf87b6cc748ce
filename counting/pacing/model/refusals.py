"""Reps that do not count: how often, by which fault, and when."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.attempt import Attempt
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
    """Count the refused reps of a movement; reps that gave out are a matter of strength."""
    tried = refused = late = 0.0
    faults: Counter[str] = Counter()
    for attempt in attempts:
        own = [rep for rep in attempt.reps if rep.movement == movement and not rep.gave_out]
        tried += attempt.weight * len(own)
        for index, rep in enumerate(own):
            refused += attempt.weight * rep.refused
            late += attempt.weight * rep.refused * (index >= len(own) / 2)
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
    attempts: Sequence[Attempt], athletes: Athletes, random: np.random.Generator
) -> FloatArray:
    """Draw the share of refused reps, shape ``(n, M)``; 0 for movements that no film shows.

    Notes
    -----
    The posterior of a binomial share under a beta prior.
    """
    drawn = np.zeros((len(athletes), len(athletes.loads)))
    for column, load in enumerate(athletes.loads):
        seen = refusals_of(attempts, load.movement)
        if seen.tried:
            drawn[:, column] = random.beta(
                PRIOR_REFUSED + seen.refused,
                PRIOR_COUNTED + seen.tried - seen.refused,
                len(athletes),
            )
    return drawn
