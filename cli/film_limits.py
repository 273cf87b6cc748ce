"""The most a film may ask of the machine, as the user or a record says."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from cli.errors import WRONG_USAGE, UserError
from vision.film.limits import DEFAULT_LIMITS, FilmLimits, changed_limits

if TYPE_CHECKING:
    from counting.record.types import AuditRecord


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
