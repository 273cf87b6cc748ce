"""Whether the film looks uncut, in sentences."""

from counting.record.types import AuditRecord


def continuity_sentences(record: AuditRecord) -> list[str]:
    """Say what the continuity test found; one sentence a finding."""
    if record.continuity is None:
        return ["not tested"]
    words = record.continuity.get("words")
    return [str(words)] if words else ["not tested"]
