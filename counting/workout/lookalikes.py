"""Stations at which something else seems to be done than asked."""

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from counting.record.types import RepPart
from counting.workout.alignment import Following, blanked
from counting.workout.flags import flag_at
from counting.workout.likeness import film_likeness
from counting.workout.record import FlagPart

FEWEST_REPS: Final = 3
"""Reps of a visit from which it is asked what they look like: one may be misread whole."""


def lookalike_flags(following: Following, reps: Sequence[RepPart]) -> list[FlagPart]:
    """Flag each visit to a station whose motion clearly looks like another movement.

    Parameters
    ----------
    following
        What was done when.
    reps
        The reps followed, in the same order, each on its line of the sheet.
    """
    found = []
    pairs = zip(following.reps, reps, strict=True)
    for (movement, run), group in groupby(pairs, key=lambda pair: (pair[1].movement, pair[0].run)):
        visit = [rep for _, rep in group]
        track = following.tracks.get(movement)
        if run is None or track is None or len(visit) < FEWEST_REPS:
            continue
        kept = (track.time_s >= visit[0].start_s) & (track.time_s <= visit[-1].end_s)
        likeness = film_likeness(blanked(track, kept))
        other = None if likeness is None else likeness.looks_like_another(movement)
        if likeness is None or other is None:
            continue
        first = visit[0]
        words = f"this does not look like the {movement} {likeness.like_words(other)}"
        found.append(flag_at(first, "another movement", first.start_s, words))
    return found
