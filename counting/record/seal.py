"""The seal of an audit record: a digest of its content, by which editing it is noticed.

Anybody can compute a digest, so that a seal shows slips and careless edits, not forgery: against
that only auditing the film again helps.
"""

import hashlib
import json
from collections.abc import Mapping
from typing import Any, Final

import msgspec
from msgspec.structs import replace

from counting.record.types import AuditRecord

EDITED: Final = "edited by hand: the record's seal does not fit its content"
UNSEALED: Final = "without a seal: an edit of the record by hand would not show"


def document_digest(document: Mapping[str, Any]) -> str:
    """SHA-256 of a record's JSON document without its seal, lower-case hexadecimal.

    The content is written with sorted keys, no spaces and numbers in their shortest form that reads
    back the same, so that layout and order of keys do not matter. What the document does not hold
    is no part of it: keys that came to the record's types later leave its seal as it was.
    """
    content = {key: value for key, value in document.items() if key != "digest"}
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def sealed(record: AuditRecord) -> AuditRecord:
    """Return the record with the digest of its content, every number as its type writes it."""
    typed = _typed(msgspec.to_builtins(record))
    return replace(typed, digest=document_digest(msgspec.to_builtins(typed)))


def is_intact(document: Mapping[str, Any]) -> bool | None:
    """Whether a record's document is what was sealed; None for one that was never sealed."""
    digest = document.get("digest")
    if digest is None:
        return None
    if digest == document_digest(document):
        return True
    # Once 5 was written where 5.0 had been sealed.
    return bool(digest == document_digest(msgspec.to_builtins(_typed(document))))


def _typed(document: Mapping[str, Any]) -> AuditRecord:
    return msgspec.convert(document, AuditRecord)


def seal_doubt(document: Mapping[str, Any]) -> str | None:
    """Say what the seal tells against a document; None for one that is as it was sealed."""
    intact = is_intact(document)
    if intact is None:
        return UNSEALED
    return None if intact else EDITED


def stamp(doubt: str) -> str:
    """Shorten what the seal tells to what fits on a film or beside a name."""
    return doubt.partition(":")[0]
