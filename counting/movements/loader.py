"""Reading standards files, built-in or the user's own, and refusing what contradicts itself."""

import re
import tomllib
from functools import cache
from importlib.resources import files
from itertools import combinations
from math import isfinite
from pathlib import Path
from typing import Any, Final

import msgspec

from counting.movements.types import (
    QUANTITY_APPARATUS,
    QUANTITY_UNITS,
    Check,
    Movement,
)
from vision.files import read_whole

LARGEST_FILE_BYTES: Final = 1_000_000
_LARGEST_SWING: Final = 2.0


class StandardsError(ValueError):
    """A standards file that cannot be used; the message names file, key and what is expected."""


class UnknownMovementError(LookupError):
    """No built-in standard of that name; the message lists the known ones."""


def slug(name: str) -> str:
    """Turn a movement's name into its file name: lower case, everything else an underscore.

    Case, spaces, hyphens and underscores therefore do not matter when a movement is looked up.
    """
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")


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


def find_movement(name: str, standards: Path | None = None) -> Movement:
    """Look a movement up by name, forgiving of case, hyphens, underscores and spaces.

    Parameters
    ----------
    name
        As the user wrote it.
    standards
        The user's own standards file; it answers for the movement that it names.

    Raises
    ------
    UnknownMovementError
        Neither the user's file nor the package knows the movement.
    StandardsError
        The user's file cannot be used.
    """
    known = list(built_in_movements())
    if standards is not None:
        known.insert(0, load_movement(standards))
    wanted = slug(name)
    for movement in known:
        if slug(movement.name) == wanted:
            return movement
    names = ", ".join(sorted({movement.name for movement in known}))
    raise UnknownMovementError(f'no movement "{name}" is known; known are: {names}')


def load_movement(path: Path) -> Movement:
    """Read one standards file.

    Raises
    ------
    StandardsError
        The file cannot be read or used; the message names file, key and what is expected.
    """
    try:
        data = read_whole(path, LARGEST_FILE_BYTES)
    except OSError as error:
        raise StandardsError(f"{path}: cannot be read ({error.strerror})") from error
    return parse_movement(data, str(path))


def parse_movement(data: bytes, source: str) -> Movement:
    """Parse a standards file's bytes; ``source`` names it in errors. Raises as `load_movement`."""
    try:
        document = tomllib.loads(data.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise StandardsError(f"{source}: not UTF-8 text (byte {error.start})") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise StandardsError(f"{source}: not TOML ({error})") from error
    _require_units(document, source)
    try:
        movement = msgspec.convert(document, type=Movement)
    except msgspec.ValidationError as error:
        raise StandardsError(f"{source}: {_in_plain_words(str(error))}") from error
    _refuse_contradictions(movement, source)
    return movement


def _require_units(document: dict[str, Any], source: str) -> None:
    checks = document.get("checks")
    for index, check in enumerate(checks if isinstance(checks, list) else []):
        if isinstance(check, dict) and "limit" in check and "unit" not in check:
            named = str(check.get("quantity"))
            expected = next((unit for name, unit in QUANTITY_UNITS.items() if name == named), None)
            hint = f'"{expected}"' if expected else '"cm" or "deg"'
            raise StandardsError(
                f"{source}: checks[{index}].limit has no unit: add unit = {hint} beside it"
            )


def _in_plain_words(problem: str) -> str:
    """Name key, value and what is expected where a value is not of its type."""
    text, _, where = problem.partition(" - at `$")
    key = where.rstrip("`").lstrip(".") or "the top of the file"
    quoted = re.search(r"Invalid enum value '(.*)'", text)
    if quoted is None:
        return f"{key}: {text[:1].lower()}{text[1:]}"
    allowed = _allowed_values(key)
    return f'{key} is "{quoted.group(1)}", expected one of: {", ".join(allowed)}'


def _allowed_values(key: str) -> list[str]:
    schema = msgspec.json.schema(Movement)["$defs"]
    owner = {"cycle": "Cycle", "checks": "Check"}.get(re.split(r"[.\[]", key)[0], "Movement")
    field: dict[str, Any] = schema[owner]["properties"][key.rsplit(".", 1)[-1]]
    options = (field, *field.get("anyOf", []))
    return [str(value) for option in options for value in option.get("enum", [])]


def _refuse_contradictions(movement: Movement, source: str) -> None:
    if not slug(movement.name):
        raise StandardsError(f"{source}: name is empty, expected the movement's name")
    cycle = movement.cycle
    if not 0 < cycle.smallest_swing < _LARGEST_SWING:
        raise StandardsError(
            f"{source}: cycle.smallest_swing is {cycle.smallest_swing}, expected a share of the "
            f"athlete's stature above 0 and below {_LARGEST_SWING:g}"
        )
    if not 0 <= cycle.still_share <= 1:
        raise StandardsError(f"{source}: cycle.still_share is {cycle.still_share}, expected 0 to 1")
    if not 0 <= cycle.smallest_share <= 1:
        raise StandardsError(
            f"{source}: cycle.smallest_share is {cycle.smallest_share}, expected 0 to 1"
        )
    if cycle.driver == "shoulders above hands" and movement.base == "standing":
        raise StandardsError(
            f'{source}: cycle.driver is "{cycle.driver}" with base "standing", expected a base '
            'on which the hands are fixed: "hanging" or "floor"'
        )
    if (movement.base == "hanging") != (movement.apparatus == "pull-up bar"):
        raise StandardsError(
            f'{source}: base is "{movement.base}" with apparatus "{movement.apparatus}", expected '
            'base "hanging" and apparatus "pull-up bar" together'
        )
    for index, check in enumerate(movement.checks):
        _refuse_check(check, f"{source}: checks[{index}]", movement)
    for (i, first), (j, second) in combinations(enumerate(movement.checks), 2):
        if _exclude_each_other(first, second):
            raise StandardsError(
                f'{source}: checks[{i}] and checks[{j}] contradict each other: "{first.quantity}" '
                f"cannot be {first.relation} {first.limit:g} and {second.relation} "
                f'{second.limit:g} {second.unit} in phase "{first.phase}"'
            )
        if first.name == second.name:
            raise StandardsError(
                f'{source}: checks[{j}].name is "{second.name}" as in checks[{i}], expected a '
                "name of its own"
            )


def _refuse_check(check: Check, where: str, movement: Movement) -> None:
    unit = QUANTITY_UNITS[check.quantity]
    if check.unit != unit:
        raise StandardsError(
            f'{where}.unit is "{check.unit}", expected "{unit}" for "{check.quantity}"'
        )
    if not isfinite(check.limit):
        raise StandardsError(f"{where}.limit is {check.limit}, expected a finite number")
    if not check.name.strip():
        raise StandardsError(f"{where}.name is empty, expected a short name")
    apparatus = QUANTITY_APPARATUS.get(check.quantity)
    if apparatus is not None and movement.apparatus != apparatus:
        raise StandardsError(
            f'{where}.quantity is "{check.quantity}", which needs apparatus "{apparatus}"; this '
            f'movement has "{movement.apparatus}"'
        )


def _exclude_each_other(first: Check, second: Check) -> bool:
    """Whether no value can satisfy both: the same reading, one floor above one ceiling."""
    same = (first.quantity, first.phase, first.read) == (
        second.quantity,
        second.phase,
        second.read,
    )
    if not same or first.relation == second.relation:
        return False
    least, most = (first, second) if first.relation == "at least" else (second, first)
    return least.limit > most.limit
