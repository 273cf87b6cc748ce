"""``repwitness standards``: help for whoever writes a movement's standard."""

from pathlib import Path
from typing import Annotated

import typer

from cli.errors import BAD_INPUT, UserError

group = typer.Typer(
    help="Check movement standards of your own.", no_args_is_help=True, rich_markup_mode=None
)


@group.callback()
def standards() -> None:
    """Check movement standards of your own."""


@group.command("check")
def check(
    files: Annotated[
        list[Path],
        typer.Argument(help="Standards files, or folders of them.", metavar="FILE|DIR..."),
    ],
    picture: Annotated[
        Path | None,
        typer.Option("--picture", metavar="FILE.svg", help="Draw the phases of the last one here."),
    ] = None,
) -> None:
    """Say all that is wrong with standards files, each fault with its line.

    A file without a fault is answered with what will be judged of it and what only counted. Exit
    status: 0 all can be used, 3 one cannot.
    """
    from cli.charts.phases import phases_picture
    from cli.commands.movements import listed, wrapped
    from counting.movements.loader import (
        StandardsError,
        faults_of,
        known_movements,
        load_movement,
        standards_files,
    )
    from vision.files import WriteError, write_whole

    try:
        named = standards_files(files)
        faulty = False
        for file in named:
            try:
                faults = faults_of(file)
            except StandardsError as error:
                typer.echo(str(error))
                faulty = True
                continue
            faulty = faulty or bool(faults)
            for fault in faults:
                typer.echo(f"{file}:{fault.line}: {fault.words}")
            if not faults:
                movement = load_movement(file)
                typer.echo(f"{file}: no fault")
                typer.echo(wrapped([f"  {line}" for line in listed(movement)]))
                if picture is not None:
                    write_whole(picture, phases_picture(movement))
        if faulty:
            raise typer.Exit(BAD_INPUT)
        known_movements(files)
    except (StandardsError, WriteError) as error:
        raise UserError(str(error), BAD_INPUT) from error
