"""The athlete model's parameters: what they are, what is assumed before anything was measured."""

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from counting.pacing.model.loads import Load, known_groups, load_of, unbroken_from_strength
from counting.pacing.model.reservoir import BoolArray, FloatArray

Form = Literal["linear", "exponential"]
Rows = npt.NDArray[np.int64] | slice
FORMS: Final[tuple[Form, Form]] = ("linear", "exponential")

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
    exponential
        Shape ``(n,)``: which form of recovery the athlete follows.
    cycle_s, unbroken, shortest_break_s
        Shape ``(n, M)``: seconds per rep when fresh; reps in one fresh set; seconds from letting
        go to the next rep.
    transition_s
        Shape ``(n,)``: from the last rep of a station to the first of the next.
    slow_down
        Shape ``(n,)``: how much longer a rep is on an empty reservoir (0.8: 1.8 times as long).
    late_cost
        Shape ``(n,)``: how much more the last rep of a fresh set to the limit draws than its first.
    local_refill_s, whole_refill_s
        Shape ``(n,)``: seconds from empty to full (linear form) or time constant (exponential).
    whole_work_s
        Shape ``(n,)``: work at full pace and intensity 1 that empties the whole-body reservoir.
    rhythm_noise
        Shape ``(n,)``: standard deviation of the logarithm of a rep's time.
    """

    loads: tuple[Load, ...]
    groups: tuple[str, ...]
    exponential: BoolArray
    cycle_s: FloatArray
    unbroken: FloatArray
    shortest_break_s: FloatArray
    transition_s: FloatArray
    slow_down: FloatArray
    late_cost: FloatArray
    local_refill_s: FloatArray
    whole_refill_s: FloatArray
    whole_work_s: FloatArray
    rhythm_noise: FloatArray

    def __len__(self) -> int:
        return int(self.exponential.size)

    @cached_property
    def refill_s(self) -> FloatArray:
        """Refill of every reservoir, shape ``(n, G + 1)``, the whole body last."""
        local = np.repeat(self.local_refill_s[:, None], len(self.groups), axis=1)
        return np.concatenate([local, self.whole_refill_s[:, None]], axis=1)

    @cached_property
    def refill_rate_per_s(self) -> FloatArray:
        """One over `refill_s`."""
        return 1.0 / self.refill_s

    @cached_property
    def form_of_all(self) -> Form | None:
        """The form that all athletes of the batch follow, None where both are mixed."""
        if self.exponential.all():
            return "exponential"
        return None if self.exponential.any() else "linear"

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
    names: tuple[str, ...]

    @property
    def size(self) -> int:
        """Number of parameters."""
        return len(self.names)


_MEDIAN: Final[dict[str, float]] = {
    "slow-down": 0.8,
    "late cost": 2.0,
    "local refill": 1.0,
    "whole work": 150.0,
    "whole refill": 1.0,
    "rhythm noise": 0.06,
}
_SPREAD: Final[dict[str, float]] = {
    "slow-down": 0.40,
    "late cost": 0.30,
    "local refill": 0.35,
    "whole work": 0.30,
    "whole refill": 0.35,
    "rhythm noise": 0.30,
    "cycle": 0.30,
}
_REFILL_S: Final[dict[Form, dict[str, float]]] = {
    "linear": {"local": 260.0, "whole": 180.0},
    "exponential": {"local": 200.0, "whole": 110.0},
}

BREAK_SPREAD: Final = 0.35
TRANSITION_S: Final = 6.0
TRANSITION_SPREAD: Final = 0.45
LEAST_RHYTHM_NOISE: Final = 0.01


def space_for(movements: tuple[str, ...]) -> Space:
    """Parameters needed for some movements.

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
    return Space(loads, groups, names)


def athletes_at(space: Space, scores: FloatArray, exponential: BoolArray) -> Athletes:
    """Turn scores into athletes.

    Parameters
    ----------
    scores
        Shape ``(n, P)`` in the order of ``space.names``.
    exponential
        Shape ``(n,)``: the form of each.

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
        unbroken[:, index] = unbroken_from_strength(group_strength, load.demand) * own
        spread = np.exp(_SPREAD["cycle"] * scores[:, group_count + move_count + index])
        cycle[:, index] = load.cycle_s * spread
    shared = {
        name: _MEDIAN[name] * np.exp(_SPREAD[name] * scores[:, group_count + 2 * move_count + i])
        for i, name in enumerate(_MEDIAN)
    }
    local_s, whole_s = (
        np.where(exponential, _REFILL_S["exponential"][kind], _REFILL_S["linear"][kind])
        for kind in ("local", "whole")
    )
    ones = np.ones(count)
    return Athletes(
        loads=space.loads,
        groups=space.groups,
        exponential=exponential,
        cycle_s=cycle,
        unbroken=unbroken,
        shortest_break_s=np.outer(ones, [load.break_s for load in space.loads]),
        transition_s=TRANSITION_S * ones,
        slow_down=shared["slow-down"],
        late_cost=shared["late cost"],
        local_refill_s=local_s * shared["local refill"],
        whole_refill_s=whole_s * shared["whole refill"],
        whole_work_s=shared["whole work"],
        rhythm_noise=np.maximum(shared["rhythm noise"], LEAST_RHYTHM_NOISE),
    )


def usual_athlete(movements: tuple[str, ...], form: Form, **unbroken: float) -> Athletes:
    """Make one usual athlete.

    Unbroken sets of movements given by name, blanks written as underscores, replace the usual.
    """
    space = space_for(movements)
    athlete = athletes_at(space, np.zeros((1, space.size)), np.array([form == "exponential"]))
    sets = athlete.unbroken.copy()
    for name, reps in unbroken.items():
        wanted = name.replace("_", " ")
        column = next(
            i for i, load in enumerate(space.loads) if load.movement.replace("-", " ") == wanted
        )
        sets[:, column] = reps
    return replace(athlete, unbroken=sets)
