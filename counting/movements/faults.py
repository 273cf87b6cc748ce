"""All faults of a standards file at once, each with its line and what may stand there."""

import difflib
import re
import tomllib
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal, get_args, get_origin

import msgspec

from counting.movements.key_lines import Path, key_lines, line_of
from counting.movements.meaning import contradictions
from counting.movements.types import OBJECTS, QUANTITY_UNITS, Movement

_READ_AT_A_GLANCE: Final = 8
"""Allowed words that are listed whole; of more, the nearest is named first (no source)."""
_KINDS: Final = {
    "object": "a table",
    "array": "a list",
    "str": "words in quotes",
    "float": "a number",
    "int": "a whole number",
    "bool": "true or false",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with a file; ``line`` counts from 1."""

    line: int
    words: str


def parse(text: str) -> tuple[Movement | None, list[Fault]]:
    """Read a standards file's text: the movement, or all that is wrong with it in file order."""
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        found = re.search(r"at line (\d+)", str(error))
        line = int(found.group(1)) if found else len(text.splitlines())
        return None, [Fault(line, _not_toml(str(error)))]
    lines = key_lines(text)

    def fault(path: Path, words: str) -> Fault:
        return Fault(line_of(path, lines), words)

    faults = [fault(path, words) for path, words in _without_unit(document)]
    faults += [fault(path, words) for path, words in _struct(document, Movement, ())]
    sound = not faults
    try:
        movement = msgspec.convert(_sound(document, Movement), type=Movement)
    except (_BeyondRepairError, msgspec.ValidationError):
        return None, sorted(faults, key=lambda one: one.line)
    faults += [fault(path, words) for path, words in contradictions(movement)]
    if sound and not faults:
        return movement, []
    return None, sorted(faults, key=lambda one: one.line)


def _not_toml(said: str) -> str:
    """Say what a TOML reader found; what is given twice in words that name it."""
    twice = re.search(r"(?:immutable namespace|Cannot declare) \('(\w+)',\)", said)
    if twice is not None:
        name = twice.group(1)
        return (
            f"not TOML: {name} is there twice; where [[{name}]] or [{name}] follows, leave the "
            "other out"
        )
    return f"not TOML ({said})"


class _BeyondRepairError(Exception):
    """Too little of a file can be read to look for contradictions in it."""


def _sound(document: dict[str, Any], kind: type[msgspec.Struct]) -> dict[str, Any]:
    """Give what can be read of a document, so that one fault does not hide what contradicts itself.

    Faulty values that have a default are left out; required ones that are words or lists are
    filled in. Raises `_BeyondRepairError` where others are missing or faulty.
    """
    kept = {}
    for field in msgspec.structs.fields(kind):
        if field.name not in document:
            if field.required:
                kept[field.name] = _filled_in(field.type)
            continue
        value = document[field.name]
        try:
            kept[field.name] = _sound_value(value, field.type)
        except _BeyondRepairError:
            if field.required:
                kept[field.name] = _filled_in(field.type)
            elif field.name in _HOW_FOUND:
                raise
    return kept


_HOW_FOUND: Final = ("cycle", "phases")


def _sound_value(value: Any, kind: Any) -> Any:
    if not list(_value(value, kind, ())):
        return value
    inside = () if get_origin(kind) is dict else get_args(kind)
    structs = [one for one in (kind, *inside) if isinstance(one, type)]
    struct = next((one for one in structs if issubclass(one, msgspec.Struct)), None)
    if struct is not None and isinstance(value, dict):
        return _sound(value, struct)
    listed = isinstance(value, list) and all(isinstance(one, dict) for one in value)
    if struct is not None and listed:
        return [_sound(one, struct) for one in value]
    raise _BeyondRepairError


def _filled_in(kind: Any) -> Any:
    if kind is str:
        return "missing"
    if get_origin(kind) is tuple:
        return []
    raise _BeyondRepairError


def _without_unit(document: dict[str, Any]) -> Iterator[tuple[Path, str]]:
    units: dict[str, str] = {name: unit for name, (_, unit) in OBJECTS.items()}
    units.update(QUANTITY_UNITS.items())
    for field, any_unit in (("checks", '"cm" or "deg"'), ("objects", '"cm" or "passes"')):
        asked = document.get(field)
        for index, check in enumerate(asked if isinstance(asked, list) else []):
            if isinstance(check, dict) and "limit" in check and "unit" not in check:
                expected = units.get(str(check.get("quantity")))
                hint = f'"{expected}"' if expected else any_unit
                path: Path = (field, index, "limit")
                yield path, f"{field}[{index}].limit has no unit: add unit = {hint} beside it"


def _struct(
    value: dict[str, Any], kind: type[msgspec.Struct], path: Path
) -> Iterator[tuple[Path, str]]:
    fields = {field.name: field for field in msgspec.structs.fields(kind)}
    where = _named(path) or "the top of the file"
    for name in value:
        if name not in fields:
            near = difflib.get_close_matches(name, fields, n=1)
            hint = f'; did you mean "{near[0]}"?' if near else f"; known: {', '.join(fields)}"
            yield (*path, name), f'{where} has the unknown field "{name}"{hint}'
    for name, field in fields.items():
        if name in value:
            yield from _value(value[name], field.type, (*path, name))
        elif field.required and not (name == "unit" and "limit" in value):
            yield path, f"{where} has no {name}"


def _value(value: Any, kind: Any, path: Path) -> Iterator[tuple[Path, str]]:
    """Faults of one value; structures are gone into, so that none hides another."""
    origin, inside = get_origin(kind), get_args(kind)
    if origin in (types.UnionType, typing.Union):
        kind = next(one for one in inside if one is not type(None))
        origin, inside = get_origin(kind), get_args(kind)
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct) and isinstance(value, dict):
        yield from _struct(value, kind, path)
    elif origin is tuple and isinstance(value, list):
        for index, one in enumerate(value):
            yield from _value(one, inside[0], (*path, index))
    elif origin is dict and isinstance(value, dict):
        for name, one in value.items():
            yield from _value(name, inside[0], (*path, name))
            yield from _value(one, inside[1], (*path, name))
    elif origin is Literal and value not in inside:
        allowed = sorted(map(str, inside))
        many = len(allowed) > _READ_AT_A_GLANCE
        near = difflib.get_close_matches(str(value), allowed, n=1) if many else []
        hint = f' (did you mean "{near[0]}"?)' if near else ""
        yield path, f'{_named(path)} is "{value}"{hint}, expected one of: {", ".join(allowed)}'
    elif origin is not Literal:
        try:
            msgspec.convert(value, type=kind)
        except msgspec.ValidationError as error:
            said = str(error).partition(" - at `$")[0]
            said = re.sub(r"`(\w+)`", lambda kind: _KINDS.get(kind[1], kind[0]), said)
            yield path, f"{_named(path)}: {said[:1].lower()}{said[1:]}"


def _named(path: Path) -> str:
    said = ""
    for step in path:
        if isinstance(step, int):
            said += f"[{step}]"
        else:
            said += ("." if said else "") + (f'"{step}"' if " " in step else step)
    return said
