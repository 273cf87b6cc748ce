"""The lines of a plan card, for paper and terminal alike; equal rounds are told once."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from counting.pacing.card.document import PlanDocument, Row
from counting.pacing.card.words import effort_words, place_words, rest_words
from counting.pacing.model.loads import load_of
from counting.pacing.search.plan import plural, set_words
from vision.times import clock

LEAST_EQUAL_ROUNDS: Final = 3

SELDOM_REACHED: Final = 0.25
"""Stations that fewer attempts begin are marked as beyond most."""

BREATHE_S: Final = 10.0
CHALK_S: Final = 15.0
"""Rests long enough for a few breaths, and for chalk as well."""

MOST_NUMERALS: Final = 5
"""Sets that are written out one by one; more are told by their size."""

GRIP: Final = "pull"


@dataclass(frozen=True)
class Line:
    """One line: where, what, how, and where the clock should stand; empty cells are blank.

    ``first`` says that a round begins; ``decisive`` that the least sure station lies here.
    """

    place: str
    work: str
    sets: str
    how: str
    mark: str
    band: str
    first: bool
    decisive: bool


@dataclass(frozen=True)
class Passing:
    """Where the clock should stand at the end of a round that is done like the ones before."""

    place: str
    mark: str
    band: str
    decisive: bool


@dataclass(frozen=True)
class Layout:
    """A card: lines in order, and for rounds told once the clock at the end of each.

    ``passings`` belong to the block whose last line has the same index.
    """

    lines: tuple[Line, ...]
    passings: dict[int, tuple[Passing, ...]]


def layout_of(document: PlanDocument) -> Layout:
    """Lay a plan out as the lines of a card."""
    lines: list[Line] = []
    passings: dict[int, tuple[Passing, ...]] = {}
    for _, block in groupby(document.rows, key=lambda row: row.block):
        rounds = [list(rows) for _, rows in groupby(block, key=lambda row: row.round)]
        alike = len(rounds) >= LEAST_EQUAL_ROUNDS and len({_way(rows) for rows in rounds[:-1]}) == 1
        if alike and _way(rounds[0])[: len(rounds[-1])] == _way(rounds[-1]):
            for row in rounds[0]:
                place = "every round" if row is rounds[0][0] else ""
                weak = any(r.decisive and r.station == row.station for own in rounds for r in own)
                lines.append(_cells(row, place, "", "", first=bool(place), decisive=weak))
            passings[len(lines) - 1] = tuple(_passing(rows) for rows in rounds)
        else:
            lines += [_line(row, first=row is rows[0]) for rows in rounds for row in rows]
    return Layout(tuple(lines), passings)


def beyond_words(document: PlanDocument) -> str:
    """Tell how much of the workout the card leaves off; empty where it is all there."""
    number = document.rows_beyond
    if not number:
        return ""
    if document.endless:
        return "A good day goes further: keep the same sets."
    last = document.rows[-1]
    return (
        f"and {number} more station{'s' if number > 1 else ''} that few attempts reach: the score "
        f"is made up to the {plural(last.movement)} of round {last.round}; if you get "
        "further, keep the same sets"
    )


def _way(rows: Sequence[Row]) -> tuple[object, ...]:
    return tuple(
        (row.movement, tuple(row.sets), tuple(row.rests_s), row.effort, row.load_kg) for row in rows
    )


def _passing(rows: Sequence[Row]) -> Passing:
    last = rows[-1]
    mark = clock(last.mark.middle_s, 0)
    if last.mark.middle_s is None:
        done, reps = sum(row.usual_reps for row in rows), sum(row.reps for row in rows)
        mark = f"{done} of {reps} reps"
    return Passing(f"{last.round}", mark, band_words(last), any(row.decisive for row in rows))


def _line(row: Row, *, first: bool) -> Line:
    place = place_words(row.block, row.round, row.rounds) if first else ""
    mark = clock(row.mark.middle_s, 0)
    if row.mark.middle_s is None:
        mark = f"{row.usual_reps} of {row.reps} reps"
    return _cells(row, place, mark, band_words(row), first=first, decisive=row.decisive)


def _cells(row: Row, place: str, mark: str, band: str, *, first: bool, decisive: bool) -> Line:
    load = f", {row.load_kg:g} kg" if row.load_kg is not None else ""
    return Line(
        place=place,
        work=f"{row.reps} {plural(row.movement, row.reps)}{load}",
        sets=big_sets(row),
        how=", ".join(how_words(row)),
        mark=mark,
        band=band,
        first=first,
        decisive=decisive,
    )


def big_sets(row: Row) -> str:
    """Write sets so short that they are read across a room."""
    sets = tuple(row.sets)
    if row.able < 1.0 or (len(sets) > 1 and set(sets) == {1}):
        return "singles"
    if len(sets) <= MOST_NUMERALS:
        return "+".join(map(str, sets))
    return " then ".join(f"{size}s" for size in dict.fromkeys(sets))


def how_words(row: Row) -> list[str]:
    """Tell how sets are done: unbroken, the rests, what to do in them, and the pace."""
    words = []
    if row.able < 1.0:
        words.append("out of reach: single tries, full rests")
    elif row.reached < SELDOM_REACHED:
        words.append("few get here")
    if len(row.sets) > MOST_NUMERALS and set(row.sets) != {1}:
        words.append(set_words(tuple(row.sets)).replace(" × ", " sets of "))
    if len(row.sets) == 1 and row.sets[0] > 1:
        words.append("unbroken")
    if row.rests_s:
        words.append(f"{rest_words(row.rests_s)} between{_rest_use(row)}")
    if row.fixed_rest_s:
        words.append(f"{clock(row.fixed_rest_s, 0)} scheduled rest before")
    if row.rest_before_s:
        words.append(f"wait {row.rest_before_s:.0f} s before")
    if effort_words(row.effort):
        words.append(effort_words(row.effort))
    if row.due_s is not None and row.station == 1 and row.rounds == 1:
        words.append(f"counts until {clock(row.due_s, 0)}")
    return words


def _rest_use(row: Row) -> str:
    """Tell what a rest is for: breath, and chalk where the hands hang."""
    usual_s = min(row.rests_s)
    grips = load_of(row.movement).main == GRIP
    if grips and usual_s >= CHALK_S:
        return ": chalk, breathe"
    return ": breathe" if usual_s >= BREATHE_S else ""


def band_words(row: Row) -> str:
    """Tell the 80 % interval of a mark."""
    if row.mark.early_s is None:
        return ""
    if row.mark.late_s is None:
        return f"{clock(row.mark.early_s, 0)} or later"
    return f"{clock(row.mark.early_s, 0)}–{clock(row.mark.late_s, 0)}"
