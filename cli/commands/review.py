"""The ``review`` command."""

from pathlib import Path
from typing import Annotated, Final

import typer

from cli.errors import BAD_INPUT, UserError
from vision.files import is_folder

PORT: Final = 8737
"""Any that is free of common use."""


def review(
    folder: Annotated[Path, typer.Argument(help="Folder with audits and their films.")],
    host: Annotated[
        str,
        typer.Option(
            "--host",
            help="Address to listen on; any but this machine's own needs the printed token.",
        ),
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="0: any free port.")] = PORT,
    name: Annotated[
        list[str] | None,
        typer.Option("--name", help="Another name by which browsers may reach this machine."),
    ] = None,
    token: Annotated[
        str | None,
        typer.Option(
            "--token",
            envvar="REPWITNESS_TOKEN",
            help="Access token; by default one is made where it is needed.",
        ),
    ] = None,
) -> None:
    """Call reps yourself, on a local web page.

    Shows all audits in a folder, those first where a look can change most.
    """
    if not is_folder(folder):
        raise UserError(
            f"{folder}: no such folder; name the folder that holds the audits", BAD_INPUT
        )
    from cli.review.serving import serve

    serve(folder, host, port, name or [], token, typer.echo)
