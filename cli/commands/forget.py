"""``repwitness forget``: remove everything that was derived from a film."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import typer

from cli.errors import BAD_INPUT, UserError
from vision.files import is_folder

DERIVED_FILES: Final = (
    "audit.json",
    "reps.csv",
    "sets.csv",
    "splits.csv",
    "landmarks-*.npz",
    "continuity-*.json",
    "fit-*.npz",
    "film.npz",
    "report.html",
    "marked.mp4",
    "clips/rep_[0-9]*.mp4",
    "plan.json",
    "card.html",
    "plan.svg",
    "asked.json",
    ".repwitness-*.part*",
)
BATCH_FILES: Final = ("films.csv", "failures.csv", ".lock")
_SIGNS: Final = (
    "audit.json",
    "landmarks-*.npz",
    "asked.json",
    "continuity-*.json",
    ".repwitness-*.part*",
)
_BATCH_FOLDERS: Final = (".working", ".replaced")
_LOG: Final = "review.sqlite"


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("forget")(forget)


def forget(
    folder: Annotated[
        Path,
        typer.Argument(help="An audit's folder, or a batch's with all its audits.", metavar="DIR"),
    ],
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")] = False,
) -> None:
    """Remove what was derived from a film: record, tables, landmarks, report, marked films, calls.

    Films and files of your own are never touched. Decisions on the film in a review log in the
    folder or beside it are removed with it. What a disk or a backup still holds is beyond this
    command.
    """
    if not is_folder(folder):
        raise UserError(f"{folder}: no such folder; name an audit's folder", BAD_INPUT)
    audits = list(audit_folders(folder))
    of_batch = (
        [file for name in BATCH_FILES for file in folder.glob(name)] if _is_batch(folder) else []
    )
    if not audits and not of_batch:
        raise UserError(
            f"{folder}: holds no audit; name a folder made by 'repwitness audit' or 'batch'",
            BAD_INPUT,
        )
    files = [file for audit in audits for file in derived_files(audit)]
    files += of_batch
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
        typer.echo(f"kept {kept}: not made from the film by this tool")


def audit_folders(folder: Path) -> Iterator[Path]:
    """Find the audits in a folder: itself, its ``*.audit`` folders, half-made and replaced ones."""
    places = [folder, *folder.rglob("*.audit"), folder / ".replaced" / "old"]
    for place in dict.fromkeys(places):
        if place.is_dir() and not place.is_symlink() and _is_audit(place):
            yield place


def _is_audit(folder: Path) -> bool:
    return any(next(folder.glob(pattern), None) is not None for pattern in _SIGNS)


def _is_batch(folder: Path) -> bool:
    """Whether a batch has held the folder; tables of the same names elsewhere are the user's."""
    return (folder / ".lock").is_file()


def derived_files(folder: Path) -> list[Path]:
    """List what this tool made in an audit's folder; a link is removed, not what it points to."""
    found = [file for pattern in DERIVED_FILES for file in folder.glob(pattern)]
    return sorted(file for file in dict.fromkeys(found) if file.is_symlink() or file.is_file())


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
    from cli.batch.leftovers import drop_line
    from vision.files import WriteError

    try:
        for table in dict.fromkeys(filter(None, map(drop_line, audits))):
            typer.echo(f"took the film's line out of {table}")
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error


def _removed(files: list[Path], audits: list[Path], folder: Path) -> int:
    for file in files:
        file.unlink(missing_ok=True)
    for audit in audits:
        _remove_empty(audit / "clips", folder)
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
