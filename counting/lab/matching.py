"""Pairing what was found in a film with what is truly there."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

Interval = tuple[float, float]

LEAST_SHARED: Final = 0.3
"""Two intervals that share less than this of the time they cover together are not the same."""


@dataclass(frozen=True, slots=True)
class Matching:
    """Pairs of indices (true, found), and what has no partner."""

    pairs: tuple[tuple[int, int], ...]
    missed: tuple[int, ...]
    invented: tuple[int, ...]


def match(true: Sequence[Interval], found: Sequence[Interval]) -> Matching:
    """Pair intervals one to one, those that share most of their time first.

    Parameters
    ----------
    true, found
        (start, end) in seconds, each in film order.
    """
    shared = sorted(
        (
            (_shared(a, b), i, j)
            for i, a in enumerate(true)
            for j, b in enumerate(found)
            if min(a[1], b[1]) > max(a[0], b[0])
        ),
        reverse=True,
    )
    pairs: dict[int, int] = {}
    for share, i, j in shared:
        if share >= LEAST_SHARED and i not in pairs and j not in pairs.values():
            pairs[i] = j
    return Matching(
        pairs=tuple(sorted(pairs.items())),
        missed=tuple(i for i in range(len(true)) if i not in pairs),
        invented=tuple(j for j in range(len(found)) if j not in pairs.values()),
    )


def _shared(a: Interval, b: Interval) -> float:
    together = max(a[1], b[1]) - min(a[0], b[0])
    return (min(a[1], b[1]) - max(a[0], b[0])) / together if together > 0 else 0.0
