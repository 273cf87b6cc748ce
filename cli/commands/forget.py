"""``repwitness forget``: remove everything that was derived from a film."""

from pathlib import Path
from typing import Annotated, Final

import typer

from cli.errors import BAD_INPUT, UserError
from vision.files import is_folder

_BATCH_FOLDERS: Final = (".working", ".replaced")
_LOG: Final = "review.sqlite"


def forget(
    folder: Annotated[
        Path,
        typer.Argument(help="An audit's folder, or a batch's with all its audits.", metavar="DIR"),
    ],
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")] = False,
) -> None:
    """Remove everything that was made from a film.

    That is record, tables, landmarks, report, pictures and calls.

    Films and files of your own are never touched. Decisions on the film in a review log in the
    folder or beside it are removed with it. Stills, reports and marked films that were written
    elsewhere are known by a mark in them: name that folder too. What a disk or a backup still holds
    is beyond this command.
    """
    from cli.derived import audit_folders, batch_files, derived_files, marked_files

    if not is_folder(folder):
        raise UserError(f"{folder}: no such folder; name an audit's folder", BAD_INPUT)
    audits = list(audit_folders(folder))
    files = [file for audit in audits for file in derived_files(audit)]
    files += [*batch_files(folder), *marked_files(folder)]
    files = list(dict.fromkeys(files))
    if not files:
        raise UserError(
            f"{folder}: holds no audit, and nothing else that this tool has made; name a folder "
            "made by 'repwitness audit' or 'batch'",
            BAD_INPUT,
        )
    if not yes:
        typer.confirm(f"remove {len(files)} files of {len(audits)} audits?", abort=True, err=True)
    calls = sum(_forget_calls(audit, folder) for audit in audits)
    try:
        removed = _removed(files, audits, folder)
    except OSError as error:
        raise UserError(
            f"{error.filename}: cannot be removed ({error.strerror}); change its permissions and "
            "run this again",
            BAD_INPUT,
        ) from error
    typer.echo(f"removed {removed} files of {len(audits)} audits and {calls} reviewers' calls")
    _forget_lines(audits)
    for kept in sorted(left for audit in audits if audit.is_dir() for left in audit.iterdir()):
        typer.echo(f"kept {kept}: it does not carry this tool's mark")


def _forget_calls(audit: Path, folder: Path) -> int:
    from cli.review.forgetting import forget_film
    from cli.review.log import LogError
    from counting.record.files import RecordError, load_record

    logs = [place / _LOG for place in dict.fromkeys((audit, audit.parent, folder))]
    logs = [log for log in logs if log.is_file()]
    if not logs:
        return 0
    try:
        film_sha256 = load_record(audit).film.sha256
        return sum(forget_film(log, film_sha256) for log in logs)
    except RecordError:
        return 0
    except LogError as error:
        raise UserError(str(error), BAD_INPUT) from error


def _forget_lines(audits: list[Path]) -> None:
    from cli.batch.table import drop_line
    from vision.files import WriteError

    try:
        for table in dict.fromkeys(filter(None, map(drop_line, audits))):
            typer.echo(f"took the film's line out of {table}")
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error


def _removed(files: list[Path], audits: list[Path], folder: Path) -> int:
    for file in files:
        file.unlink(missing_ok=True)
    for place in sorted({file.parent for file in files}, reverse=True):
        _remove_empty(place, folder)
    for audit in audits:
        _remove_empty(audit, folder)
    for name in _BATCH_FOLDERS:
        for unused in sorted((folder / name).rglob("*.audit"), reverse=True):
            _remove_empty(unused, folder)
        _remove_empty(folder / name, folder)
    _remove_empty(folder, folder)
    return len(files)


def _remove_empty(place: Path, top: Path) -> None:
    """Remove a folder and those above it, up to ``top``, as far as they are empty."""
    while place.is_dir() and not any(place.iterdir()):
        place.rmdir()
        if place == top:
            return
        place = place.parent
