"""The user's own movement standards, as every command takes them."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cli.errors import BAD_INPUT, WRONG_USAGE, UserError

if TYPE_CHECKING:
    from counting.movements.types import Movement


def movements_known(standards: Sequence[Path] | None) -> "dict[str, Movement]":
    """All movements by name, the user's own in place of shipped ones of the same name.

    Raises
    ------
    UserError
        A file cannot be used.
    """
    from counting.movements.loader import StandardsError, known_movements

    try:
        return known_movements(standards or ())
    except StandardsError as error:
        raise UserError(str(error), BAD_INPUT) from error


def movement_asked(name: str, known: "dict[str, Movement]") -> "Movement":
    """Look up the movement that a user named.

    Raises
    ------
    UserError
        It is not known.
    """
    from counting.movements.loader import UnknownMovementError, movement_named

    try:
        return movement_named(name, known)
    except UnknownMovementError as error:
        raise UserError(f"{error}; see 'repwitness movements'", WRONG_USAGE) from error
