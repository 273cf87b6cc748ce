"""Digest of the code that reads clues from landmarks: what a calibration table holds for."""

import hashlib
import io
import tokenize
from collections.abc import Iterable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Final

_PACKAGES: Final = ("body", "quantities", "reps", "signals")
_MODULES: Final = ("checks/reading.py", "checks/phases.py", "timeline.py", "sets/grouping.py")
_SAYS_NOTHING: Final = frozenset(
    {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT}
)


def reading_digest() -> str:
    """Digest of the code from landmarks to clues, whatever its comments, docstrings and layout."""
    return digest_of(file.read_text(encoding="utf-8") for file in _sources())


def digest_of(sources: Iterable[str]) -> str:
    """Digest of what some source texts do."""
    content = hashlib.sha256()
    for source in sources:
        content.update("\0".join(_said(source)).encode())
    return content.hexdigest()[:16]


def _sources() -> Iterator[Path]:
    root = Path(str(files("counting")))
    for package in _PACKAGES:
        yield from sorted((root / package).glob("*.py"))
    for module in _MODULES:
        yield root / module


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
