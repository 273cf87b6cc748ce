"""Whether looking sparingly finds what looking at every frame finds."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

_DEFINITE: Final = frozenset({"good", "no-rep"})


@dataclass(frozen=True, slots=True)
class Compared:
    """Reps of two audits of the same films, and how many of them came out otherwise.

    Attributes
    ----------
    reps
        Reps of the second audits.
    counted_otherwise
        Difference of the numbers of reps, summed over films.
    opposite
        Reps good in one audit and a no-rep in the other.
    moved
        Reps too close to call in one audit only.
    """

    reps: int = 0
    counted_otherwise: int = 0
    opposite: int = 0
    moved: int = 0

    def __add__(self, other: "Compared") -> "Compared":
        return Compared(
            self.reps + other.reps,
            self.counted_otherwise + other.counted_otherwise,
            self.opposite + other.opposite,
            self.moved + other.moved,
        )


def compared(one: Sequence[str], other: Sequence[str]) -> Compared:
    """Compare the verdicts of two audits of one film, in film order.

    Where they count differently, verdicts are compared as far as both go.
    """
    pairs = list(zip(one, other, strict=False))
    return Compared(
        reps=len(other),
        counted_otherwise=abs(len(one) - len(other)),
        opposite=_count(pairs, definite=2),
        moved=_count(pairs, definite=1),
    )


def _count(pairs: Sequence[tuple[str, str]], definite: int) -> int:
    """Pairs that differ and of which so many are definite."""
    return sum(a != b and len({a, b} & _DEFINITE) == definite for a, b in pairs)
