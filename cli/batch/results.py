"""Where the results of a batch land: each film's folder appears whole, or not at all.

A film is worked on in ``OUT/.working/<name>.audit`` and its folder is renamed to
``OUT/<name>.audit`` when everything is in it. ``asked.json`` in the folder says with which
settings it was made, and how the film's file was to be known: the next run takes what is there
where the settings are the same and the film's content is that of the record.
"""

import fcntl
import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from cli.audit.kept import kept_files
from cli.batch.fetch import content_digest, is_url
from cli.batch.films import BatchFilm, file_stamp, stamp_with
from cli.errors import UserError
from cli.names import within_limit
from cli.wording import shown
from counting.record.files import ReadRecord, RecordError, read_record
from vision.files import WriteError, read_whole, write_whole

ASKED_FILE: Final = "asked.json"
_FOLDER_SUFFIX: Final = ".audit"
_MOST_ASKED_BYTES: Final = 1024**2
"""What is larger was not written by us and is not read."""


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
        write_whole(working / ASKED_FILE, self._asked(film))
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
            asked = json.loads(read_whole(folder / ASKED_FILE, _MOST_ASKED_BYTES))
            if asked["settings"] != json.loads(json.dumps(self._settings_of(film))):
                return None
            read = read_record(folder)
            if film.stamp and asked["film"] == film.stamp:
                return read
        except (OSError, ValueError, TypeError, KeyError, RecursionError, RecordError):
            return None
        record = read.record
        audited = [record.film.sha256, *(view.film.sha256 for view in record.further_films)]
        if [content_digest(one) for one in (film.source, *film.second_views)] != audited:
            return None
        with suppress(WriteError):  # without it the film is only read once more next time
            write_whole(folder / ASKED_FILE, self._asked(film))
        return read

    def _settings_of(self, film: BatchFilm) -> dict[str, Any]:
        return {**self._settings, "target": film.target and asdict(film.target)}

    def _asked(self, film: BatchFilm) -> str:
        now = film.stamp if is_url(film.source) else file_stamp(Path(film.source))
        untouched = is_url(film.source) or stamp_with(now, film.second_views) == film.stamp
        asked = {"film": film.stamp if untouched else "", "settings": self._settings_of(film)}
        return json.dumps(asked, indent=1, sort_keys=True) + "\n"


def folder_below(top: Path, name: str) -> Path:
    """Name the folder for the results of a film: its path, or a digest of a name too long."""
    *parents, last = name.split("/")
    return top.joinpath(*parents, within_limit(last, _FOLDER_SUFFIX))
