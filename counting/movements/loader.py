"""Reading standards files, built-in or the user's own, and refusing what contradicts itself."""

import hashlib
import os
from collections.abc import Sequence
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Final

from counting.movements.faults import Fault, parse
from counting.movements.types import Movement, slug
from vision.files import is_folder, read_whole

LARGEST_FILE_BYTES: Final = 1_000_000
"""What is larger is no standard: those shipped have a few thousand."""


class StandardsError(ValueError):
    """A standards file that cannot be used; the message names file, key and what is expected."""


class UnknownMovementError(LookupError):
    """No built-in standard of that name; the message lists the known ones."""


@cache
def built_in_movements() -> tuple[Movement, ...]:
    """All movements shipped with the package, by name."""
    folder = files("counting.movements").joinpath("standards")
    found = [
        parse_movement(entry.read_bytes(), entry.name)
        for entry in folder.iterdir()
        if entry.name.endswith(".toml")
    ]
    return tuple(sorted(found, key=lambda movement: movement.name))


@cache
def labelled_as() -> dict[str, str]:
    """Names of built-in movements by the short names that label files give them."""
    return {label: movement.name for movement in built_in_movements() for label in movement.labels}


def known_movements(standards: Sequence[Path] = ()) -> dict[str, Movement]:
    """All movements by name: those shipped, and the user's own, which answer for their names.

    Parameters
    ----------
    standards
        The user's standards files, or folders of them.

    Raises
    ------
    StandardsError
        A file cannot be used, a folder holds none, or two files are of one movement.
    """
    own: dict[str, tuple[Movement, Path]] = {}
    for file in standards_files(standards):
        movement = load_movement(file)
        other = own.get(movement.slug)
        if other is not None:
            raise StandardsError(
                f'{file} and {other[1]} are both a standard of "{movement.name}": leave one out, '
                "or give one of them another name"
            )
        own[movement.slug] = movement, file
    shipped = [m for m in built_in_movements() if m.slug not in own]
    every = [*shipped, *(movement for movement, _ in own.values())]
    return {movement.name: movement for movement in sorted(every, key=lambda m: m.slug)}


def standards_files(standards: Sequence[Path]) -> list[Path]:
    """Files that are meant, each once: those named, and the TOML files of folders named.

    Raises
    ------
    StandardsError
        A folder holds no TOML file, or cannot be read.
    """
    found: dict[Path, Path] = {}
    for path in standards:
        inside = [path]
        if is_folder(path):
            inside = sorted(path.glob("*.toml"))
            if not inside:
                raise StandardsError(f"{path}: holds no standards file NAME.toml")
        for file in inside:
            # As os.path does it, a loop of links is a file that cannot be read, and no error here.
            found.setdefault(Path(os.path.realpath(file)), file)
    return list(found.values())


def standards_digest(standards: Sequence[Path]) -> str | None:
    """SHA-256 of the standards files' content, whatever their order and names; None for none.

    Raises
    ------
    StandardsError
        A file cannot be read.
    """
    digests = sorted(
        hashlib.sha256(_content(file)).hexdigest() for file in standards_files(standards)
    )
    if len(digests) <= 1:
        return digests[0] if digests else None
    return hashlib.sha256("\n".join(digests).encode()).hexdigest()


def find_movement(name: str) -> Movement:
    """Look a shipped movement up by name; see `movement_named`."""
    return movement_named(name, known_movements())


def movement_named(name: str, known: dict[str, Movement]) -> Movement:
    """Look a movement up among those known, forgiving of case, hyphens, underscores and spaces.

    Raises
    ------
    UnknownMovementError
        There is none of that name.
    """
    wanted = slug(name)
    for movement in known.values():
        if movement.slug == wanted:
            return movement
    raise UnknownMovementError(f'there is no movement "{name}"; {_meant(wanted, known)}')


def _meant(wanted: str, known: dict[str, Movement]) -> str:
    """Name the movements that a misspelt name may mean, or all of them."""
    by_slug = {slug(name): name for name in known}
    close = get_close_matches(wanted, by_slug, n=3, cutoff=0.6)
    if close:
        return f"did you mean {' or '.join(by_slug[name] for name in close)}?"
    return f"there are: {', '.join(known)}"


def load_movement(path: Path) -> Movement:
    """Read one standards file.

    Raises
    ------
    StandardsError
        The file cannot be read or used; the message names file, key and what is expected.
    """
    return parse_movement(_content(path), str(path))


def faults_of(path: Path) -> list[Fault]:
    """All that is wrong with a standards file, in file order; empty where nothing is.

    Raises
    ------
    StandardsError
        The file cannot be read, or is no text.
    """
    return parse(_text(_content(path), str(path)))[1]


def parse_movement(data: bytes, source: str) -> Movement:
    """Parse a standards file's bytes; ``source`` names it in errors. Raises as `load_movement`."""
    movement, faults = parse(_text(data, source))
    if movement is None:
        more = f" (and {len(faults) - 1} more faults)" if len(faults) > 1 else ""
        raise StandardsError(f"{source}: {faults[0].words}{more}")
    return movement


def _content(path: Path) -> bytes:
    try:
        return read_whole(path, LARGEST_FILE_BYTES)
    except OSError as error:
        raise StandardsError(f"{path}: cannot be read ({error.strerror})") from error


def _text(data: bytes, source: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise StandardsError(f"{source}: not UTF-8 text (byte {error.start})") from error
