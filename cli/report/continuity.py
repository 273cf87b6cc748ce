"""Whether the film looks uncut, in sentences."""

from counting.record.types import AuditRecord


def continuity_sentences(record: AuditRecord) -> list[str]:
    """Say what the continuity test found: the sum first, then one sentence a finding."""
    if record.continuity is None:
        return ["not tested"]
    said = [record.continuity.words, *(finding.words for finding in record.continuity.findings)]
    for view in record.further_films:
        if view.continuity is not None:
            found = (view.continuity.words, *(one.words for one in view.continuity.findings))
            said += [f"{view.film.file}: {words}" for words in found]
    return said


def not_shown_words(record: AuditRecord) -> str | None:
    """Name what was done to a film may not show in it; None where it was not tested or not told."""
    if record.continuity is None:
        return None
    return "; ".join(record.continuity.not_shown) or None


def film_in_doubt(record: AuditRecord) -> bool:
    """Whether the film is not certain to show one uncut attempt of one person."""
    told = [record.continuity, *(view.continuity for view in record.further_films)]
    broken = any(one is not None and not one.continuous for one in told)
    return broken or bool(record.athlete.identity_breaks_s)
