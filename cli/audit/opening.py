"""Finding an audit's record and the film it was made from."""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from cli.errors import BAD_INPUT, UserError
from counting.record.files import RecordError, name_as_text, read_record
from counting.record.types import AuditRecord
from vision.files import is_file, is_folder

if TYPE_CHECKING:
    from vision.film.types import Film
    from vision.track import PoseTrack


@dataclass(frozen=True, slots=True)
class Audit:
    """A record with the folder it lies in and, where it could be found, its film.

    ``doubt`` is what the seal tells against the record, None where nothing does: it goes on
    whatever is made from the record.
    """

    record: AuditRecord
    folder: Path
    film: Path | None
    doubt: str | None


def open_audit(path: Path, film: Path | None = None) -> Audit:
    """Open an audit folder or its ``audit.json``.

    The film is the one given, else the file of the record's name beside or in the folder. What
    the seal tells against the record is said at once on the error stream.

    Raises
    ------
    UserError
        There is no readable record, or the given film is no file.
    """
    try:
        read = read_record(path)
    except RecordError as error:
        raise UserError(f"{error}; make one with 'repwitness audit FILM'", BAD_INPUT) from error
    folder = path if is_folder(path) else path.parent
    if film is not None and not is_file(film):
        raise UserError(f"{film}: no such film", BAD_INPUT)
    if read.doubt is not None:
        typer.echo(f"repwitness: {path}: {read.doubt}", err=True)
    return Audit(read.record, folder, film or find_film(read.record, folder), read.doubt)


def find_film(record: AuditRecord, folder: Path) -> Path | None:
    """Look for the record's film beside its folder, then in it; None where it is in neither."""
    return find_named(record.film.file, folder)


def find_named(file: str, folder: Path) -> Path | None:
    """Look for a film of this name beside an audit's folder, then in it."""
    name = Path(file).name
    for place in (Path(os.path.realpath(folder)).parent, folder):
        candidate = place / name
        if name and is_file(candidate):
            return candidate
        if "\\x" in name:
            found = (file for file in place.iterdir() if name_as_text(file.name) == name)
            odd = next(found, None)
            if odd is not None and is_file(odd):
                return odd
    return None


def checked_film(path: Path, audit: Audit) -> "Film":
    """Read the facts of a film and make sure that it is the one audited.

    Raises
    ------
    UserError
        The film cannot be read, or its digest differs from the record's.
    """
    from cli.film_limits import limits_of
    from vision.film.errors import FilmError
    from vision.film.reading import read_film

    try:
        film = read_film(path, limits_of(audit.record))
    except FilmError as error:
        raise UserError(str(error), BAD_INPUT) from error
    if film.sha256 != audit.record.film.sha256:
        raise UserError(
            f"{path}: is not the film that {audit.folder} was made from (its digest differs); "
            "audit this film first",
            BAD_INPUT,
        )
    return film


def audit_track(audit: Audit) -> "PoseTrack":
    """Load the landmarks that an audit was made from.

    Raises
    ------
    UserError
        The record names no landmark file, or it cannot be read.
    """
    from vision.track import TrackError, load_track

    name = audit.record.landmarks_file
    if name is None:
        raise UserError(
            f"{audit.folder}: the record names no landmark file; audit the film again", BAD_INPUT
        )
    try:
        return load_track(audit.folder / Path(name).name)
    except TrackError as error:
        raise UserError(f"{error}; audit the film again to make it", BAD_INPUT) from error
