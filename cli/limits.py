"""``repwitness limits``: the most a film may ask of the machine, and how to allow more."""

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

import typer

from cli.errors import WRONG_USAGE, UserError
from vision.film.limits import DEFAULT_LIMITS, WORDS, FilmLimits, changed_limits

if TYPE_CHECKING:
    from counting.record.types import AuditRecord


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("limits")(limits)


def limits() -> None:
    """List the limits on films; films over one are refused before they are decoded.

    Change one with --limit NAME=VALUE of 'audit' and 'batch'.
    """
    width = max(len(name) for name in WORDS)
    for name, most in asdict(DEFAULT_LIMITS).items():
        typer.echo(f"{name:<{width}}  {most:>18,}  {WORDS[name]}")


def film_limits(changes: Sequence[str] | None) -> FilmLimits:
    """Read ``--limit`` options.

    Raises
    ------
    UserError
        One of them is no known limit with a positive value.
    """
    try:
        return changed_limits(changes or ())
    except ValueError as error:
        raise UserError(f"--limit: {error}", WRONG_USAGE) from error


def limits_of(record: "AuditRecord") -> FilmLimits:
    """Limits under which the film of a record is read again: it was allowed once."""
    film = record.film
    return replace(
        DEFAULT_LIMITS,
        picture_px=max(DEFAULT_LIMITS.picture_px, film.width * film.height),
        duration_s=max(DEFAULT_LIMITS.duration_s, film.duration_s),
        frames=max(DEFAULT_LIMITS.frames, film.frames),
        frame_rate_hz=max(DEFAULT_LIMITS.frame_rate_hz, 2.0 * film.frame_rate_mean_hz),
    )
