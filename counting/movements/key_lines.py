"""On which line of a TOML text a key stands, so that an error can point at it."""

import re
import tomllib
from typing import Final

Path = tuple[str | int, ...]

_HEADER: Final = re.compile(r"^\s*(\[\[?)(.+?)(\]\]?)\s*(#.*)?$")
_TRIPLE: Final = re.compile(r'"""|\'\'\'')


def key_lines(text: str) -> dict[Path, int]:
    """Map the path of every table and of every key that begins a line to its line, from 1.

    A path holds keys and, for arrays of tables, positions from 0: ``("blocks", 1, "rounds")``.
    Keys inside an inline table or array are not listed; `line_of` falls back to their parent.
    The text must already have been accepted by ``tomllib``.
    """
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    fence: str | None = None
    depth = 0
    for number, line in enumerate(text.splitlines(), start=1):
        if fence is not None:
            if fence in line:
                fence = None
            continue
        if depth == 0:
            header = _HEADER.match(line)
            if header:
                table = _enter(_keys(header[2]), header[1] == "[[", counts)
                lines.setdefault(table, number)
                continue
            key = _key_of(line)
            if key:
                lines.setdefault(table + key, number)
        bare = _without_strings(line)
        depth = max(0, depth + sum(map(bare.count, "[{")) - sum(map(bare.count, "]}")))
        marks = _TRIPLE.findall(line)
        if len(marks) % 2:
            fence = marks[-1]
    return lines


def line_of(path: Path, lines: dict[Path, int]) -> int:
    """Line of the innermost known part of a path; 1 where nothing of it is known."""
    for length in range(len(path), 0, -1):
        line = lines.get(path[:length])
        if line is not None:
            return line
    return 1


def _enter(keys: Path, is_array: bool, counts: dict[Path, int]) -> Path:
    """Path of the table a header opens, with the positions of the arrays it lies in."""
    path: Path = ()
    for position, key in enumerate(keys):
        path = (*path, key)
        last = position == len(keys) - 1
        if last and is_array:
            counts[path] = counts.get(path, -1) + 1
            path = (*path, counts[path])
        elif path in counts:
            path = (*path, counts[path])
    return path


def _keys(text: str) -> Path:
    """Take a dotted key apart, quoted parts included."""
    try:
        found: object = tomllib.loads(f"{text} = 0")
    except tomllib.TOMLDecodeError:
        return ()
    keys: Path = ()
    while isinstance(found, dict) and found:
        ((key, found),) = found.items()
        keys = (*keys, key)
    return keys


def _key_of(line: str) -> Path:
    """Key that a line begins with, or an empty path."""
    end = line.find("=")
    while end > 0:
        keys = _keys(line[:end])
        if keys:
            return keys
        end = line.find("=", end + 1)
    return ()


def _without_strings(line: str) -> str:
    """Leave out strings and the comment of a line."""
    bare = re.sub(r'"(\\.|[^"\\])*"|\'[^\']*\'', "", line)
    return bare.split("#", 1)[0]
