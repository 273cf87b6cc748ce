"""Search plans that can be told in a breath, over all that is believed of the athlete.

Endurance is a step function of the plan, so nothing here follows a gradient: from the best of some
uniform plans, every change of one number is tried, and the best one is taken, until none is left
that gains. All plans are played under equal luck by the same draws of every form of the model, so
that a plan is good on average over what is not known, and not for one guess.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.day import Noise
from counting.pacing.model.reservoir import FloatArray
from counting.pacing.search.course import Course
from counting.pacing.search.forecast import Forecast, forecasts
from counting.pacing.search.plan import Plan
from counting.pacing.search.schemes import (
    Limits,
    Scheme,
    burden,
    neighbours,
    plan_of,
    uniform_schemes,
)
from counting.pacing.search.utility import Scale, Target, scale_of, utility

WITHIN_NOISE: Final = 0.01
TIE_BREAK_NOISE: Final = 0.02
"""Shares of the usual score and tie-break within which two plans are equal: a day's form alone
moves either by several times as much."""

FAILING_NOISE: Final = 1.0
"""Reps that may fail more in a plan that equals another."""

TARGET_NOISE: Final = 0.02
"""Difference in the probability of a target that is within the noise."""

SCALED_BY: Final = 4
"""Every so many of the uniform plans is played to learn what seconds are worth."""

TURNS: Final = 6
"""Most numbers changed one after another from one starting point."""

PLAYED_AT_ONCE: Final = 6000
"""Plays run side by side: as many plans as fill them."""


@dataclass(frozen=True)
class Rated:
    """A plan with its plays and the utility of each, shape ``(n,)``."""

    scheme: Scheme
    plan: Plan
    played: Forecast
    values: FloatArray
    burden: tuple[int, int]

    @property
    def value(self) -> float:
        """Mean utility."""
        return float(np.mean(self.values))

    @property
    def sets(self) -> tuple[int, float]:
        """How many sets there are, and how long is rested between them."""
        return sum(len(s.sets) for s in self.plan), sum(sum(s.rests_s) for s in self.plan)

    @property
    def fails(self) -> float:
        """Reps that fail on average."""
        return float(np.mean(self.played.failing))


class Table:
    """Plans played under equal luck, each once."""

    def __init__(
        self,
        course: Course,
        draws: Athletes,
        limits: Limits,
        noise: Noise,
        seed: int,
        target: Target | None = None,
        scale: Scale | None = None,
    ) -> None:
        self.course, self.limits, self.target = course, limits, target
        self.draws, self._noise, self._seed = draws, noise, seed
        self._rated: dict[Plan, Rated] = {}
        self.scale = scale or self._own_scale()

    def rate(self, schemes: Iterable[Scheme]) -> list[Rated]:
        """Play schemes that are not known yet; returns all that were asked for."""
        wanted = [(plan_of(self.course, scheme, self.limits), scheme) for scheme in schemes]
        new = dict(item for item in wanted if item[0] not in self._rated)
        plans = list(new)
        for begin in range(0, len(plans), self._at_once):
            batch = plans[begin : begin + self._at_once]
            for plan, played in zip(batch, self.play(batch), strict=True):
                self._rated[plan] = Rated(
                    new[plan],
                    plan,
                    played,
                    self.values(played),
                    burden(self.course, new[plan], plan, self.limits),
                )
        return [self._rated[plan] for plan, _ in wanted]

    def play(self, plans: Sequence[Plan], draws: Athletes | None = None) -> list[Forecast]:
        """Play plans under the table's luck, by its own draws or others like them."""
        return forecasts(draws or self.draws, self.course, plans, self._seed, self._noise)

    def values(self, played: Forecast) -> FloatArray:
        """Give each play its utility, or the target's probability with utility to part equals."""
        value = utility(self.course, played, self.scale)
        if self.target is None:
            return value
        return self.target.reached(played) + 1e-4 * value / max(self.scale.reps, 1.0)

    @property
    def rated(self) -> list[Rated]:
        """All plans so far, the best first."""
        return sorted(self._rated.values(), key=lambda item: -item.value)

    @property
    def noise(self) -> float:
        """Difference of mean utility within which plans are equal."""
        return WITHIN_NOISE * self.scale.reps if self.target is None else TARGET_NOISE

    def equals(self) -> list[Rated]:
        """Plans within the noise of the best, the simplest first, of equally simple ones the best.

        Within the noise is what loses no more than a hundredth of the score, a fiftieth of the
        tie-break and one failed rep more. Simple is, in this order: every round alike; few numbers
        to remember, of which unbroken sets need none and equal ones the least. Of those alike in
        both the best counts: a choice at the edge of the noise would turn with it.
        """
        rated = self.rated
        best = rated[0]
        late_s = (1.0 + TIE_BREAK_NOISE) * self.tie_break_s(best.played)
        found = [
            item
            for item in rated
            if item.value >= best.value - self.noise
            and self.tie_break_s(item.played) <= late_s
            and item.fails <= best.fails + FAILING_NOISE
        ]
        return sorted(found, key=lambda item: (item.burden, -item.value, item.sets))

    def tie_break_s(self, played: Forecast) -> float:
        """Usual tie-break of a plan; 0 without one."""
        number = self.course.tie_break_rep
        if number is None:
            return 0.0
        clock_s = np.minimum(played.clock_at(number), self.course.cap_s)
        return float(np.median(clock_s))

    def climb(self, start: Rated, moves: Callable[[Scheme], Iterable[Scheme]]) -> Rated:
        """Take the best change of one number, again and again, while it gains."""
        here = start
        for _ in range(TURNS):
            best = max(self.rate(moves(here.scheme)), key=lambda item: item.value, default=here)
            if best.value <= here.value:
                break
            here = best
        return here

    @property
    def _at_once(self) -> int:
        return max(1, PLAYED_AT_ONCE // len(self.draws))

    def _own_scale(self) -> Scale:
        """Take the scale from the best of some uniform plans, found on a scale of one of them."""
        schemes = uniform_schemes(self.course, self.limits)[::SCALED_BY]
        plays = self.play([plan_of(self.course, scheme, self.limits) for scheme in schemes])
        scale = scale_of(self.course, plays[-1])
        for _ in range(2):
            values = [float(np.mean(utility(self.course, played, scale))) for played in plays]
            scale = scale_of(self.course, plays[int(np.argmax(values))])
        return scale


def search(table: Table) -> None:
    """Fill a table with the plans worth comparing.

    First with one rest for all and every round alike; then, from the best of these, with what is
    more to remember.
    """
    course, limits = table.course, table.limits

    def coarse(scheme: Scheme) -> Iterable[Scheme]:
        return neighbours(course, scheme, limits, fine=False)

    def fine(scheme: Scheme) -> Iterable[Scheme]:
        return neighbours(course, scheme, limits, fine=True)

    first = sorted(table.rate(uniform_schemes(course, limits)), key=lambda item: -item.value)
    tops = [table.climb(start, coarse) for start in first[:2]]
    table.climb(max(tops, key=lambda item: item.value), fine)
