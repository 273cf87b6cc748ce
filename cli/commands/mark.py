"""``repwitness mark``: the film with pose, counter, calls and clock drawn on it."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from cli.audit.opening import open_audit
from cli.errors import WRONG_USAGE, UserError
from cli.names import within_limit
from cli.summary import flagged
from counting.record.types import AuditRecord, RepPart


def mark(
    film: Annotated[Path, typer.Argument(help="The film that was audited.")],
    audit: Annotated[
        Path | None,
        typer.Argument(
            help="The audit's folder or audit.json; by default FILM's own .audit folder."
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", help="File to write, or folder for clips; else the audit's."),
    ] = None,
    clip: Annotated[
        list[int] | None,
        typer.Option("--clip", metavar="REP", help="Only a short clip of this rep."),
    ] = None,
    only_flagged: Annotated[
        bool, typer.Option("--flagged", help="A short clip of every rep that is not good.")
    ] = False,
    hide_faces: Annotated[
        bool,
        typer.Option(
            "--hide-faces",
            help="Pixelate faces, bystanders' too; look at the result before you share it.",
        ),
    ] = False,
) -> None:
    """Draw pose, counter, calls and clock on the film.

    Each call shows its reason. The film is written as H.264 MP4.
    """
    from cli.marking import mark_film

    opened = open_audit(audit or film.with_name(within_limit(film.stem, ".audit")), film)
    reps = _wanted(opened.record, clip or [], only_flagged=only_flagged)
    for path in mark_film(film, opened, out, reps, hide_faces=hide_faces):
        typer.echo(path)


def _wanted(record: AuditRecord, clips: Sequence[int], *, only_flagged: bool) -> list[RepPart]:
    reps = {rep.number: rep for rep in record.reps}
    unknown = [number for number in clips if number not in reps]
    if unknown:
        raise UserError(
            f"there is no rep {unknown[0]}; this audit holds reps 1 to {len(reps)}"
            if reps
            else f"there is no rep {unknown[0]}; this audit holds none",
            WRONG_USAGE,
        )
    chosen = {number: reps[number] for number in clips}
    if only_flagged:
        chosen |= {rep.number: rep for rep in flagged(record)}
        if not chosen:
            raise UserError("no rep is flagged in this audit: there is nothing to cut", WRONG_USAGE)
    return [chosen[number] for number in sorted(chosen)]
