"""The audits in a folder: found by walking it, read once, read again when they change."""

import hashlib
import os
import stat
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cli.audit.opening import find_film, find_named
from cli.wording import shown
from counting.record.files import RecordError, read_record
from counting.record.types import AuditRecord
from vision.files import is_file

RECORD_NAME: Final = "audit.json"
MARKED_NAME: Final = "marked.mp4"


@dataclass(frozen=True, slots=True)
class Attempt:
    """One audit in the folder.

    ``key`` names it in addresses, ``place`` is its folder's path for people; ``doubt`` is what the
    seal tells against the record, None where nothing does.
    """

    key: str
    place: str
    folder: Path
    record: AuditRecord
    doubt: str | None


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
        self.root = Path(os.path.realpath(root))
        self._read: dict[Path, tuple[tuple[int, ...], Attempt | Unreadable]] = {}
        self._closed: list[Unreadable] = []

    def attempts(self) -> list[Attempt]:
        """Give every readable audit, by place."""
        return [item for item in self._scan() if isinstance(item, Attempt)]

    def unreadable(self) -> list[Unreadable]:
        """Give the records and folders that could not be read when the folder was last walked."""
        records = [item for _, item in self._read.values() if isinstance(item, Unreadable)]
        return [*records, *self._closed]

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
        return self._inside(film)

    def further_film(self, attempt: Attempt, number: int) -> Path | None:
        """Find a further film of an attempt, counted from 1, inside the folder.

        One that is named like the first cannot lie beside it.
        """
        views = attempt.record.further_films
        if not 1 <= number <= len(views):
            return None
        file = views[number - 1].film.file
        named_alike = file == attempt.record.film.file
        return None if named_alike else self._inside(find_named(file, attempt.folder))

    def _inside(self, film: Path | None) -> Path | None:
        if film is None or not is_file(film):
            return None
        resolved = Path(os.path.realpath(film))
        return resolved if resolved.is_relative_to(self.root) else None

    def _scan(self) -> list[Attempt | Unreadable]:
        found: list[Path] = []
        closed: list[Unreadable] = []

        def left_out(error: OSError) -> None:
            place = self._place(Path(error.filename))
            closed.append(Unreadable(place, f"the folder cannot be read ({error.strerror})"))

        for folder, folders, names in os.walk(self.root, onerror=left_out, followlinks=False):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            if RECORD_NAME in names:
                found.append(Path(folder) / RECORD_NAME)
        for gone in set(self._read) - set(found):
            self._read.pop(gone, None)
        self._closed = closed
        items = [self._current(path) for path in found]
        return [item for item in items if item is not None]

    def _current(self, path: Path) -> Attempt | Unreadable | None:
        try:
            facts = path.lstat()
            if stat.S_ISLNK(facts.st_mode):
                with suppress(OSError):  # one that leads nowhere is told when it is read
                    facts = path.stat()
        except OSError:
            return None
        state = (facts.st_mtime_ns, facts.st_ctime_ns, facts.st_size, facts.st_ino)
        known = self._read.get(path)
        if known is not None and known[0] == state:
            return known[1]
        item = self._load(path)
        self._read[path] = (state, item)
        return item

    def _load(self, path: Path) -> Attempt | Unreadable:
        place = self._place(path.parent)
        if not Path(os.path.realpath(path)).is_relative_to(self.root):
            return Unreadable(place, "the record is a link that leads out of the folder")
        try:
            read = read_record(path)
        except RecordError as error:
            return Unreadable(place, str(error).removeprefix(f"{path}: "))
        # The name as the system has it: it need not be text.
        name = os.fsencode(path.parent.relative_to(self.root))
        key = hashlib.sha256(name).hexdigest()[:16]
        return Attempt(key, place, path.parent, read.record, read.doubt)

    def _place(self, folder: Path) -> str:
        return shown(folder.relative_to(self.root).as_posix())
