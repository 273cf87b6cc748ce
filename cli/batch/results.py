"""Where the results of a batch land: each film's folder appears whole, or not at all.

A film is worked on in ``OUT/.working/<name>.audit`` and its folder is renamed to
``OUT/<name>.audit`` when everything is in it. ``asked.json`` in the folder says for which film
and with which settings it was made: the next run takes what is there where that still holds.
"""

import fcntl
import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final

from cli.audit.kept import kept_files
from cli.batch.films import BatchFilm
from cli.errors import UserError
from cli.names import within_limit
from cli.wording import shown
from counting.record.files import ReadRecord, RecordError, read_record
from vision.files import read_whole, write_whole

ASKED_FILE: Final = "asked.json"
_FOLDER_SUFFIX: Final = ".audit"
_MOST_ASKED_BYTES: Final = 1024**2


class Results:
    """The folder of results of one batch.

    Parameters
    ----------
    out
        The folder; made where it is missing.
    settings
        What decides the result beside the film, in types that JSON knows.
    """

    def __init__(self, out: Path, settings: dict[str, Any]) -> None:
        self.out = out
        self._settings = settings
        self._working = out / ".working"
        self._replaced = out / ".replaced"

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Hold the folder, so that two batches never write into one.

        Raises
        ------
        UserError
            Another batch holds it, or it cannot be made.
        """
        try:
            self.out.mkdir(parents=True, exist_ok=True)
            lock = os.open(self.out / ".lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o666)
        except OSError as error:
            raise UserError(
                f"{self.out}: cannot be written ({error.strerror}); name another folder with --out"
            ) from error
        try:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError as error:
                raise UserError(
                    f"{self.out}: another batch is writing here; wait for it, or name another "
                    "folder with --out"
                ) from error
            yield
            shutil.rmtree(self._working, ignore_errors=True)
        finally:
            shutil.rmtree(self._replaced, ignore_errors=True)
            os.close(lock)

    def folder(self, film: BatchFilm) -> Path:
        """Folder that holds, or will hold, the results of a film."""
        return folder_below(self.out, film.name)

    def finished(self, film: BatchFilm) -> ReadRecord | None:
        """Give the record an earlier run made for this very film and settings, or None."""
        folder = self.folder(film)
        for place in (folder, folder_below(self._working, film.name)):
            read = self._answer(place, film)
            if read is not None:
                if place != folder:
                    self._move_in(place, folder)
                return read
        return None

    def start(self, film: BatchFilm) -> Path:
        """Give the folder to work on a film in, with what earlier runs saw in it at hand."""
        working = folder_below(self._working, film.name)
        working.mkdir(parents=True, exist_ok=True)
        for file, of_today in kept_files(self.folder(film)):
            # Where they cannot be linked they are only missed: the film is looked at again.
            with suppress(OSError):
                if of_today:
                    os.link(file, working / file.name)
        return working

    def finish(self, film: BatchFilm) -> ReadRecord:
        """Make the worked-on folder the film's results.

        Raises
        ------
        UserError
            The folder holds no valid record: the audit did not do what it promised.
        """
        working = folder_below(self._working, film.name)
        try:
            read = read_record(working)
        except RecordError as error:
            raise UserError(f"{shown(film.name)}: the audit left no record ({error})") from error
        write_whole(working / ASKED_FILE, self._question(film))
        self._move_in(working, self.folder(film))
        return read

    def drop(self, film: BatchFilm) -> None:
        """Forget what a failed film left; results of an earlier run stay."""
        shutil.rmtree(folder_below(self._working, film.name), ignore_errors=True)

    def _move_in(self, working: Path, folder: Path) -> None:
        folder.parent.mkdir(parents=True, exist_ok=True)
        if folder.exists():
            self._replaced.mkdir(exist_ok=True)
            shutil.rmtree(self._replaced / "old", ignore_errors=True)
            folder.rename(self._replaced / "old")
        working.rename(folder)
        shutil.rmtree(self._replaced, ignore_errors=True)

    def _answer(self, folder: Path, film: BatchFilm) -> ReadRecord | None:
        try:
            asked = read_whole(folder / ASKED_FILE, _MOST_ASKED_BYTES)
            question = self._question(film).encode("utf-8")
            return read_record(folder) if asked == question else None
        except (OSError, RecordError):
            return None

    def _question(self, film: BatchFilm) -> str:
        question = {
            "film": {
                "source": shown(film.source),
                "size_bytes": film.size_bytes,
                "stamp": film.stamp,
            },
            "settings": self._settings,
        }
        return json.dumps(question, indent=1, sort_keys=True) + "\n"


def folder_below(top: Path, name: str) -> Path:
    """Name the folder for the results of a film: its path, or a digest of a name too long."""
    *parents, last = name.split("/")
    return top.joinpath(*parents, within_limit(last, _FOLDER_SUFFIX))
