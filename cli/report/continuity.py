"""Whether the film looks uncut, in sentences."""

from counting.record.types import AuditRecord


def continuity_sentences(record: AuditRecord) -> list[str]:
    """Say what the continuity test found: the sum first, then one sentence a finding."""
    if record.continuity is None:
        return ["not tested"]
    return [record.continuity.words, *(finding.words for finding in record.continuity.findings)]


def not_shown_words(record: AuditRecord) -> str | None:
    """Name what was done to a film may not show in it; None where it was not tested or not told."""
    if record.continuity is None:
        return None
    return "; ".join(record.continuity.not_shown) or None


def film_in_doubt(record: AuditRecord) -> bool:
    """Whether the film is not certain to show one uncut attempt of one person."""
    broken = record.continuity is not None and not record.continuity.continuous
    return broken or bool(record.athlete.identity_breaks_s)
