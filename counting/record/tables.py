"""The record's reps and sets as CSV (RFC 4180) for spreadsheets."""

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal
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
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", *"\uff1d\uff0b\uff0d\uff20")
"""The last four are the full-width forms of the first four."""


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


def csv_text(
    columns: Sequence[str], rows: Iterable[Sequence[object]], doubt: str | None = None
) -> str:
    """Write a table as CSV.

    Text that a spreadsheet would take for a formula gets an apostrophe before it; None is empty.
    ``doubt``, what the seal tells against the record that the table is from, becomes a last column.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    marks = [] if doubt is None else [doubt]
    writer.writerow([*columns, *(["doubt"] if marks else [])])
    writer.writerows([[_cell(value) for value in row] + marks for row in rows])
    return out.getvalue()


def fixed(value: float, decimals: int) -> Decimal:
    """Give a number for a cell with so many decimals; a text would be guarded as one."""
    return round(Decimal(value), decimals)


def plain_cell(text: str) -> str:
    """Keep a spreadsheet from running a cell as a formula (OWASP, CSV injection)."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def _cell(value: object) -> object:
    if value is None:
        return ""
    return plain_cell(value) if isinstance(value, str) else value
