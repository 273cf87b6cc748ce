"""What this tool has made from a film, and by what it is known: its mark, or its name.

Names count only where an audit or a batch has been; elsewhere a file of the same name is the
user's.
"""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from vision.made_by import is_marked

DERIVED_FILES: Final = (
    "audit.json",
    "reps.csv",
    "sets.csv",
    "splits.csv",
    "landmarks-*.npz",
    "continuity-*.npz",
    "fit-*.npz",
    "film-*.npz",
    "report.html",
    "marked.mp4",
    "clips/rep_[0-9]*.mp4",
    "plan.json",
    "card.html",
    "plan.svg",
    "asked.json",
    ".repwitness-*.part*",
)
BATCH_FILES: Final = ("films.csv", "failures.csv", "left_out.csv", ".lock")
_SIGNS: Final = ("audit.json", "landmarks-*.npz", "asked.json", ".repwitness-*.part*")


def audit_folders(folder: Path) -> Iterator[Path]:
    """Find the audits in a folder: itself, its ``*.audit`` folders, half-made and replaced ones."""
    places = [folder, *folder.rglob("*.audit"), folder / ".replaced" / "old"]
    for place in dict.fromkeys(places):
        if place.is_dir() and not place.is_symlink() and _is_audit(place):
            yield place


def derived_files(audit: Path) -> list[Path]:
    """List what was made in an audit's folder; a link is removed, not what it points to."""
    found = [file for pattern in DERIVED_FILES for file in audit.glob(pattern)]
    found += [
        Path(parent, name)
        for parent, _, names in os.walk(audit)
        for name in names
        if is_marked(Path(parent, name))
    ]
    return sorted(file for file in dict.fromkeys(found) if file.is_symlink() or file.is_file())


def marked_files(folder: Path) -> list[Path]:
    """List the files in a folder, not below it, that carry the mark."""
    return sorted(file for file in folder.iterdir() if file.is_file() and is_marked(file))


def batch_files(folder: Path) -> list[Path]:
    """List a batch's own files, where one has held the folder."""
    if not (folder / ".lock").is_file():
        return []
    return [file for name in BATCH_FILES for file in folder.glob(name)]


def _is_audit(folder: Path) -> bool:
    return any(next(folder.glob(pattern), None) is not None for pattern in _SIGNS)
