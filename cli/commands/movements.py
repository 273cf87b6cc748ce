"""``repwitness movements``: which movements are known, and what their standard is."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError

if TYPE_CHECKING:
    from counting.movements.types import Movement


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("movements")(movements)


def movements(
    name: Annotated[
        str | None, typer.Argument(help="A movement, to see its whole standard.", metavar="NAME")
    ] = None,
    standards: Annotated[
        Path | None,
        typer.Option("--standards", help="Your own standards file (TOML) to list with the others."),
    ] = None,
) -> None:
    """List the known movements, or show one movement's standard whole.

    Event rulebooks differ, and theirs decides: copy a standard, change a limit, and pass it
    with --standards.
    """
    from counting.movements.loader import (
        StandardsError,
        UnknownMovementError,
        built_in_movements,
        find_movement,
        load_movement,
        slug,
    )

    try:
        if name is not None:
            typer.echo(_whole(find_movement(name, standards)))
            return
        listed = {slug(movement.name): movement for movement in built_in_movements()}
        if standards is not None:
            own = load_movement(standards)
            listed[slug(own.name)] = own
    except UnknownMovementError as error:
        raise UserError(str(error), WRONG_USAGE) from error
    except StandardsError as error:
        raise UserError(str(error), BAD_INPUT) from error
    for _, movement in sorted(listed.items()):
        typer.echo(f"{movement.name}\n  {' '.join(movement.words.split())}")


def _whole(movement: "Movement") -> str:
    cycle = movement.cycle
    lines = [
        movement.name,
        f"  {' '.join(movement.words.split())}",
        f"  apparatus: {movement.apparatus}; base: {movement.base}",
        f"  a repetition swings the {cycle.driver}, with its {cycle.turn} point at the turn"
        + (f", then the {cycle.then}" if cycle.then else ""),
        "  checks:",
    ]
    for check in movement.checks:
        lines += [
            f"  - {check.name}: {check.words}",
            f"      {check.read} {check.quantity} at the {check.phase} {check.relation} "
            f"{check.limit:g} {check.unit}",
        ]
    return "\n".join(lines)
