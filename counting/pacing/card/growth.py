"""How what is believed of an athlete grew, film by film."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from counting.pacing.card.document import BeliefPart
from counting.pacing.model.attempt import Attempt
from counting.pacing.model.beliefs import beliefs_of
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import Known


@dataclass(frozen=True)
class Growth:
    """Beliefs after what was typed in alone, and after each film; ``steps`` names them."""

    steps: tuple[str, ...]
    beliefs: tuple[tuple[BeliefPart, ...], ...]


def growth_of(known: Known, films: Sequence[tuple[str, Attempt]], seed: int = 0) -> Growth:
    """Fit an athlete again after each film.

    Parameters
    ----------
    known
        What was typed in.
    films
        Names and attempts, oldest first; their weights are those of the last step.
    seed
        Of the fits.
    """
    movements = [*known.movements, *(m for _, attempt in films for m in attempt.movements)]
    steps, beliefs = [], []
    for count in range(len(films) + 1):
        latest = films[count - 1][1].weight if count else 1.0
        seen = [
            replace(attempt, weight=min(1.0, attempt.weight / latest))
            for _, attempt in films[:count]
        ]
        fit = fit_athlete(seen, tuple(dict.fromkeys(movements)), known, seed)
        steps.append(films[count - 1][0] if count else "before any film")
        beliefs.append(tuple(BeliefPart(**vars(item)) for item in beliefs_of(fit, seed)))
    return Growth(tuple(steps), tuple(beliefs))
