"""The line of a thrown ball's target, as commands and lists of films take it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cli.errors import WRONG_USAGE, UserError

if TYPE_CHECKING:
    from counting.objects.line import Target


def target_told(numbers: Sequence[float] | None, where: str) -> "Target | None":
    """Take a target from what was typed; None where nothing was.

    Raises
    ------
    UserError
        It is no line; the message begins with ``where`` it was typed.
    """
    from counting.objects.line import target_of

    try:
        return None if numbers is None else target_of(numbers)
    except ValueError as error:
        raise UserError(f"{where}: {error}", WRONG_USAGE) from error
