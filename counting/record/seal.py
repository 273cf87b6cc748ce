"""The seal of an audit record: a digest of its content, by which editing it is noticed.

Anybody can compute a digest, so that a seal shows slips and careless edits, not forgery: against
that only auditing the film again helps.
"""

import hashlib
import json
from typing import Final

import msgspec
from msgspec.structs import replace

from counting.record.types import AuditRecord

EDITED: Final = "edited by hand: the record's seal does not fit its content"
UNSEALED: Final = "without a seal: an edit of the record by hand would not show"


def record_digest(record: AuditRecord) -> str:
    """SHA-256 of the record's content without its seal, lower-case hexadecimal.

    The content is written as JSON with sorted keys, no spaces and numbers in their shortest form
    that reads back the same, so that layout and order of keys do not matter.
    """
    # Through the types once more: a whole number given where seconds belong reads back as 5.0.
    typed = msgspec.convert(msgspec.to_builtins(record), AuditRecord)
    document = msgspec.to_builtins(typed)
    document.pop("digest", None)
    text = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def sealed(record: AuditRecord) -> AuditRecord:
    """Return the record with the digest of its content."""
    return replace(record, digest=record_digest(record))


def is_intact(record: AuditRecord) -> bool | None:
    """Whether the content is what was sealed; None for a record that was never sealed."""
    return None if record.digest is None else record.digest == record_digest(record)


def seal_doubt(record: AuditRecord) -> str | None:
    """Say what the seal tells against a record; None for one that is as it was sealed."""
    intact = is_intact(record)
    if intact is None:
        return UNSEALED
    return None if intact else EDITED


def stamp(doubt: str) -> str:
    """Shorten what the seal tells to what fits on a film or beside a name."""
    return doubt.partition(":")[0]
