"""What is believed of an athlete, told for a reader: values, intervals, and their origin."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from counting.pacing.model.athlete import Athletes, athletes_at
from counting.pacing.model.fit import AthleteFit, joined
from counting.pacing.model.reservoir import FloatArray

Origin = Literal["measured", "partly measured", "assumed", "typed in"]

MEASURED_SPREAD: Final = 0.15
"""A value is called measured when its standard deviation (log scale) is below this."""

PARTLY_BELOW: Final = 0.8
"""A value is called partly measured when less than this share of the assumed spread is left."""

PRIOR_DRAWS: Final = 2000
"""Draws by which a spread is known within 2 %."""


@dataclass(frozen=True)
class Belief:
    """One parameter: the middle and the 80 % interval of what is believed."""

    name: str
    unit: str
    low: float
    typical: float
    high: float
    origin: Origin


def beliefs_of(fit: AthleteFit, seed: int = 0) -> tuple[Belief, ...]:
    """List the parameters of an athlete, movement by movement, then the shared ones."""
    random = np.random.default_rng(seed)
    after = fit.draws(PRIOR_DRAWS, seed)
    scores = random.standard_normal((PRIOR_DRAWS, fit.space.size))
    prior = joined(
        [
            athletes_at(fit.space, scores[index :: len(fit.forms)], form.form)
            for index, form in enumerate(fit.forms)
        ]
    )
    seen = {movement for attempt in fit.attempts for movement in attempt.movements}
    beliefs = []
    for column, load in enumerate(fit.space.loads):
        name = load.movement
        with_kg = f", at {fit.space.at_kg[column]:g} kg" if load.usual_kg is not None else ""
        fresh = unbroken_name(name) + with_kg
        beliefs.append(_belief(fresh, "reps", after, prior, _of("unbroken", column)))
        if name in fit.known.capacities:
            beliefs[-1] = _typed(beliefs[-1])
        if name in seen:
            longest = float(max(attempt.longest_set(name) for attempt in fit.attempts))
            words = f"{name}: longest set seen"
            beliefs.append(Belief(words, "reps", longest, longest, longest, "measured"))
        beliefs.append(
            _belief(f"{name}: one rep when fresh", "s", after, prior, _of("cycle_s", column))
        )
        low, middle, high = np.quantile(after.shortest_break_s[:, column], (0.1, 0.5, 0.9))
        broke = any(m == name for attempt in fit.attempts for m, _ in attempt.breaks())
        beliefs.append(
            Belief(
                f"{name}: shortest break",
                "s",
                float(low),
                float(middle),
                float(high),
                "measured" if broke and name in seen else "assumed",
            )
        )
    shared: tuple[tuple[str, str, str], ...] = (
        ("muscles: recovery (empty to full, or time constant)", "s", "local_refill_s"),
        ("whole body: recovery (empty to full, or time constant)", "s", "whole_refill_s"),
        ("whole body: work at full pace until empty", "s", "whole_work_s"),
        ("slowing when exhausted", "times", "slow_down"),
        (
            "cost of the last rep of a set to the limit, compared with the first",
            "times",
            "late_cost",
        ),
    )
    beliefs += [
        _belief(words, unit, after, prior, _of(field, None)) for words, unit, field in shared
    ]
    return tuple(beliefs)


def unbroken_name(movement: str) -> str:
    """Name of the belief about a movement's fresh set, before any load."""
    return f"{movement}: unbroken when fresh"


def _of(field: str, column: int | None) -> Callable[[Athletes], FloatArray]:
    def values(athletes: Athletes) -> FloatArray:
        array: FloatArray = getattr(athletes, field)
        return array if column is None else array[:, column]

    return values


def _belief(
    name: str,
    unit: str,
    after: Athletes,
    prior: Athletes,
    values: Callable[[Athletes], FloatArray],
) -> Belief:
    drawn = values(after)
    low, middle, high = (float(value) for value in np.quantile(drawn, (0.1, 0.5, 0.9)))
    spread = float(np.std(np.log(drawn)))
    left = spread / float(np.std(np.log(values(prior))))
    origin: Origin = "assumed" if left >= PARTLY_BELOW else "partly measured"
    if spread < MEASURED_SPREAD and left < PARTLY_BELOW:
        origin = "measured"
    return Belief(name, unit, low, middle, high, origin)


def _typed(belief: Belief) -> Belief:
    return Belief(belief.name, belief.unit, belief.low, belief.typical, belief.high, "typed in")
