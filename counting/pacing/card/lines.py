"""The lines of a plan card, for paper and terminal alike; many equal rounds are told once."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from counting.pacing.card.document import PlanDocument, Row
from counting.pacing.card.words import clock, effort_words, place_words, rest_words
from counting.pacing.search.plan import plural, set_words

LONGEST_CARD: Final = 14
"""A card with more stations tells the work of equal rounds once, and then a mark for each round."""

LEAST_EQUAL_ROUNDS: Final = 3


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


def lines_of(document: PlanDocument) -> list[Line]:
    """Lay a plan out as the lines of a card."""
    lines: list[Line] = []
    for _, block in groupby(document.rows, key=lambda row: row.block):
        rounds = [list(rows) for _, rows in groupby(block, key=lambda row: row.round)]
        alike = len(rounds) >= LEAST_EQUAL_ROUNDS and len({_way(rows) for rows in rounds[:-1]}) == 1
        alike = alike and _way(rounds[0])[: len(rounds[-1])] == _way(rounds[-1])
        if alike and len(document.rows) > LONGEST_CARD:
            lines += _told_once(rounds)
        else:
            lines += [_line(row, first=row is rows[0]) for rows in rounds for row in rows]
    return lines


def beyond_words(document: PlanDocument) -> str:
    """Tell how much of the workout the card leaves off; empty where it is all there."""
    number = document.rows_beyond
    if not number:
        return ""
    if document.endless:
        return "A good day goes further: keep the same sets."
    return f"and {number} more station{'s' if number > 1 else ''} that few attempts reach"


def _way(rows: Sequence[Row]) -> tuple[object, ...]:
    return tuple(
        (row.movement, tuple(row.sets), tuple(row.rests_s), row.rest_before_s, row.effort)
        for row in rows
    )


def _told_once(rounds: Sequence[Sequence[Row]]) -> list[Line]:
    lines = []
    for row in rounds[0]:
        place = "every round" if row is rounds[0][0] else ""
        lines.append(_cells(row, place, "", "", first=bool(place), decisive=False))
    for rows in rounds:
        last = rows[-1]
        weak = next((row for row in rows if row.decisive), None)
        done, reps = sum(row.usual_reps for row in rows), sum(row.reps for row in rows)
        mark = clock(last.mark.middle_s)
        if last.mark.middle_s is None:
            mark = f"{done} of {reps} reps at the cap"
        lines.append(
            Line(
                place=f"{last.round}",
                work="" if weak is None else f"decisive: {plural(weak.movement, weak.reps)}",
                sets="",
                how="",
                mark=mark,
                band=band_words(last),
                first=rows is rounds[0],
                decisive=weak is not None,
            )
        )
    return lines


def _line(row: Row, *, first: bool) -> Line:
    place = place_words(row.block, row.round, row.rounds) if first else ""
    mark = clock(row.mark.middle_s)
    if row.mark.middle_s is None:
        mark = f"{row.usual_reps} of {row.reps} at the cap"
    return _cells(row, place, mark, band_words(row), first=first, decisive=row.decisive)


def _cells(row: Row, place: str, mark: str, band: str, *, first: bool, decisive: bool) -> Line:
    return Line(
        place=place,
        work=f"{row.reps} {plural(row.movement, row.reps)}",
        sets=set_words(tuple(row.sets)),
        how=", ".join(how_words(row)),
        mark=mark,
        band=band,
        first=first,
        decisive=decisive,
    )


def how_words(row: Row) -> list[str]:
    """Tell the rests between the sets, what to do before the first rep, and the pace."""
    words = []
    if row.rests_s:
        words.append(f"{rest_words(row.rests_s)} between")
    if row.fixed_rest_s:
        words.append(f"{clock(row.fixed_rest_s)} ordered rest before")
    if row.rest_before_s:
        words.append(f"wait {row.rest_before_s:.0f} s before")
    if effort_words(row.effort):
        words.append(effort_words(row.effort))
    return words


def band_words(row: Row) -> str:
    """Tell the 80 % interval of a mark."""
    if row.mark.early_s is None:
        return ""
    if row.mark.late_s is None:
        return f"{clock(row.mark.early_s)} or later"
    return f"{clock(row.mark.early_s)} to {clock(row.mark.late_s)}"
