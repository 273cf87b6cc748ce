"""The final sheet as CSV and JSON."""

from typing import Any, Final

import msgspec

from cli.wording import check_sentence, deciding_checks
from counting.record.tables import csv_text, fixed
from counting.record.types import AuditRecord
from counting.review.decisions import Decision, without_rep
from counting.review.sheet import ReviewedRep, ReviewedSheet

SHEET_SCHEMA: Final = "repwitness.sheet/1"

COLUMNS: Final = (
    "rep",
    "set",
    "movement",
    "start_s",
    "turn_s",
    "counted_s",
    "end_s",
    "measured",
    "probability_good",
    "verdict",
    "state",
    "reviewers",
    "standards",
    "decided_at",
    "notes",
    "measured_reason",
)


def sheet_csv(sheet: ReviewedSheet, doubt: str | None = None) -> str:
    """Write one line a rep: what was measured, what stands, who decided, when, and why.

    ``doubt``, what the seal tells against the record, is put on every line.
    """
    rows = []
    for rep, part in zip(sheet.reps, sheet.record.reps, strict=True):
        calls = _definite(rep)
        rows.append(
            [
                part.number,
                part.set,
                part.movement,
                fixed(part.start_s, 3),
                fixed(part.turn_s, 3),
                None if part.counted_s is None else fixed(part.counted_s, 3),
                fixed(part.end_s, 3),
                rep.measured.verdict,
                fixed(rep.measured.probability_good, 4),
                rep.verdict,
                rep.state,
                "; ".join(f"{row.reviewer}: {row.call}" for row in calls),
                "; ".join(f"{row.reviewer}: {row.standard}" for row in calls if row.standard),
                max((row.at for row in calls), default=None),
                "; ".join(row.note for row in calls if row.note),
                "; ".join(check_sentence(check) for check in deciding_checks(rep.measured)),
            ]
        )
    return csv_text(COLUMNS, rows, doubt)


def sheet_document(
    measured: AuditRecord,
    sheet: ReviewedSheet,
    decisions: list[Decision],
    signed: dict[str, Any] | None,
) -> dict[str, Any]:
    """Build the sheet as a document: the standing verdicts and counts, and the whole log.

    Parameters
    ----------
    measured
        The audit before review.
    sheet
        The sheet as it stands.
    decisions
        Every row of the film's log, also those taken back.
    signed
        Reviewer, time and whether calls were changed since, or None where nobody has signed.
    """
    return {
        "schema": SHEET_SCHEMA,
        "film": {"file": measured.film.file, "sha256": measured.film.sha256},
        "counts": msgspec.to_builtins(sheet.record.counts),
        "measured_counts": msgspec.to_builtins(measured.counts),
        "reps": [
            {
                "number": part.number,
                "set": part.set,
                "movement": part.movement,
                "turn_s": part.turn_s,
                "counted_s": part.counted_s,
                "measured": rep.measured.verdict,
                "probability_good": rep.measured.probability_good,
                "verdict": rep.verdict,
                "state": rep.state,
                "calls": [
                    {
                        "reviewer": row.reviewer,
                        "call": row.call,
                        "standard": row.standard,
                        "note": row.note,
                        "at": row.at,
                    }
                    for row in rep.calls.values()
                ],
            }
            for rep, part in zip(sheet.reps, sheet.record.reps, strict=True)
        ],
        "workout": msgspec.to_builtins(sheet.record.workout),
        "log": [msgspec.to_builtins(row) for row in decisions],
        "log_without_rep": [row.id for row in without_rep(measured, decisions)],
        "signed": signed,
    }


def _definite(rep: ReviewedRep) -> list[Decision]:
    return [row for row in rep.calls.values() if row.call != "skip"]
