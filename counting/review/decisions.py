"""Decisions of reviewers: an append-only list, and which of them stand."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from counting.record.types import AuditRecord, RepPart

Call = Literal["good", "no-rep", "skip"]

SAME_REP_S: Final = 0.35
"""How far a rep's turn may have moved in a new audit of the same film to be the same rep."""


@dataclass(frozen=True, slots=True)
class Decision:
    """One reviewer's call on one rep, or, with ``undoes``, the taking back of an earlier one.

    Attributes
    ----------
    id
        Position in the list, from 1, strictly increasing.
    film_sha256
        Digest of the film: a decision belongs to the film, whatever the audit's folder is called.
    rep, movement, turn_s
        The rep as it was numbered, named and timed when it was decided.
    reviewer
        Who decided.
    call
        The call; "skip" leaves the rep as it was measured.
    note
        The reviewer's remark, may be empty.
    at
        When, ISO 8601 in UTC.
    undoes
        ``id`` of the decision taken back; such a row is no call itself.
    standard
        Name of the check that a no-rep failed, where the reviewer named it; else empty.
    """

    id: int
    film_sha256: str
    rep: int
    movement: str
    turn_s: float
    reviewer: str
    call: Call
    note: str
    at: str
    undoes: int | None = None
    standard: str = ""


def standing(decisions: Iterable[Decision]) -> list[Decision]:
    """Drop what was taken back, in the order of the list.

    Taking back is itself final: only calls can be undone.
    """
    rows = list(decisions)
    undone = {row.undoes for row in rows if row.undoes is not None}
    return [row for row in rows if row.undoes is None and row.id not in undone]


def latest_calls(
    record: AuditRecord, decisions: Iterable[Decision]
) -> dict[int, dict[str, Decision]]:
    """Give each reviewer's latest standing call by rep number, then by reviewer.

    A decision is matched to the rep of the same movement whose turn is nearest in time, within
    `SAME_REP_S`, so that it survives a new audit that numbers the reps anew.
    """
    latest: dict[int, dict[str, Decision]] = {}
    for decision in standing(decisions):
        rep = matching_rep(record, decision)
        if rep is not None:
            latest.setdefault(rep.number, {})[decision.reviewer] = decision
    return latest


def without_rep(record: AuditRecord, decisions: Iterable[Decision]) -> list[Decision]:
    """Give the standing decisions whose rep is no longer in the audit."""
    return [row for row in standing(decisions) if matching_rep(record, row) is None]


def matching_rep(record: AuditRecord, decision: Decision) -> RepPart | None:
    """Find the rep that a decision is about; None where the audit no longer holds it."""
    if decision.film_sha256 != record.film.sha256:
        return None
    near = [
        rep
        for rep in record.reps
        if rep.movement == decision.movement and abs(rep.turn_s - decision.turn_s) <= SAME_REP_S
    ]
    return min(near, key=lambda rep: abs(rep.turn_s - decision.turn_s), default=None)
