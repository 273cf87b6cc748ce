"""All faults of a standards file at once, each with its line and what may stand there."""

import difflib
import re
import tomllib
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin

import msgspec

from counting.movements.key_lines import Path, key_lines, line_of
from counting.movements.meaning import contradictions
from counting.movements.types import QUANTITY_UNITS, Movement


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
        return None, [Fault(line, f"not TOML ({error})")]
    lines = key_lines(text)

    def fault(path: Path, words: str) -> Fault:
        return Fault(line_of(path, lines), words)

    faults = [fault(path, words) for path, words in _without_unit(document)]
    faults += [fault(path, words) for path, words in _struct(document, Movement, ())]
    if not faults:
        movement = msgspec.convert(document, type=Movement)
        faults = [fault(path, words) for path, words in contradictions(movement)]
        if not faults:
            return movement, []
    return None, sorted(faults, key=lambda one: one.line)


def _without_unit(document: dict[str, Any]) -> Iterator[tuple[Path, str]]:
    checks = document.get("checks")
    for index, check in enumerate(checks if isinstance(checks, list) else []):
        if isinstance(check, dict) and "limit" in check and "unit" not in check:
            named = str(check.get("quantity"))
            expected = next((unit for name, unit in QUANTITY_UNITS.items() if name == named), None)
            hint = f'"{expected}"' if expected else '"cm" or "deg"'
            path: Path = ("checks", index, "limit")
            yield path, f"checks[{index}].limit has no unit: add unit = {hint} beside it"


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
        allowed = ", ".join(sorted(map(str, inside)))
        yield path, f'{_named(path)} is "{value}", expected one of: {allowed}'
    elif origin is not Literal:
        try:
            msgspec.convert(value, type=kind)
        except msgspec.ValidationError as error:
            said = str(error).partition(" - at `$")[0]
            yield path, f"{_named(path)}: {said[:1].lower()}{said[1:]}"


def _named(path: Path) -> str:
    said = ""
    for step in path:
        if isinstance(step, int):
            said += f"[{step}]"
        else:
            said += ("." if said else "") + (f'"{step}"' if " " in step else step)
    return said
