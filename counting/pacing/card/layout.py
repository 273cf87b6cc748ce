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
    if document.lifts:
        return Layout(tuple(_lift_lines(document)), {})
    lines: list[Line] = []
    passings: dict[int, tuple[Passing, ...]] = {}
    for _, block in groupby(document.rows, key=lambda row: row.block):
        rounds = [
            one
            for _, rows in groupby(block, key=lambda row: row.round)
            for one in _turns(list(rows))
        ]
        alike = len(rounds) >= LEAST_EQUAL_ROUNDS and len({_way(rows) for rows in rounds[:-1]}) == 1
        if alike and _way(rounds[0])[: len(rounds[-1])] == _way(rounds[-1]):
            due_s = rounds[0][0].due_s if rounds[0][0].rounds == 1 else None
            until = "" if due_s is None else f" to {clock(due_s, 0)}"
            for row in rounds[0]:
                place = f"every round{until}" if row is rounds[0][0] else ""
                at = rounds[0].index(row)
                weak = any(own[at].decisive for own in rounds if at < len(own))
                lines.append(_cells(row, place, "", "", first=bool(place), decisive=weak))
            passings[len(lines) - 1] = tuple(
                _passing(rows, number if rounds[0][0].rounds == 1 else rows[-1].round)
                for number, rows in enumerate(rounds, start=1)
                if number == 1 or any(row.usual_reps for row in rows)
            )
        else:
            lines += [_line(row, first=row is rows[0]) for rows in rounds for row in rows]
    return Layout(tuple(lines), passings)


def _lift_lines(document: PlanDocument) -> list[Line]:
    """One line for each attempt at a maximum load."""
    blocks = [list(rows) for _, rows in groupby(document.rows, key=lambda row: row.block)]
    lines = []
    for number, (rows, lift) in enumerate(zip(blocks, document.lifts, strict=True), start=1):
        rest_s = rows[0].fixed_rest_s
        how = [f"goes in {10 * lift.goes:.0f} of 10"]
        how += [f"{clock(rest_s, 0)} rest before"] if rest_s else []
        lines.append(
            Line(
                place=f"{number}",
                work=" + ".join(f"{row.reps} {plural(row.movement, row.reps)}" for row in rows),
                sets=f"{lift.load_kg:.4g} kg",
                how=", ".join(how),
                mark="",
                band="",
                first=True,
                decisive=False,
            )
        )
    return lines


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


def _turns(rows: list[Row]) -> list[list[Row]]:
    """Cut a round whose stations come again and again into its turns."""
    ways = [_way([row]) for row in rows]
    for length in range(1, len(rows) // LEAST_EQUAL_ROUNDS + 1):
        if ways == (ways[:length] * len(rows))[: len(rows)]:
            return [rows[start : start + length] for start in range(0, len(rows), length)]
    return [rows]


def _passing(rows: Sequence[Row], number: int) -> Passing:
    last = rows[-1]
    mark = clock(last.mark.middle_s, 0)
    if last.mark.middle_s is None:
        counted = [row for row in rows if row.timed_s is None]
        done, reps = sum(row.usual_reps for row in counted), sum(row.reps for row in counted)
        endless = any(row.as_many for row in counted)
        mark = _done_words(done, None if endless else reps) if reps else ""
    return Passing(f"{number}", mark, band_words(last), any(row.decisive for row in rows))


def _line(row: Row, *, first: bool) -> Line:
    place = place_words(row.block, row.round, row.rounds, row.due_s) if first else ""
    mark = clock(row.mark.middle_s, 0)
    if row.mark.middle_s is None:
        asked = None if row.as_many else row.reps
        mark = _done_words(row.usual_reps, asked) if row.timed_s is None else ""
    return _cells(row, place, mark, band_words(row), first=first, decisive=row.decisive)


def _cells(row: Row, place: str, mark: str, band: str, *, first: bool, decisive: bool) -> Line:
    if row.timed_s is not None:
        return Line(
            place=place,
            work=row.movement,
            sets=clock(row.timed_s, 0),
            how="at a pace you can hold",
            mark=mark,
            band=band,
            first=first,
            decisive=decisive,
        )
    return Line(
        place=place,
        work=work_words(row),
        sets=big_sets(row),
        how=", ".join(how_words(row)),
        mark=mark,
        band=band,
        first=first,
        decisive=decisive,
    )


def work_words(row: Row) -> str:
    """Name a station: ``9 thrusters, 43 kg``, ``as many burpees as you can``."""
    load = f", {row.load_kg:.3g} kg" if row.load_kg is not None else ""
    if row.timed_s is not None:
        return row.movement
    if row.as_many:
        return f"as many {plural(row.movement)} as you can{load}"
    return f"{row.reps} {plural(row.movement, row.reps)}{load}"


def _done_words(done: int, asked: int | None) -> str:
    """Reps that are usually done where the work is not: ``12 of 18 reps``."""
    return f"{done} reps" if asked is None else f"{done} of {asked} reps"


def big_sets(row: Row) -> str:
    """Write sets so short that they are read across a room."""
    sets = tuple(row.sets)
    if sets == (1,):
        return "1"
    if row.as_many and max(sets) > 1:
        return f"{max(sets)}s"
    if row.able < 1.0 or (len(sets) > 1 and set(sets) == {1}):
        return "singles"
    if len(sets) <= MOST_NUMERALS:
        return "+".join(map(str, sets))
    larger, *smaller = dict.fromkeys(sets)
    if sum(map(sets.count, smaller)) == 1:
        return f"{larger}s"
    return " then ".join(f"{size}s" for size in (larger, *smaller))


def how_words(row: Row) -> list[str]:
    """Tell how sets are done: unbroken, the rests, what to do in them, and the pace."""
    words = []
    if row.able < 1.0 and row.reps == 1:
        words.append("out of reach by the estimate")
    elif row.able < 1.0:
        words.append("out of reach: single tries, a minute or two between")
    elif row.reached < SELDOM_REACHED:
        words.append("few get here")
    if len(row.sets) > MOST_NUMERALS and set(row.sets) != {1} and not row.as_many:
        words.append(set_words(tuple(row.sets)).replace(" × ", " sets of "))
    if len(row.sets) == 1 and row.sets[0] > 1:
        words.append("unbroken")
    if row.swaps:
        rests = rest_words(row.rests_s or [row.rest_before_s])
        words.append(f"swap after every set, about {rests} off")
    elif row.rests_s and row.able >= 1.0:
        words.append(f"{rest_words(row.rests_s)} between{_rest_use(row)}")
    if row.fixed_rest_s:
        words.append(f"{clock(row.fixed_rest_s, 0)} scheduled rest before")
    if row.rest_before_s and not row.swaps:
        words.append(f"wait {row.rest_before_s:.0f} s before")
    if effort_words(row.effort):
        words.append(effort_words(row.effort))
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
