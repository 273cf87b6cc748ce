"""What is wrong with a TOML document that has to fit a type, in words for whoever wrote it."""

import difflib
import re
from collections.abc import Sequence
from typing import Any, Final

import msgspec
from msgspec import inspect

Path = tuple[str | int, ...]

_TYPE_WORDS: Final = {
    "int": "a whole number",
    "float": "a number",
    "str": "text in quotes",
    "bool": "true or false",
    "array": "a list in brackets",
    "object": "a table",
    "null": "nothing",
    "date": "a date such as 2026-03-01",
}


_BOUND_WORDS: Final = {">": "above", ">=": "at least", "<": "below", "<=": "at most"}


def fault_of(error: msgspec.ValidationError, kind: type[msgspec.Struct]) -> tuple[str, Path]:
    """Tell a validation error.

    Parameters
    ----------
    error
        As raised by ``msgspec.convert`` of the document to ``kind``.
    kind
        The type that the document has to fit.

    Returns
    -------
    Plain words, and the path of the key or value they are about.
    """
    message, _, where = str(error).partition(" - at `")
    path: Path = tuple(
        int(index) if index else key
        for key, index in re.findall(r"\.([^.\[\]`]+)|\[(\d+)\]", where)
        if key != "..."
    )
    name = ".".join(str(part) for part in path if isinstance(part, str)) or "the file"
    unknown = re.match(r"Object contains unknown field `(.*)`", message)
    if unknown:
        known = keys_at(kind, path)
        return f"unknown key {unknown[1]!r}{nearest_words(unknown[1], known)}", (*path, unknown[1])
    missing = re.match(r"Object missing required field `(.*)`", message)
    if missing:
        return f"{name} lacks the key {missing[1]!r}", path
    bound = re.match(r"Expected `(?:float|int)` (>=|<=|>|<) ([-\d.]+)", message)
    if bound:
        return f"{name} has to be {_BOUND_WORDS[bound[1]]} {float(bound[2]):g}", path
    entries = re.match(r"Expected `array` of length (>=|<=) (\d+)", message)
    if entries:
        return f"{name} has to have {_BOUND_WORDS[entries[1]]} {entries[2]} entries", path
    expected = re.match(r"Expected `(.*)`, got `(.*)`", message)
    if expected:
        wanted = _type_words(expected[1])
        return f"{name} has to be {wanted}, not {_type_words(expected[2])}", path
    if message.startswith("Expected `str` matching regex"):
        return f'{name} has to be a time as in "7:25"', path
    choice = re.match(r"Invalid enum value '?(.*?)'?$", message)
    if choice:
        known = _choices_at(kind, path)
        return f"{name}: {choice[1]!r} is not known{nearest_words(choice[1], known)}", path
    return f"{name}: {message[:1].lower()}{message[1:]}", path


def nearest_words(given: str, known: Sequence[str]) -> str:
    """Name the nearest of the known words, or all of them where none is near."""
    near = difflib.get_close_matches(given, known, n=1)
    if near:
        return f"; did you mean {near[0]!r}?"
    return f"; known here: {', '.join(known)}" if known else ""


def keys_at(kind: type[msgspec.Struct], path: Path) -> list[str]:
    """Keys that the table at a path may hold."""
    found = _type_at(kind, path)
    return [
        field.encode_name
        for option in _options(found)
        if isinstance(option, inspect.StructType)
        for field in option.fields
    ]


def _choices_at(kind: type[msgspec.Struct], path: Path) -> list[str]:
    return [
        str(value)
        for option in _options(_type_at(kind, path))
        if isinstance(option, inspect.LiteralType)
        for value in option.values
    ]


def _type_at(kind: type[msgspec.Struct], path: Path) -> inspect.Type:
    here = inspect.type_info(kind)
    for part in path:
        for option in _options(here):
            following = _step(option, part)
            if following is not None:
                here = following
                break
    return here


def _step(option: inspect.Type, part: str | int) -> inspect.Type | None:
    if isinstance(option, inspect.StructType):
        return next((f.type for f in option.fields if f.encode_name == part), None)
    if isinstance(option, inspect.ListType) and isinstance(part, int):
        return option.item_type
    return option.value_type if isinstance(option, inspect.DictType) else None


def _options(kind: Any) -> Sequence[inspect.Type]:
    return kind.types if isinstance(kind, inspect.UnionType) else (kind,)


def _type_words(names: str) -> str:
    each = [name for name in names.split(" | ") if name != "null"] or ["null"]
    return " or ".join(dict.fromkeys(_TYPE_WORDS.get(name, name) for name in each))
