"""Finding an audit's record and the film it was made from."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cli.errors import BAD_INPUT, UserError
from counting.record.files import RecordError, load_record
from counting.record.types import AuditRecord

if TYPE_CHECKING:
    from vision.film.types import Film
    from vision.track import PoseTrack


@dataclass(frozen=True, slots=True)
class Audit:
    """A record with the folder it lies in and, where it could be found, its film."""

    record: AuditRecord
    folder: Path
    film: Path | None


def open_audit(path: Path, film: Path | None = None) -> Audit:
    """Open an audit folder or its ``audit.json``.

    The film is the one given, else the file of the record's name beside or in the folder.

    Raises
    ------
    UserError
        There is no readable record, or the given film is no file.
    """
    try:
        record = load_record(path)
    except RecordError as error:
        raise UserError(f"{error}; make one with 'repwitness audit FILM'", BAD_INPUT) from error
    folder = path if path.is_dir() else path.parent
    if film is not None and not film.is_file():
        raise UserError(f"{film}: no such film", BAD_INPUT)
    return Audit(record, folder, film or find_film(record, folder))


def find_film(record: AuditRecord, folder: Path) -> Path | None:
    """Look for the record's film beside its folder, then in it; None where it is in neither."""
    name = Path(record.film.file).name
    for place in (folder.resolve().parent, folder):
        candidate = place / name
        if name and candidate.is_file():
            return candidate
    return None


def checked_film(path: Path, audit: Audit) -> "Film":
    """Read the facts of a film and make sure that it is the one audited.

    Raises
    ------
    UserError
        The film cannot be read, or its digest differs from the record's.
    """
    from cli.limits import limits_of
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
