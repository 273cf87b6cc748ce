"""The lines of a list of films: a path or URL each, and what is said of that film alone.

Fields follow the film, each set off by a tab: ``second_view=FILM`` as often as there are further
films of the attempt, ``target=X Y X Y`` at most once.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from cli.errors import WRONG_USAGE, UserError
from cli.target import target_told
from counting.objects.line import Target

LIST_LIMIT_BYTES: Final = 64 * 1024 * 1024
"""A larger file is no list of films: a line each of 255 bytes is a quarter of a million films."""
_FIELD: Final = re.compile(r"\t(second_view|target)=")


@dataclass(frozen=True, slots=True)
class ListedFilm:
    """One line of a list: ``source`` and ``second_views`` as they stand there."""

    source: str
    second_views: tuple[str, ...]
    target: Target | None


def listed_films(data: bytes, place: str) -> Iterator[ListedFilm]:
    """Read the lines of a list that lies in ``place``.

    Raises
    ------
    UserError
        It is no list, or what a line says of its film cannot be used; the message names the line.
    """
    if len(data) > LIST_LIMIT_BYTES or b"\0" in data:
        raise UserError(
            f"{place}: not a list of films; give a folder, or a text file with one film a line",
            WRONG_USAGE,
        )
    # File names are bytes to the system: a name that is no UTF-8 still finds its file.
    text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "surrogateescape")
    for number, line in enumerate(text.split("\n"), start=1):
        entry = line.strip("\r\t ")
        if entry and not entry.startswith("#"):
            yield _film_of(entry, f"{place}, line {number}")


def _film_of(entry: str, where: str) -> ListedFilm:
    source, *fields = _FIELD.split(entry)
    told = list(zip(fields[::2], fields[1::2], strict=True))
    targets = [value for name, value in told if name == "target"]
    if len(targets) > 1:
        raise UserError(f"{where}: target: is given {len(targets)} times", WRONG_USAGE)
    return ListedFilm(
        source,
        tuple(value for name, value in told if name == "second_view"),
        target_told(_numbers(targets[0], where), f"{where}: target") if targets else None,
    )


def _numbers(words: str, where: str) -> list[float]:
    try:
        return [float(word) for word in words.split()]
    except ValueError as error:
        raise UserError(
            f"{where}: target: {words!r} is not four numbers, as 0.4 0.2 0.6 0.21 is", WRONG_USAGE
        ) from error
