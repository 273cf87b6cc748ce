"""The mark by which a file is known as made by this tool, whatever it is called.

Each kind of file carries it where its format has a place for what made it: the keyword ``Software``
of a PNG (Portable Network Graphics, third edition, 11.3.3.2), the metadata name ``generator`` of a
page (HTML Standard, 4.2.5.1), ``metadata`` of an SVG, the comment of a film, the seal of an archive
of arrays, the schema that a JSON document names. Tables have no such place: their names tell them.
"""

import json
import struct
import zlib
from pathlib import Path
from typing import Final

from vision.arrays import seal_words

TOOL: Final = "repwitness"
PAGE_MARK: Final = f'<meta name="generator" content="{TOOL}">'
DRAWING_MARK: Final = f"<metadata>{TOOL}</metadata>"
FILM_COMMENT: Final = f"drawn by {TOOL}"

_PNG: Final = b"\x89PNG\r\n\x1a\n"
_AFTER_HEADER: Final = len(_PNG) + 25
"""Bytes before the second chunk: IHDR has 13 of content, and 12 around it (PNG, 5.3 and 11.2.1)."""
_PICTURE_MARK: Final = b"Software\0" + TOOL.encode("latin-1")
_HEAD_BYTES: Final = 4096
"""Read to find a mark, which all that we write has near its beginning."""
_MOST_TEXT_BYTES: Final = 64 * 1024**2
"""The largest record that is read (`counting.record.files`); what is larger is none of ours."""


def marked_png(picture: bytes) -> bytes:
    """Put the mark into a PNG file's content, right behind its header chunk."""
    chunk = b"tEXt" + _PICTURE_MARK
    whole = struct.pack(">I", len(_PICTURE_MARK)) + chunk + struct.pack(">I", zlib.crc32(chunk))
    return picture[:_AFTER_HEADER] + whole + picture[_AFTER_HEADER:]


def is_marked(path: Path) -> bool:
    """Whether a file carries the mark; one that cannot be read does not."""
    try:
        if not path.is_file():  # to open a pipe would wait for whoever writes into it
            return False
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except OSError:
        return False
    if head.startswith(_PNG):
        return head[_AFTER_HEADER + 4 :].startswith(b"tEXt" + _PICTURE_MARK)
    if head.startswith(b"PK"):
        return (seal_words(path) or "").startswith(f"{TOOL} ")
    if head[4:8] == b"ftyp":
        return _comment(path) == FILM_COMMENT
    text = head.lstrip()
    if text.startswith(b"{"):
        return _schema(path).startswith(f"{TOOL}.")
    return text.startswith(b"<") and any(
        mark.encode() in text for mark in (PAGE_MARK, DRAWING_MARK)
    )


def _schema(document: Path) -> str:
    try:
        if document.stat().st_size > _MOST_TEXT_BYTES:
            return ""
        content = json.loads(document.read_bytes())
    except (OSError, ValueError, RecursionError):
        return ""
    return str(content.get("schema", "")) if isinstance(content, dict) else ""


def _comment(film: Path) -> str | None:
    import av

    try:
        with av.open(str(film), format="mp4", options={"protocol_whitelist": "file"}) as opened:
            return opened.metadata.get("comment")
    except (OSError, ValueError):
        return None
