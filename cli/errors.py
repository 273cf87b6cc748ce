"""Errors that end a command with one line for the user."""

from typing import Final

WRONG_USAGE: Final = 2
BAD_INPUT: Final = 3
"""Exit statuses, as every command's help says them."""


class UserError(Exception):
    """A problem the user can mend: names the file, the time where there is one, and the remedy.

    Attributes
    ----------
    exit_status
        ``WRONG_USAGE`` (2) or ``BAD_INPUT`` (3).
    """

    def __init__(self, message: str, exit_status: int = BAD_INPUT) -> None:
        super().__init__(message)
        self.exit_status = exit_status
