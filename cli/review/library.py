"""The audits in a folder: found by walking it, read once, read again when they change."""

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cli.audit.opening import find_film
from counting.record.files import RecordError, load_record
from counting.record.types import AuditRecord

RECORD_NAME: Final = "audit.json"
MARKED_NAME: Final = "marked.mp4"


@dataclass(frozen=True, slots=True)
class Attempt:
    """One audit in the folder. ``key`` names it in addresses, ``place`` is its folder's path."""

    key: str
    place: str
    folder: Path
    record: AuditRecord


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A file that is named like a record and is none, with the reason."""

    place: str
    reason: str


class Library:
    """All audits below a folder.

    Nothing outside the folder is ever given out: links that lead out of it are not followed.
    """

    def __init__(self, root: Path) -> None:
        self.root = root.resolve()
        self._read: dict[Path, tuple[tuple[int, int], Attempt | Unreadable]] = {}

    def attempts(self) -> list[Attempt]:
        """Give every readable audit, by place."""
        return [item for item in self._scan() if isinstance(item, Attempt)]

    def unreadable(self) -> list[Unreadable]:
        """Give the records that could not be read when the folder was last walked."""
        return [item for _, item in self._read.values() if isinstance(item, Unreadable)]

    def attempt(self, key: str) -> Attempt | None:
        """Find an audit by its key; read again if its file has changed."""
        for path, (_, item) in list(self._read.items()):
            if isinstance(item, Attempt) and item.key == key:
                current = self._current(path)
                return current if isinstance(current, Attempt) else None
        return next((item for item in self.attempts() if item.key == key), None)

    def film(self, attempt: Attempt, *, marked: bool = False) -> Path | None:
        """Find an attempt's film, or its marked film, inside the folder."""
        film = attempt.folder / MARKED_NAME if marked else find_film(attempt.record, attempt.folder)
        if film is None or not film.is_file():
            return None
        resolved = film.resolve()
        return resolved if resolved.is_relative_to(self.root) else None

    def _scan(self) -> list[Attempt | Unreadable]:
        found: list[Path] = []
        for folder, folders, names in os.walk(self.root, followlinks=False):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            if RECORD_NAME in names:
                found.append(Path(folder) / RECORD_NAME)
        for gone in set(self._read) - set(found):
            self._read.pop(gone, None)
        items = [self._current(path) for path in found]
        return [item for item in items if item is not None]

    def _current(self, path: Path) -> Attempt | Unreadable | None:
        try:
            facts = path.stat()
        except OSError:
            return None
        state = (facts.st_mtime_ns, facts.st_size)
        known = self._read.get(path)
        if known is not None and known[0] == state:
            return known[1]
        item = self._load(path)
        self._read[path] = (state, item)
        return item

    def _load(self, path: Path) -> Attempt | Unreadable:
        place = path.parent.relative_to(self.root).as_posix()
        if not path.resolve().is_relative_to(self.root):
            return Unreadable(place, "the record is a link that leads out of the folder")
        try:
            record = load_record(path)
        except RecordError as error:
            return Unreadable(place, str(error).removeprefix(f"{path}: "))
        key = hashlib.sha256(place.encode()).hexdigest()[:16]
        return Attempt(key, place, path.parent, record)
