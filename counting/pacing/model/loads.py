"""What each movement draws on, as its standard says, and the rep-maximum formulas behind it."""

import tomllib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final

import msgspec
import numpy as np

from counting.movements.loader import built_in_movements
from counting.movements.types import Movement
from counting.pacing.model.reservoir import FloatArray

BODY_KG: Final = 75.0
"""Mass of the usual body: what a rep without a bar moves (common practice, no source)."""

_STANDARDS: ContextVar[tuple[Movement, ...] | None] = ContextVar("standards", default=None)

SOFT_ZERO_REPS: Final = 0.5
"""Width, in reps, over which the formula passes from "cannot do it" to its straight line."""


class PacingError(ValueError):
    """Something a plan needs is missing or does not fit; the message says what to do."""


@dataclass(frozen=True)
class Group:
    """A group of muscles with a reservoir of its own; ``strength`` is the usual athlete's."""

    name: str
    words: str
    strength: float
    spread: float


@dataclass(frozen=True)
class Load:
    """What one movement draws on; units and meaning are told in ``loads.toml``."""

    movement: str
    main: str
    loads: dict[str, float]
    demand: float
    spread: float
    cycle_s: float
    break_s: float
    intensity: float
    usual_kg: float | None = None

    def moved_kg(self, load_kg: float | None) -> float:
        """Mass that a rep moves: the bar's, or the body's with what hangs on it."""
        if self.usual_kg is not None:
            return load_kg or self.usual_kg
        return BODY_KG + (load_kg or 0.0)


@cache
def known_groups() -> dict[str, Group]:
    """All groups of muscles by name."""
    return {
        name: Group(name, row["words"], row["strength"], row["spread"])
        for name, row in _document()["groups"].items()
    }


@contextmanager
def planning_with(movements: Iterable[Movement]) -> Iterator[None]:
    """Plan with the loads of these standards, a user's own among them, instead of those shipped."""
    token = _STANDARDS.set(tuple(movements))
    try:
        yield
    finally:
        _STANDARDS.reset(token)


def known_loads() -> dict[str, Load]:
    """All movements that can be planned, by name: those whose standard tells a load."""
    return _loads_of(_STANDARDS.get() or built_in_movements())


def _loads_of(movements: tuple[Movement, ...]) -> dict[str, Load]:
    return {
        movement.name: Load(movement=movement.name, **msgspec.structs.asdict(movement.load))
        for movement in movements
        if movement.load is not None
    }


def load_of(movement: str) -> Load:
    """Load of one movement.

    Raises
    ------
    PacingError
        The movement has no loads.
    """
    loads = known_loads()
    if movement not in loads:
        known = ", ".join(sorted(loads))
        raise PacingError(
            f"no muscle loads for {movement!r}: its standard has no [load]; movements that can be "
            f"planned: {known}"
        )
    return loads[movement]


def unbroken_from_strength(strength: FloatArray | float, demand: float) -> FloatArray:
    """Reps in one set that an athlete of a strength can do against a demand.

    Parameters
    ----------
    strength, demand
        On one scale; a ratio of 1 is one rep at the very limit.

    Returns
    -------
    Reps, above zero; below one where the movement is out of reach.

    Notes
    -----
    Epley's rep-maximum formula turned round, ``r = 30 (strength / demand - 1)``, bent to stay
    positive. Rep-maximum formulas part ways above ten reps; here it only says where estimates
    start, with a wide spread.
    """
    reps = 30.0 * (np.asarray(strength, dtype=np.float64) / demand - 1.0)
    bent: FloatArray = SOFT_ZERO_REPS * np.logaddexp(0.0, reps / SOFT_ZERO_REPS)
    return bent


def unbroken_at(unbroken: FloatArray | float, at_kg: float, other_kg: float) -> FloatArray:
    """Reps in one set with another mass, from the reps with a known one.

    Notes
    -----
    Epley's formula both ways, as in `unbroken_from_strength`: the one-rep maximum is
    ``at_kg (1 + unbroken / 30)``.
    """
    if other_kg == at_kg:
        return np.asarray(unbroken, dtype=np.float64)
    return unbroken_from_strength(at_kg * _strength(unbroken), other_kg)


def one_rep_maximum_kg(unbroken: FloatArray | float, at_kg: float) -> FloatArray:
    """One-rep maximum of an athlete who does so many reps in one set with a mass."""
    maximum: FloatArray = at_kg * _strength(unbroken) / _strength(1.0)
    return maximum


def _strength(unbroken: FloatArray | float) -> FloatArray:
    """Strength over demand that gives so many reps: `unbroken_from_strength` turned round."""
    bent = np.maximum(np.asarray(unbroken, dtype=np.float64), 1e-6) / SOFT_ZERO_REPS
    strength: FloatArray = 1.0 + SOFT_ZERO_REPS * (bent + np.log(-np.expm1(-bent))) / 30.0
    return strength


@cache
def _document() -> dict[str, dict[str, dict[str, Any]]]:
    text = files("counting.pacing.model").joinpath("loads.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
