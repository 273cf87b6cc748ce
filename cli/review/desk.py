"""What the desk knows: audits and the log put together, for pages, scripts and exports."""

import json
from dataclasses import dataclass
from typing import Any

import msgspec

from cli.answer import answer_of
from cli.report.continuity import film_in_doubt
from cli.review.exports import sheet_csv, sheet_document
from cli.review.library import Attempt, Library
from cli.review.log import DecisionLog, Signed
from cli.summary import flagged
from counting.review.agreement import PairAgreement, agreement
from counting.review.decisions import Decision
from counting.review.sheet import ReviewedRep, ReviewedSheet, Triage, reviewed_sheet, triage_of


@dataclass(frozen=True, slots=True)
class Line:
    """One attempt in the list; ``shown`` is the sheet that the list may tell."""

    attempt: Attempt
    sheet: ReviewedSheet
    shown: ReviewedSheet
    triage: Triage
    score: str
    score_words: str
    reviewers: list[str]
    seen: int
    flagged: int
    signed: Signed | None
    changed_since: bool


@dataclass(frozen=True, slots=True)
class Opened:
    """One attempt with its log and the sheet as it stands."""

    attempt: Attempt
    sheet: ReviewedSheet
    decisions: list[Decision]
    signed: Signed | None

    @property
    def changed_since(self) -> bool:
        """Whether calls were made or taken back after the sheet was signed off."""
        last = self.decisions[-1].id if self.decisions else 0
        return self.signed is not None and last > self.signed.last_decision


class Desk:
    """All that the pages need; safe to be used by several threads."""

    def __init__(self, library: Library, log: DecisionLog) -> None:
        self.library = library
        self.log = log
        self._lines: dict[str, tuple[Attempt, int, Signed | None, Line]] = {}

    def lines(self) -> list[Line]:
        """Give all attempts, those first at which a human look is worth most."""
        by_film: dict[str, list[Decision]] = {}
        for row in self.log.decisions():
            by_film.setdefault(row.film_sha256, []).append(row)
        signatures = self.log.signatures()
        lines = [
            self._line(
                attempt,
                by_film.get(attempt.record.film.sha256, []),
                signatures.get(attempt.record.film.sha256),
            )
            for attempt in self.library.attempts()
        ]
        return sorted(lines, key=lambda line: line.triage.rank, reverse=True)

    def _line(self, attempt: Attempt, decisions: list[Decision], signed: Signed | None) -> Line:
        """Work an attempt's line out, or take it as it was where nothing has changed since."""
        last = decisions[-1].id if decisions else 0
        kept = self._lines.get(attempt.key)
        if kept is not None and kept[0] is attempt and kept[1:3] == (last, signed):
            return kept[3]
        line = _line(attempt, decisions, signed)
        self._lines[attempt.key] = (attempt, last, signed, line)
        return line

    def open(self, key: str) -> Opened | None:
        """Open one attempt; None where the folder holds none of that key."""
        attempt = self.library.attempt(key)
        if attempt is None:
            return None
        sha256 = attempt.record.film.sha256
        decisions = self.log.decisions(sha256)
        sheet = reviewed_sheet(attempt.record, decisions)
        return Opened(attempt, sheet, decisions, self.log.signatures().get(sha256))

    def agreement(self) -> list[PairAgreement]:
        """Compare all pairs of reviewers over all attempts."""
        records = [attempt.record for attempt in self.library.attempts()]
        return agreement(records, self.log.decisions())


def score_words(opened: Opened) -> tuple[str, str]:
    """Give the score that stands now and the words under it."""
    answer = answer_of(opened.sheet.record)
    return answer.value, answer.words


def state_of(opened: Opened, reviewer: str) -> dict[str, Any]:
    """Describe the standing calls for one reviewer's page.

    Until this reviewer has called every flagged rep, tally and score follow from this reviewer's
    calls alone and nothing of anybody else's shows, so that two reviewers judge independently.
    """
    done = _all_called(opened, reviewer)
    shown = opened if done else _seen_alone(opened, reviewer)
    value, words = score_words(shown)
    counts = shown.sheet.record.counts
    return {
        "score": value,
        "words": words,
        "counts": {
            "good": counts.good,
            "no-rep": counts.no_rep,
            "too close": counts.too_close,
            "only counted": counts.only_counted,
        },
        "reps": [_rep_state(rep, reviewer) for rep in shown.sheet.reps],
        "signed": signed_words(shown),
        "blind": not done and _others_called(opened, reviewer),
    }


def _all_called(opened: Opened, reviewer: str) -> bool:
    """Whether a reviewer has called or skipped every rep that the audit flagged."""
    to_call = {rep.number for rep in flagged(opened.attempt.record)}
    called = {rep.measured.number for rep in opened.sheet.reps if reviewer in rep.calls}
    return bool(reviewer) and to_call <= called


def _others_called(opened: Opened, reviewer: str) -> bool:
    return any(name != reviewer for rep in opened.sheet.reps for name in rep.calls)


def _seen_alone(opened: Opened, reviewer: str) -> Opened:
    """Give the attempt as if nobody but this reviewer had called any of its reps."""
    own = [row for row in opened.decisions if row.reviewer == reviewer]
    record, signed = opened.attempt.record, opened.signed
    mine = signed is not None and signed.reviewer == reviewer
    return Opened(opened.attempt, reviewed_sheet(record, own), own, signed if mine else None)


def signed_words(opened: Opened) -> str | None:
    """Say who signed the sheet off, and whether it changed since; None where nobody did."""
    if opened.signed is None:
        return None
    words = f"signed off by {opened.signed.reviewer}, {readable(opened.signed.at)}"
    return words + ("; calls were changed since" if opened.changed_since else "")


def readable(at: str) -> str:
    """Write a time of the log for people: ``2026-11-25 09:10 UTC``."""
    return f"{at[:10]} {at[11:16]} UTC"


def csv_of(opened: Opened) -> str:
    """Write the sheet as CSV."""
    return sheet_csv(opened.sheet, opened.attempt.doubt)


def json_of(opened: Opened) -> str:
    """Write the sheet as JSON."""
    signed = None
    if opened.signed is not None:
        signed = {
            "reviewer": opened.signed.reviewer,
            "at": opened.signed.at,
            "changed_since": opened.changed_since,
        }
    document = sheet_document(opened.attempt.record, opened.sheet, opened.decisions, signed)
    if opened.attempt.doubt is not None:
        document["doubt"] = opened.attempt.doubt
    return json.dumps(msgspec.to_builtins(document), indent=1, ensure_ascii=False) + "\n"


def frame_times(attempt: Attempt) -> list[float]:
    """Read the presentation time of every frame from the landmark file; empty without one."""
    from cli.review.views import track_of

    track = track_of(attempt)
    if track is None:
        return []
    return [round(float(time_s), 5) for time_s in track.time_s]


def _rep_state(rep: ReviewedRep, reviewer: str) -> dict[str, Any]:
    mine = rep.calls.get(reviewer)
    return {
        "number": rep.measured.number,
        "verdict": rep.verdict,
        "state": rep.state,
        "mine": None if mine is None else mine.call,
        "note": "" if mine is None else mine.note,
        "standard": "" if mine is None else mine.standard,
        "others": {name: row.call for name, row in rep.calls.items() if name != reviewer},
    }


def _line(attempt: Attempt, decisions: list[Decision], signed: Signed | None) -> Line:
    sheet = reviewed_sheet(attempt.record, decisions)
    opened = Opened(attempt, sheet, decisions, signed)
    to_see = {rep.number for rep in flagged(attempt.record)}
    seen = [rep for rep in sheet.reps if rep.measured.number in to_see and rep.calls]
    doubt = film_in_doubt(attempt.record) and signed is None
    # The list knows no reviewer. Before a sheet is signed it shows what was measured, or a second
    # reviewer would read the first one's calls from it.
    shown = sheet if signed is not None else reviewed_sheet(attempt.record, [])
    score, words = score_words(Opened(attempt, shown, [], signed))
    return Line(
        attempt=attempt,
        sheet=sheet,
        shown=shown,
        triage=triage_of(sheet, film_in_doubt=doubt),
        score=score,
        score_words=words,
        reviewers=sorted({name for rep in sheet.reps for name in rep.calls}),
        seen=len(seen),
        flagged=len(to_see),
        signed=signed,
        changed_since=opened.changed_since,
    )
