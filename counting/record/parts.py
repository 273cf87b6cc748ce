"""What all parts of an audit record share: their common rules, bounded numbers, untimed films.

The bounds are far beyond anything a film can show: they keep a number that only a damaged or a
hand-made record holds from overflowing what is computed from it.
"""

from typing import Annotated, Final

import msgspec
from msgspec import Meta

from vision.film.limits import LONGEST_FILM_S

LARGEST_S: Final = 1e9
LARGEST: Final = 1e15
MOST: Final = 2**53
"""Whole numbers above this are not exact in every reader of JSON (RFC 8259, section 6)."""
TIMES_UNKNOWN: Final = (
    "the film's own frame times are missing or in disorder, so nothing in it can be timed; audit "
    "the film as the phone wrote it, or a copy converted to MP4"
)

Probability = Annotated[float, Meta(ge=0.0, le=1.0)]
Count = Annotated[int, Meta(ge=0, le=MOST)]
Number = Annotated[int, Meta(ge=1, le=MOST)]
Real = Annotated[float, Meta(ge=-LARGEST, le=LARGEST)]
Seconds = Annotated[float, Meta(ge=-LARGEST_S, le=LARGEST_S)]
FilmSeconds = Annotated[float, Meta(ge=0.0, le=LONGEST_FILM_S)]


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Common rules of all parts: frozen, named fields only, unknown fields refused."""
