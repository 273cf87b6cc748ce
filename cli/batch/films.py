"""Which films a batch is made of: the films of a folder, or the lines of a list.

Paths and URLs are both taken; URLs (``scheme://...``) are opened with fsspec, which the extra
``cluster`` installs. What of a folder is a film is asked of the reader of containers, in a process
of its own: a stranger's file that crashes or stalls it stays in the batch, where it fails alone.
"""

import contextlib
import hashlib
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import Any, Final
from urllib.parse import unquote, urlsplit

from cli.audit.film_facts import settled_stamp
from cli.audit.request import Progress
from cli.batch.fetch import fsspec_for, is_url
from cli.batch.film_process import FailedFilmError, FilmProcess, Limits
from cli.batch.lines import LIST_LIMIT_BYTES, listed_films
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from counting.objects.line import Target
from vision.files import is_folder

_LOOK_LIMITS: Final = Limits(stalled_s=60.0, memory_bytes=2**30)
"""For reading the head of one file, which takes milliseconds and megabytes."""


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
        Is another when the file has been touched or replaced: its place, size and times of change,
        or the store's tag of its content. Empty where nothing can be relied on.
    second_views
        Absolute paths or URLs of further films of the same attempt.
    target
        Where a thrown ball's target is in the film's first picture, or None.
    """

    name: str
    source: str
    size_bytes: int
    stamp: str
    second_views: tuple[str, ...] = ()
    target: Target | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A file or folder of a batch's folder that is no film, and why."""

    name: str
    reason: str


def find_films(place: str, besides: Path) -> tuple[list[BatchFilm], list[LeftOut]]:
    """List the films of a batch, largest first, and what lies beside them.

    What a folder holds is a film if it can be read as one, whatever its name.

    Parameters
    ----------
    place
        A folder, looked through with its sub-folders; a text file with one path or URL a line
        (relative ones start at the list; blank lines and lines that start with ``#`` are
        skipped), after which more may be said of that film alone (`cli.batch.lines`); or the URL
        of either.
    besides
        Folder of the results: films below it are no submissions.

    Raises
    ------
    UserError
        ``place`` does not exist, is no text, names no film, or says of one what cannot be used. A
        film that a list names and that is missing is no error here: it fails alone, as its own
        film.
    """
    left_out: list[LeftOut] = []
    if is_url(place):
        films, left_out = _films_at_url(place)
    elif is_folder(Path(place)):
        films, left_out = _films_in_folder(Path(place), besides)
    else:
        films = _films_in_list(Path(place))
    if not films:
        beside = f"; {len(left_out)} files are not films" if left_out else ""
        raise UserError(f"{place}: holds no film{beside}", WRONG_USAGE)
    unique = {film.name: film for film in films}
    ordered = sorted(unique.values(), key=lambda film: (-film.size_bytes, film.name))
    return ordered, sorted(left_out, key=lambda file: file.name)


def _films_in_folder(folder: Path, besides: Path) -> tuple[list[BatchFilm], list[LeftOut]]:
    apart = os.path.realpath(besides)
    left_out: list[LeftOut] = []

    def unreadable(error: OSError) -> None:
        name = _name_below(folder, Path(error.filename))
        left_out.append(LeftOut(name, f"cannot be opened ({error.strerror})"))

    found: list[BatchFilm] = []
    for parent, folders, files in os.walk(folder, onerror=unreadable):
        here = Path(parent)
        folders[:] = [name for name in folders if os.path.realpath(here / name) != apart]
        left_out += [
            LeftOut(_name_below(folder, here / name), "is a link to a folder")
            for name in folders
            if (here / name).is_symlink()
        ]
        found += [_film_at(here / file, _name_below(folder, here / file)) for file in files]
    films, others = _films_among(found)
    return films, left_out + others


def _films_among(files: list[BatchFilm]) -> tuple[list[BatchFilm], list[LeftOut]]:
    reasons = not_films([file.source for file in files])
    films = [file for file in files if file.source not in reasons]
    others = [LeftOut(file.name, reasons[file.source]) for file in files if file.source in reasons]
    return films, others


def _name_below(folder: Path, path: Path) -> str:
    return path.relative_to(folder).as_posix()


def _films_in_list(file: Path) -> list[BatchFilm]:
    try:
        with file.open("rb") as lines:
            data = lines.read(LIST_LIMIT_BYTES + 1)
    except OSError as error:
        raise UserError(
            f"{file}: neither a folder nor a list that can be read ({error.strerror})", WRONG_USAGE
        ) from error
    base = file.absolute().parent
    films = []
    for listed in listed_films(data, str(file)):
        entry, views = listed.source, listed.second_views
        others = [view if is_url(view) else os.path.normpath(base / view) for view in views]
        if is_url(entry):
            films.append(_told(_film_at_url(entry), others, listed.target))
            continue
        path = Path(os.path.normpath(base / entry))
        inside = path.is_relative_to(base)
        name = _name_below(base, path) if inside else _name_elsewhere(str(path))
        films.append(_told(_film_at(path, name), others, listed.target))
    return films


def _told(film: BatchFilm, views: Sequence[str], target: Target | None) -> BatchFilm:
    """Add what a list says: files of further films decide the result as the film's own does."""
    stamp = stamp_with(film.stamp, views)
    return replace(film, second_views=tuple(views), stamp=stamp, target=target)


def stamp_with(stamp: str, views: Sequence[str]) -> str:
    """Join a film's stamp and those of its further films; nothing where one is not known."""
    stamps = [stamp, *("" if is_url(view) else file_stamp(Path(view)) for view in views)]
    return " + ".join(stamps) if all(stamps) else ""


def _film_at(path: Path, name: str) -> BatchFilm:
    try:
        status = path.stat()
    except OSError:
        return BatchFilm(name, str(path.absolute()), 0, "")
    return BatchFilm(name, str(path.absolute()), status.st_size, file_stamp(path))


def file_stamp(path: Path) -> str:
    """Tell a file and its last change; nothing where that was too short a time ago to rely on."""
    return " ".join(map(str, settled_stamp(path) or ()))


def _name_elsewhere(source: str) -> str:
    last = PurePosixPath(unquote(urlsplit(source).path) if is_url(source) else source).name
    digest = hashlib.sha256(os.fsencode(source)).hexdigest()[:12]
    return f"{digest}/{last or 'film'}"


def _name_within(relative: str, source: str) -> str:
    """Take the relative path as the name unless it would leave the folder of the results."""
    parts = PurePosixPath(relative).parts
    return _name_elsewhere(source) if ".." in parts or relative.startswith("/") else relative


def _film_at_url(url: str) -> BatchFilm:
    fsspec = fsspec_for(url)
    try:
        system, path = fsspec.core.url_to_fs(url)
        facts = system.info(path)
    except Exception:  # each store raises its own; the film fails alone when it is fetched
        return BatchFilm(_name_elsewhere(url), url, 0, "")
    return BatchFilm(_name_elsewhere(url), url, int(facts.get("size") or 0), _url_stamp(facts))


def _url_stamp(facts: dict[str, Any]) -> str:
    """Give the store's tag of the content; times and sizes are no proof that it is the same."""
    return next((str(facts[key]) for key in ("ETag", "etag", "md5Hash") if facts.get(key)), "")


def _films_at_url(place: str) -> tuple[list[BatchFilm], list[LeftOut]]:
    fsspec = fsspec_for(place)
    try:
        system, root = fsspec.core.url_to_fs(place)
        if not system.isdir(root):
            with system.open(root, "rb") as lines:
                data = lines.read(LIST_LIMIT_BYTES + 1)
            base = place.rpartition("/")[0]

            def at(part: str) -> str:
                return part if is_url(part) else f"{base}/{part}"

            return [
                _told(_film_at_url(at(one.source)), [at(v) for v in one.second_views], one.target)
                for one in listed_films(data, place)
            ], []
        found: dict[str, dict[str, Any]] = system.find(root, detail=True)
    except UserError:
        raise
    except Exception as error:  # each store raises its own
        raise UserError(f"{place}: cannot be opened ({error})", BAD_INPUT) from error
    start = root.rstrip("/") + "/"
    left_out = [
        LeftOut(path.removeprefix(start), "is not an ordinary file")
        for path, facts in found.items()
        if _is_no_file(facts)
    ]
    films, others = _films_among(
        [
            BatchFilm(
                _name_within(path.removeprefix(start), url := str(system.unstrip_protocol(path))),
                url,
                int(facts.get("size") or 0),
                _url_stamp(facts),
            )
            for path, facts in found.items()
            if not _is_no_file(facts)
        ]
    )
    return films, left_out + others


def _is_no_file(facts: dict[str, Any]) -> bool:
    """Tell pipes and the like, which would be waited for; a link may lead to a film."""
    return facts.get("type") == "other" and not facts.get("islink")


def not_films(sources: Sequence[str]) -> dict[str, str]:
    """Give those of some paths and URLs that are no films, with the reason for each."""
    answers: list[str] = []

    def told(reason: str, _done: float, _all: float) -> None:
        answers.append(reason)

    while len(answers) < len(sources):
        rest = list(sources[len(answers) :])
        with contextlib.suppress(FailedFilmError):
            FilmProcess(look, rest, _LOOK_LIMITS).run(told)
        if len(answers) < len(sources):
            answers.append("")
    return {source: reason for source, reason in zip(sources, answers, strict=True) if reason}


def look(sources: Sequence[str], progress: Progress) -> None:
    """Tell why each of some files is no film, in place of a stage's name; nothing for films."""
    from vision.film.recognition import no_film_because

    for done, source in enumerate(sources, start=1):
        name = PurePosixPath(source).name
        if is_url(source):
            try:
                with fsspec_for(source).open(source, "rb") as remote:
                    reason = no_film_because(remote, name)
            except Exception:  # each store raises its own; the film fails alone when it is fetched
                reason = None
        else:
            reason = no_film_because(Path(source), name)
        progress(reason or "", done, len(sources))
