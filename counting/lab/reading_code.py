"""Digests of the code that finds landmarks and reads features: what a table holds for."""

import hashlib
import io
import tokenize
from collections.abc import Iterable, Iterator, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Final

_FINDS: Final = ("vision/pose", "vision/athlete")
_READS: Final = (
    "counting/body",
    "counting/quantities",
    "counting/reps",
    "counting/signals",
    "counting/checks/reading.py",
    "counting/checks/phases.py",
    "counting/timeline.py",
)
_SAYS_NOTHING: Final = frozenset(
    {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT}
)


def landmark_digest() -> str:
    """Digest of the code that finds landmarks, whatever its comments, docstrings and layout."""
    return digest_of(_sources(_FINDS))


def reading_digest() -> str:
    """Digest of the code from landmarks to features, likewise."""
    return digest_of(_sources(_READS))


def digest_of(sources: Iterable[str]) -> str:
    """Digest of what some source texts do."""
    content = hashlib.sha256()
    for source in sources:
        content.update("\0".join(_said(source)).encode())
    return content.hexdigest()[:16]


def _sources(places: Sequence[str]) -> Iterator[str]:
    top = Path(str(files("counting"))).parent
    for place in places:
        at = top / place
        for file in sorted(at.rglob("*.py")) if at.is_dir() else [at]:
            yield file.read_text(encoding="utf-8")


def _said(source: str) -> Iterator[str]:
    """Tokens that do something: no comment, no layout, no string that stands alone."""
    opening = True
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type in _SAYS_NOTHING:
            opening = opening or token.type in (tokenize.NEWLINE, tokenize.INDENT)
            continue
        if token.type == tokenize.STRING and opening:
            continue
        opening = False
        yield token.string
