"""Whether the film looks uncut, in sentences."""

from counting.record.types import AuditRecord


def continuity_sentences(record: AuditRecord) -> list[str]:
    """Say what the continuity test found; one sentence a finding."""
    if record.continuity is None:
        return ["not tested"]
    words = record.continuity.get("words")
    return [str(words)] if words else ["not tested"]


def film_in_doubt(record: AuditRecord) -> bool:
    """Whether the film is not certain to show one uncut attempt of one person."""
    found = record.continuity or {}
    return bool(found.get("breaks")) or bool(record.athlete.identity_breaks_s)
