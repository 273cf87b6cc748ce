"""What an athlete knows before a first attempt, typed in and not filmed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from counting.pacing.model.athlete import USUAL_WHOLE_WORK_S, Athletes
from counting.pacing.model.exertion import unbroken_with
from counting.pacing.model.loads import one_rep_maximum_kg
from counting.pacing.model.reservoir import FloatArray

UNBROKEN_SPREAD: Final = 0.08
MAXIMUM_SPREAD: Final = 0.04
REP_TIME_SPREAD: Final = 0.08
ENGINE_SPREAD: Final = 0.15
TYPED_GAP_SPREAD: Final = 0.15
"""Spreads (log scale) of what is typed in about what is true on the day (common practice, no
source; for maxima the retest error of 0.7 to 1.1 reps, PMC9070879)."""

AGE_OF_USUAL: Final = 30.0
SLOWER_PER_YEAR: Final = 0.006
"""Growth of the refill times with age (common practice, no source)."""


@dataclass(frozen=True)
class KnownMovement:
    """One movement: a set to the limit when fresh, and how fast.

    ``unbroken`` is meant for ``at_kg`` on the bar or hung on the body, None for the load of the
    workout; ``maximum_kg`` is the one-rep maximum, ``heavier`` other sets to the limit as reps and
    kilograms.
    """

    unbroken: float | None = None
    at_kg: float | None = None
    maximum_kg: float | None = None
    rep_s: float | None = None
    break_s: float | None = None
    heavier: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Known:
    """Everything typed in.

    ``rest_s`` is the rest usually taken between sets, ``changeover_s`` the way from station to
    station, ``engine`` whole-body power as a share of the usual athlete's.
    """

    movements: Mapping[str, KnownMovement] = field(default_factory=dict)
    rest_s: float | None = None
    changeover_s: float | None = None
    engine: float | None = None
    age_years: float | None = None

    @property
    def refill_factor(self) -> float:
        """How much longer refills take at this age."""
        if self.age_years is None:
            return 1.0
        return float(np.exp(SLOWER_PER_YEAR * (self.age_years - AGE_OF_USUAL)))

    @property
    def unbroken(self) -> dict[str, float]:
        """Typed unbroken sets by movement."""
        return {
            name: item.unbroken
            for name, item in self.movements.items()
            if item.unbroken is not None
        }

    @property
    def capacities(self) -> frozenset[str]:
        """Movements of which an unbroken set or a maximum was typed in."""
        return frozenset(
            name
            for name, item in self.movements.items()
            if item.unbroken is not None or item.maximum_kg is not None or item.heavier
        )

    def residuals(self, athletes: Athletes) -> FloatArray:
        """How far athletes lie from what was typed in, in standard deviations, shape ``(n, K)``."""
        found: list[FloatArray] = [np.empty((len(athletes), 0))]

        def held(value: FloatArray, typed: float, spread: float) -> None:
            found.append((np.log(np.maximum(value, 1e-9)) - np.log(typed))[:, None] / spread)

        for name, item in self.movements.items():
            column = athletes.column(name)
            if item.unbroken is not None:
                unbroken = unbroken_with(athletes, name, item.at_kg)
                held(unbroken, item.unbroken, UNBROKEN_SPREAD)
            for reps, kg in item.heavier:
                held(unbroken_with(athletes, name, kg), reps, UNBROKEN_SPREAD)
            if item.maximum_kg is not None:
                maximum_kg = one_rep_maximum_kg(
                    athletes.unbroken[:, column], athletes.at_kg[column]
                )
                moved_kg = athletes.loads[column].moved_kg(item.maximum_kg)
                held(maximum_kg, moved_kg, MAXIMUM_SPREAD)
            if item.rep_s is not None:
                held(athletes.cycle_s[:, column], item.rep_s, REP_TIME_SPREAD)
        if self.engine is not None:
            usual = athletes.whole_work_s / USUAL_WHOLE_WORK_S
            held(usual, self.engine, ENGINE_SPREAD)
        return np.concatenate(found, axis=1)


def unbroken_sets(unbroken: Mapping[str, float]) -> Known:
    """Know unbroken sets alone, at the load of the workout."""
    return Known({name: KnownMovement(unbroken=reps) for name, reps in unbroken.items()})
