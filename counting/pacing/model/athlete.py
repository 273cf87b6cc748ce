"""The athlete model's parameters: what they are, what is assumed before anything was measured."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from counting.pacing.model.loads import Load, known_groups, load_of, unbroken_from_strength
from counting.pacing.model.reservoir import BoolArray, FloatArray

Form = Literal["linear", "exponential", "two-phase"]
Rows = npt.NDArray[np.int64] | slice
FORMS: Final[tuple[Form, ...]] = ("linear", "exponential", "two-phase")

SUSTAINABLE_SHARE: Final = 0.7
"""Share of full pace that the whole body can hold for long (common practice, no source)."""


@dataclass(frozen=True)
class Athletes:
    """A batch of athletes: draws from what is believed of one, or a single one.

    Attributes
    ----------
    loads
        The movements, M of them; columns of the arrays below.
    groups
        Names of the muscle groups they draw on, G of them.
    at_kg
        The mass that one rep of each movement moves, M of them: ``unbroken`` is meant for it.
    linear
        Shape ``(n,)``: whether the slow part refills at a constant rate, not exponentially.
    fast_share
        Shape ``(n,)``: share of what is drawn that comes back fast; 0 but in the two-phase form.
    cycle_s, unbroken, shortest_break_s
        Shape ``(n, M)``: seconds per rep when fresh; reps in one fresh set; seconds from letting
        go to the next rep.
    refused
        Shape ``(n, M)``: share of reps that go but do not count.
    transition_s
        Shape ``(n,)``: from the last rep of a station to the first of the next.
    slow_down
        Shape ``(n,)``: how much longer a rep is on an empty reservoir (0.8: 1.8 times as long).
    slow_power
        Shape ``(n,)``: how late slowing comes: it grows with this power of what is missing.
    late_cost
        Shape ``(n,)``: how much more the last rep of a fresh set to the limit draws than its first.
    local_refill_s, whole_refill_s
        Shape ``(n,)``: seconds from empty to full (linear form) or time constant of the slow part.
    fast_refill_s
        Shape ``(n,)``: time constant of the fast part.
    whole_work_s
        Shape ``(n,)``: work at full pace and intensity 1 that empties the whole-body reservoir.
    rhythm_noise
        Shape ``(n,)``: standard deviation of the logarithm of a rep's time.
    """

    loads: tuple[Load, ...]
    groups: tuple[str, ...]
    at_kg: tuple[float, ...]
    linear: BoolArray
    fast_share: FloatArray
    cycle_s: FloatArray
    unbroken: FloatArray
    shortest_break_s: FloatArray
    refused: FloatArray
    transition_s: FloatArray
    slow_down: FloatArray
    slow_power: FloatArray
    late_cost: FloatArray
    local_refill_s: FloatArray
    whole_refill_s: FloatArray
    fast_refill_s: FloatArray
    whole_work_s: FloatArray
    rhythm_noise: FloatArray

    def __len__(self) -> int:
        return int(self.linear.size)

    @cached_property
    def slow_rate_per_s(self) -> FloatArray:
        """One over the slow refill of every reservoir, shape ``(G + 1, n)``, whole body last."""
        local = np.repeat(self.local_refill_s[None, :], len(self.groups), axis=0)
        return 1.0 / np.concatenate([local, self.whole_refill_s[None, :]])

    @cached_property
    def refills_linearly(self) -> bool | None:
        """Whether all of the batch refill linearly; None where some do."""
        return None if self.linear.any() and not self.linear.all() else bool(self.linear.all())

    @cached_property
    def two_phase(self) -> bool:
        """Whether anybody of the batch has a fast part."""
        return bool(np.any(self.fast_share > 0))

    @property
    def arrays(self) -> dict[str, FloatArray]:
        """All arrays by field name."""
        named = {field.name: getattr(self, field.name) for field in fields(self)}
        return {name: value for name, value in named.items() if isinstance(value, np.ndarray)}

    def column(self, movement: str) -> int:
        """Column of a movement in the arrays."""
        return next(i for i, load in enumerate(self.loads) if load.movement == movement)

    def take(self, rows: Rows) -> "Athletes":
        """Athletes of some rows."""
        return self.with_arrays({name: value[rows] for name, value in self.arrays.items()})

    def with_arrays(self, arrays: dict[str, FloatArray]) -> "Athletes":
        """Replace arrays by field name."""
        named: dict[str, Any] = dict(arrays)
        return replace(self, **named)


@dataclass(frozen=True)
class Space:
    """The parameters of an athlete as a vector of standard scores, all independent beforehand.

    A score of 0 is the usual athlete of `loads.toml`, 1 is one standard deviation above on a log
    scale. Unbroken sets of movements that share a group hang together through its strength.
    """

    loads: tuple[Load, ...]
    groups: tuple[str, ...]
    at_kg: tuple[float, ...]
    names: tuple[str, ...]
    refill_factor: float = 1.0

    @property
    def size(self) -> int:
        """Number of parameters."""
        return len(self.names)


USUAL_WHOLE_WORK_S: Final = 240.0

_MEDIAN: Final[dict[str, float]] = {
    "slow-down": 0.65,
    "slow power": 2.0,
    "late cost": 2.0,
    "local refill": 1.0,
    "whole work": USUAL_WHOLE_WORK_S,
    "whole refill": 1.0,
    "rhythm noise": 0.06,
}
_SPREAD: Final[dict[str, float]] = {
    "slow-down": 0.40,
    "slow power": 0.30,
    "late cost": 0.45,
    "local refill": 0.35,
    "whole work": 0.30,
    "whole refill": 0.35,
    "rhythm noise": 0.30,
    "cycle": 0.15,
}
"""Slowing with a power of 1.1 to 3.6 in most: a loss of velocity is told between even and steep at
the end, and how late it comes is an athlete's own (common practice, no source)."""

_REFILL_S: Final[dict[Form, tuple[float, float]]] = {
    "linear": (260.0, 180.0),
    "exponential": (200.0, 110.0),
    "two-phase": (388.0, 388.0),
}
"""Muscles and whole body. Two-phase: time constants of 22 s and 388 s, half each (Chorley et al.
2022, recovery of work above critical power); the others are common practice, no source."""

FAST_REFILL_S: Final = 22.0
FAST_SHARE: Final = 0.5
"""The fast part of the two-phase recovery and its share (Chorley et al. 2022)."""

BREAK_SPREAD: Final = 0.35
TRANSITION_S: Final = 6.0
TRANSITION_SPREAD: Final = 0.45
"""Usual seconds from one station to the next, and standard deviations of the logarithm of breaks
and of these between athletes (common practice, no source)."""
LEAST_RHYTHM_NOISE: Final = 0.01
"""Standard deviation of the logarithm of a rep's time at least: a frame in three seconds."""


def space_for(
    movements: tuple[str, ...],
    at_kg: Mapping[str, float] | None = None,
    refill_factor: float = 1.0,
) -> Space:
    """Parameters needed for some movements.

    Parameters
    ----------
    movements
        Their names; repeated ones count once.
    at_kg
        Mass on the bar, or hung on the body, by movement; the usual one where there is no entry.
    refill_factor
        How much longer than usual all refills take (age).

    Raises
    ------
    PacingError
        A movement has no loads.
    """
    loads = tuple(load_of(name) for name in dict.fromkeys(movements))
    used = {group for load in loads for group in load.loads}
    groups = tuple(group for group in known_groups() if group in used)
    names = (
        *(f"strength, {group}" for group in groups),
        *(f"unbroken, {load.movement}" for load in loads),
        *(f"cycle, {load.movement}" for load in loads),
        *_MEDIAN,
    )
    moved = tuple(load.moved_kg((at_kg or {}).get(load.movement)) for load in loads)
    return Space(loads, groups, moved, names, refill_factor)


def athletes_at(space: Space, scores: FloatArray, form: Form) -> Athletes:
    """Turn scores into athletes.

    Parameters
    ----------
    scores
        Shape ``(n, P)`` in the order of ``space.names``.
    form
        How all of them recover.

    Returns
    -------
    Athletes with the usual breaks and transition of the movements.
    """
    count, group_count, move_count = len(scores), len(space.groups), len(space.loads)
    known = known_groups()
    strength = np.column_stack(
        [
            known[name].strength * np.exp(known[name].spread * scores[:, index])
            for index, name in enumerate(space.groups)
        ]
    )
    unbroken, cycle = np.empty((count, move_count)), np.empty((count, move_count))
    for index, load in enumerate(space.loads):
        own = np.exp(load.spread * scores[:, group_count + index])
        group_strength = strength[:, space.groups.index(load.main)]
        demand = load.demand * space.at_kg[index] / load.moved_kg(None)
        unbroken[:, index] = unbroken_from_strength(group_strength, demand) * own
        spread = np.exp(_SPREAD["cycle"] * scores[:, group_count + move_count + index])
        cycle[:, index] = load.cycle_s * spread
    shared = {
        name: _MEDIAN[name] * np.exp(_SPREAD[name] * scores[:, group_count + 2 * move_count + i])
        for i, name in enumerate(_MEDIAN)
    }
    local_s, whole_s = (space.refill_factor * usual_s for usual_s in _REFILL_S[form])
    ones = np.ones(count)
    return Athletes(
        loads=space.loads,
        groups=space.groups,
        at_kg=space.at_kg,
        linear=np.full(count, form == "linear"),
        fast_share=(FAST_SHARE if form == "two-phase" else 0.0) * ones,
        cycle_s=cycle,
        unbroken=unbroken,
        shortest_break_s=np.outer(ones, [load.break_s for load in space.loads]),
        refused=np.zeros((count, move_count)),
        transition_s=TRANSITION_S * ones,
        slow_down=shared["slow-down"],
        slow_power=shared["slow power"],
        late_cost=shared["late cost"],
        local_refill_s=local_s * shared["local refill"],
        whole_refill_s=whole_s * shared["whole refill"],
        fast_refill_s=FAST_REFILL_S * shared["local refill"],
        whole_work_s=shared["whole work"],
        rhythm_noise=np.maximum(shared["rhythm noise"], LEAST_RHYTHM_NOISE),
    )
