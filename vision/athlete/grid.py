"""How a film's time is divided: stretches that are followed, pieces of them that are sighted."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from vision.athlete.choosing import STRETCH_S, Bound
from vision.film.types import Film

PIECE_S: Final = 2.0
"""Pictures are decoded and sighted in pieces of this length: the threads that wait for the first
ones do not wait for a whole stretch."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Pictures that are decoded, and then sighted, at a time, all of one stretch.

    Attributes
    ----------
    stretch
        Number of the stretch.
    end_s
        Presentation time before which its pictures lie.
    is_first, is_last
        Whether it is the first or last piece of its stretch.
    """

    stretch: int
    end_s: float
    is_first: bool
    is_last: bool


def pieces_of(bounds: Sequence[Bound]) -> list[Piece]:
    """Divide stretches into pieces of `PIECE_S`, in film order."""
    pieces = []
    for number, (start_s, end_s) in enumerate(bounds):
        count = max(1, math.ceil((end_s - start_s) / PIECE_S))
        ends = [start_s + PIECE_S * part for part in range(1, count)] + [end_s]
        pieces += [
            Piece(number, piece_end_s, part == 0, part == count - 1)
            for part, piece_end_s in enumerate(ends)
        ]
    return pieces


def stretches_of(film: Film, start_s: float | None, end_s: float | None) -> list[Bound]:
    """Divide the part of a film to look at into stretches of `STRETCH_S`."""
    first = max(float(film.time_s[0]), start_s if start_s is not None else -np.inf)
    last = min(float(film.time_s[-1]) + 1e-3, end_s if end_s is not None else np.inf)
    count = max(1, int(np.ceil((last - first) / STRETCH_S)))
    edges = [first + STRETCH_S * index for index in range(count)] + [max(last, first)]
    return list(itertools.pairwise(edges))
