"""The ``report`` command."""

from pathlib import Path
from typing import Annotated

import typer

from cli.audit.opening import open_audit
from cli.errors import BAD_INPUT, UserError
from cli.summary import to_explain

REPORT_NAME = "report.html"


def report(
    audit: Annotated[Path, typer.Argument(help="The audit's folder or its audit.json.")],
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="File to write; by default in the folder.")
    ] = None,
    film: Annotated[
        Path | None, typer.Option("--film", help="The film, if it is not in the audit's folder.")
    ] = None,
    stills: Annotated[
        bool, typer.Option(help="Show the deciding frame of each rep that is not good.")
    ] = True,
    hide_faces: Annotated[
        bool,
        typer.Option(
            "--hide-faces", help="Pixelate faces, bystanders' too; look before you share it."
        ),
    ] = False,
) -> None:
    """Write one HTML page with the whole audit.

    It is one file, to read, to send, or to print on two pages.
    """
    from cli.report.page import report_html
    from cli.report.stills import deciding_stills, second_stills
    from vision.files import WriteError, is_folder, write_whole

    opened = open_audit(audit, film)
    shown, second = {}, {}
    if stills and opened.film is not None and to_explain(opened.record):
        shown = deciding_stills(
            opened.film, opened, to_explain(opened.record), hide_faces=hide_faces
        )
        second = second_stills(opened, to_explain(opened.record), hide_faces=hide_faces)
    target = out or opened.folder / REPORT_NAME
    if is_folder(target):
        target /= REPORT_NAME
    try:
        write_whole(
            target,
            report_html(opened.record, shown, doubt=opened.doubt, second_stills=second),
        )
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error
    if stills and opened.film is None:
        typer.echo(
            f"repwitness: the film {opened.record.film.file} is not in the audit's folder, so the "
            "report shows no frames; name it with --film",
            err=True,
        )
    typer.echo(target)
