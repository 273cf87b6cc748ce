"""Telling films from other files, by what is in them: a name only speaks for what is damaged."""

import contextlib
import mimetypes
from functools import cache
from pathlib import Path, PurePath
from typing import BinaryIO

import av

from vision.film.opening import CONTAINERS, DEMUX_ERRORS, is_cover


def no_film_because(source: Path | BinaryIO, name: str) -> str | None:
    """Say why a file is not a film, None where it is one.

    A file that cannot be opened but is named as films are is taken for a damaged film: whoever
    wants it read is told what is wrong with it.

    Parameters
    ----------
    source
        The file, or its bytes where they can be sought in.
    name
        The file's name.
    """
    if isinstance(source, Path):
        if not source.exists():
            return None if _is_named_as_films_are(name) else "cannot be found or read"
        if not source.is_file():
            return "is not an ordinary file"
        opened: str | BinaryIO = f"file:{source}"
    else:
        opened = source
    try:
        # As for reading a film: an address or playlist inside the file opens nothing else.
        container = av.open(opened, options={"protocol_whitelist": "file"})
    except (*DEMUX_ERRORS, ValueError, UnicodeError):
        if _is_named_as_films_are(name):
            return None
        return "cannot be read as a film (damaged, cut off or another kind of file)"
    with container:
        kinds = container.format.name.split(",")
        if not CONTAINERS.intersection(kinds):
            return f"holds {container.format.long_name or kinds[0]}"
        # Photographs come in containers of films, too, and say that they hold one picture.
        moving = [
            stream
            for stream in container.streams.video
            if not is_cover(stream) and stream.frames != 1
        ]
        return None if moving else "holds no moving picture"


def _is_named_as_films_are(name: str) -> bool:
    suffix = PurePath(name).suffix.lower()
    return suffix in _film_suffixes()


@cache
def _film_suffixes() -> frozenset[str]:
    """Give the endings that the reader of containers and the list of media types know for films."""
    found = {
        suffix
        for suffix, kind in mimetypes.MimeTypes().types_map[True].items()
        if kind.startswith("video/")
    }
    for name in CONTAINERS:
        for mode in ("r", "w"):
            with contextlib.suppress(ValueError):
                found |= {f".{end}" for end in av.format.ContainerFormat(name, mode).extensions}
    return frozenset(found)
