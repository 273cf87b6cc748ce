"""File names made of what people and films are called: one part of a path, whatever is in it."""

import hashlib
import os
import unicodedata
from typing import Final

LONGEST_BYTES: Final = 255
"""Common file systems take no longer name: NAME_MAX of Linux, 255 characters of APFS and NTFS."""

_PLAIN: Final = "_-."
_DIGEST_LENGTH: Final = 8
"""Hexadecimal digits that tell names apart which look alike once written plainly."""


def file_name(words: str, suffix: str = "") -> str:
    """Turn words into a file's name that stays in its folder.

    Letters, digits, ``_``, ``-`` and dots inside stay, a space becomes ``-``. Everything else does
    too; then, and where the name is cut to what file systems take, a digest of the words follows,
    so that different words have different names.

    Parameters
    ----------
    words
        Any text.
    suffix
        What the name ends in, kept whole.
    """
    spaced = unicodedata.normalize("NFC", words).replace(" ", "-")
    plain = "".join(c if c.isalnum() or c in _PLAIN else "-" for c in spaced).strip(".-")
    room = LONGEST_BYTES - len(suffix.encode())
    if plain and plain == spaced and len(plain.encode()) <= room:
        return plain + suffix
    digest = hashlib.sha256(os.fsencode(words)).hexdigest()[:_DIGEST_LENGTH]
    kept = plain.encode()[: room - len(digest) - 1].decode(errors="ignore")
    return "-".join(filter(None, (kept, digest))) + suffix


def within_limit(name: str, suffix: str) -> str:
    """Add a suffix to a file's name, which is kept as it is unless that would be too long.

    Of a name too long a digest stands for the whole.
    """
    encoded = os.fsencode(name)
    if len(encoded) + len(suffix) > LONGEST_BYTES:
        return hashlib.sha256(encoded).hexdigest() + suffix
    return name + suffix
