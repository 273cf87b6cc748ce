"""The record's reps and sets as CSV (RFC 4180) for spreadsheets."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Final

from counting.record.types import AuditRecord

REP_COLUMNS: Final = (
    "number",
    "set",
    "movement",
    "block",
    "round",
    "station",
    "start_s",
    "turn_s",
    "counted_s",
    "end_s",
    "cycle_s",
    "verdict",
    "probability_good",
    "reason",
)
SET_COLUMNS: Final = (
    "number",
    "movement",
    "first_rep",
    "last_rep",
    "good",
    "no_rep",
    "too_close",
    "only_counted",
    "start_s",
    "end_s",
    "work_s",
    "break_after_s",
    "break_kind",
)
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")


def reps_csv(record: AuditRecord) -> str:
    """One line a rep, in film order; empty where there is no value."""
    return csv_text(
        REP_COLUMNS,
        (
            (
                rep.number,
                rep.set,
                rep.movement,
                rep.block,
                rep.round,
                rep.station,
                rep.start_s,
                rep.turn_s,
                rep.counted_s,
                rep.end_s,
                round(rep.end_s - rep.start_s, 3),
                rep.verdict,
                rep.probability_good,
                rep.reason,
            )
            for rep in record.reps
        ),
    )


def sets_csv(record: AuditRecord) -> str:
    """One line a set, with the break after it."""
    gaps = {gap.after_set: gap for gap in record.breaks}
    verdicts = {rep.number: rep.verdict for rep in record.reps}
    rows: list[Sequence[object]] = []
    for own in record.sets:
        calls = [verdicts[number] for number in range(own.first_rep, own.last_rep + 1)]
        gap = gaps.get(own.number)
        rows.append(
            (
                own.number,
                own.movement,
                own.first_rep,
                own.last_rep,
                calls.count("good"),
                calls.count("no-rep"),
                calls.count("too close"),
                calls.count("only counted"),
                own.start_s,
                own.end_s,
                round(own.end_s - own.start_s, 3),
                None if gap is None else round(gap.end_s - gap.start_s, 3),
                None if gap is None else gap.kind,
            )
        )
    return csv_text(SET_COLUMNS, rows)


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write a table as CSV.

    Text that a spreadsheet would take for a formula gets an apostrophe before it; None is empty.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows([[_cell(value) for value in row] for row in rows])
    return out.getvalue()


def _cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return "'" + value
    return value
