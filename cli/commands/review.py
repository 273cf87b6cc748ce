"""The ``review`` command."""

from pathlib import Path
from typing import Annotated

import typer

from cli.errors import BAD_INPUT, UserError
from vision.files import is_folder

PORT = 8737


def register(app: typer.Typer) -> None:
    """Add ``review`` to the command line."""
    app.command("review")(review)


def review(
    folder: Annotated[Path, typer.Argument(help="Folder with audits and their films.")],
    host: Annotated[
        str,
        typer.Option(
            "--host",
            help="Address to listen on; others than this machine's own need the printed token.",
        ),
    ] = "127.0.0.1",
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="0 takes a free one.")
    ] = PORT,
    name: Annotated[
        list[str] | None,
        typer.Option("--name", help="A further name by which browsers may call this machine."),
    ] = None,
    token: Annotated[
        str | None,
        typer.Option(
            "--token",
            envvar="REPWITNESS_TOKEN",
            help="Ask for this token; else one is made up where needed.",
        ),
    ] = None,
) -> None:
    """Decide undecided and flagged reps on a local web page, over all audits in a folder."""
    if not is_folder(folder):
        raise UserError(
            f"{folder}: no such folder; name the folder that holds the audits", BAD_INPUT
        )
    from cli.review.serving import serve

    serve(folder, host, port, name or [], token, typer.echo)
