"""Which films a batch is made of: the films of a folder, or the lines of a list.

Paths and URLs are both taken; URLs (``scheme://...``) are opened with fsspec, which the extra
``cluster`` installs.
"""

import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import unquote, urlsplit

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from vision.files import is_folder

if TYPE_CHECKING:
    from types import ModuleType

FILM_SUFFIXES: Final = frozenset(
    {".3gp", ".avi", ".m4v", ".mkv", ".mov", ".mp4", ".mpg", ".mts", ".ts", ".webm"}
)
_LIST_LIMIT_BYTES: Final = 64 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class BatchFilm:
    """One film of a batch.

    Attributes
    ----------
    name
        Unique within the batch and the same in every run: the path relative to the folder or
        list, or the file's name and a digest of its place where it lies elsewhere.
    source
        Absolute path or URL.
    size_bytes
        Size of the file, 0 where it is not known.
    stamp
        Changes when the file's content does: its time of change, or what the store says instead.
    """

    name: str
    source: str
    size_bytes: int
    stamp: str

    @property
    def is_url(self) -> bool:
        """Whether the film must be fetched before it can be decoded."""
        return is_url(self.source)


def is_url(source: str) -> bool:
    """Whether ``source`` is a URL and not a path."""
    scheme, separator, _ = source.partition("://")
    return bool(separator) and scheme.replace("+", "").replace("-", "").isalnum()


def find_films(place: str, besides: Path) -> list[BatchFilm]:
    """List the films of a batch, largest first.

    Parameters
    ----------
    place
        A folder, looked through with its sub-folders; a text file with one path or URL a line
        (relative ones start at the list; blank lines and lines that start with ``#`` are
        skipped); or the URL of either.
    besides
        Folder of the results: films below it are no submissions.

    Raises
    ------
    UserError
        ``place`` does not exist, is no text, or names no film. A film that a list names and that
        is missing is no error here: it fails alone, as its own film.
    """
    if is_url(place):
        films = _films_at_url(place)
    elif is_folder(Path(place)):
        films = _films_in_folder(Path(place), besides)
    else:
        films = _films_in_list(Path(place))
    if not films:
        endings = " ".join(sorted(FILM_SUFFIXES))
        raise UserError(f"{place}: no film in it (looked for {endings})", WRONG_USAGE)
    unique = {film.name: film for film in films}
    return sorted(unique.values(), key=lambda film: (-film.size_bytes, film.name))


def _films_in_folder(folder: Path, besides: Path) -> list[BatchFilm]:
    apart = os.path.realpath(besides)
    found = []
    for parent, folders, files in os.walk(folder):
        here = Path(parent)
        folders[:] = [name for name in folders if os.path.realpath(here / name) != apart]
        for file in files:
            path = here / file
            if path.suffix.lower() in FILM_SUFFIXES:
                found.append(_film_at(path, path.relative_to(folder).as_posix()))
    return found


def _films_in_list(file: Path) -> list[BatchFilm]:
    try:
        with file.open("rb") as lines:
            data = lines.read(_LIST_LIMIT_BYTES + 1)
    except OSError as error:
        raise UserError(
            f"{file}: neither a folder nor a list that can be read ({error.strerror})", WRONG_USAGE
        ) from error
    base = file.absolute().parent
    films = []
    for entry in _entries(data, str(file)):
        if is_url(entry):
            films.append(_film_at_url(entry))
            continue
        path = Path(os.path.normpath(base / entry))
        inside = path.is_relative_to(base)
        name = path.relative_to(base).as_posix() if inside else _name_elsewhere(str(path))
        films.append(_film_at(path, name))
    return films


def _entries(data: bytes, source: str) -> Iterable[str]:
    if len(data) > _LIST_LIMIT_BYTES or b"\0" in data:
        raise UserError(
            f"{source}: not a list of films; give a folder, or a text file with one film a line",
            WRONG_USAGE,
        )
    # File names are bytes to the system: a name that is no UTF-8 still finds its file.
    text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "surrogateescape")
    for line in text.split("\n"):
        entry = line.strip("\r\t ")
        if entry and not entry.startswith("#"):
            yield entry


def _film_at(path: Path, name: str) -> BatchFilm:
    try:
        status = path.stat()
    except OSError:
        return BatchFilm(name, str(path.absolute()), 0, "missing")
    return BatchFilm(name, str(path.absolute()), status.st_size, str(status.st_mtime_ns))


def _name_elsewhere(source: str) -> str:
    last = PurePosixPath(unquote(urlsplit(source).path) if is_url(source) else source).name
    digest = hashlib.sha256(os.fsencode(source)).hexdigest()[:12]
    return f"{digest}/{last or 'film'}"


def _name_within(relative: str, source: str) -> str:
    """Take the relative path as the name unless it would leave the folder of the results."""
    parts = PurePosixPath(relative).parts
    return _name_elsewhere(source) if ".." in parts or relative.startswith("/") else relative


def _fsspec(place: str) -> "ModuleType":
    try:
        import fsspec
    except ImportError as error:
        raise UserError(
            f"{place}: URLs need the extra 'cluster': pip install 'repwitness[cluster]'",
            WRONG_USAGE,
        ) from error
    module: ModuleType = fsspec
    return module


def _film_at_url(url: str) -> BatchFilm:
    fsspec = _fsspec(url)
    try:
        system, path = fsspec.core.url_to_fs(url)
        facts = system.info(path)
    except Exception:  # each store raises its own; the film fails alone when it is fetched
        return BatchFilm(_name_elsewhere(url), url, 0, "missing")
    return BatchFilm(_name_elsewhere(url), url, int(facts.get("size") or 0), _url_stamp(facts))


def _url_stamp(facts: dict[str, Any]) -> str:
    keys = ("ETag", "etag", "md5Hash", "LastModified", "last_modified", "mtime", "created")
    return next((str(facts[key]) for key in keys if facts.get(key)), "unknown")


def _films_at_url(place: str) -> list[BatchFilm]:
    fsspec = _fsspec(place)
    try:
        system, root = fsspec.core.url_to_fs(place)
        if not system.isdir(root):
            with system.open(root, "rb") as lines:
                data = lines.read(_LIST_LIMIT_BYTES + 1)
            base = place.rpartition("/")[0]
            entries = _entries(data, place)
            return [
                _film_at_url(entry if is_url(entry) else f"{base}/{entry}") for entry in entries
            ]
        found: dict[str, dict[str, Any]] = system.find(root, detail=True)
    except UserError:
        raise
    except Exception as error:  # each store raises its own
        raise UserError(f"{place}: cannot be opened ({error})", BAD_INPUT) from error
    start = root.rstrip("/") + "/"
    return [
        BatchFilm(
            _name_within(path.removeprefix(start), url := str(system.unstrip_protocol(path))),
            url,
            int(facts.get("size") or 0),
            _url_stamp(facts),
        )
        for path, facts in found.items()
        if PurePosixPath(path).suffix.lower() in FILM_SUFFIXES
    ]
