"""What differs between two audit records of the same film."""

import math
from dataclasses import dataclass
from typing import Any, Final

import msgspec

from counting.record.types import AuditRecord

LEFT_OUT: Final = frozenset({"digest", "versions", "landmarks_file"})
"""The seal follows from the rest; versions, and with them the name of the landmark file, which says
what code made it, are told apart from results."""
ROUNDING: Final = 1e-6
"""Relative, and in the value's own unit: other processors and libraries agree to more digits."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that is not the same.

    Attributes
    ----------
    place
        Where, such as ``reps[3].verdict``.
    first, second
        The value in either record; `MISSING` where there is none.
    """

    place: str
    first: Any
    second: Any

    @property
    def is_rounding(self) -> bool:
        """Whether both are numbers that agree to a millionth, as other libraries round."""
        numbers = all(
            isinstance(value, int | float) and not isinstance(value, bool)
            for value in (self.first, self.second)
        )
        return numbers and math.isclose(self.first, self.second, rel_tol=ROUNDING, abs_tol=ROUNDING)

    @property
    def words(self) -> str:
        """``reps[3].verdict: good, now no-rep``."""
        return f"{self.place}: {_shown(self.first)}, now {_shown(self.second)}"


class _Missing:
    def __repr__(self) -> str:
        return "nothing"


MISSING: Final = _Missing()


def record_differences(first: AuditRecord, second: AuditRecord) -> list[Difference]:
    """Compare two records value by value, but for the film's name, the seal and the versions."""
    return list(_between(_compared(first), _compared(second), ""))


def version_differences(first: AuditRecord, second: AuditRecord) -> list[Difference]:
    """Compare what made two records."""
    return list(
        _between(
            msgspec.to_builtins(first.versions), msgspec.to_builtins(second.versions), "versions"
        )
    )


def _compared(record: AuditRecord) -> dict[str, Any]:
    document: dict[str, Any] = msgspec.to_builtins(record)
    document = {key: value for key, value in document.items() if key not in LEFT_OUT}
    document["film"].pop("file")
    for view in document.get("second_views", ()):
        view["film"].pop("file")
        view.pop("landmarks_file")
    return document


def _between(first: Any, second: Any, place: str) -> list[Difference]:
    if isinstance(first, dict) and isinstance(second, dict):
        return [
            difference
            for key in dict.fromkeys([*first, *second])
            for difference in _between(
                first.get(key, MISSING),
                second.get(key, MISSING),
                f"{place}.{key}" if place else str(key),
            )
        ]
    if isinstance(first, list | tuple) and isinstance(second, list | tuple):
        found = [
            difference
            for index, (one, other) in enumerate(zip(first, second, strict=False))
            for difference in _between(one, other, f"{place}[{index}]")
        ]
        if len(first) != len(second):
            found.insert(0, Difference(f"number of {place}", len(first), len(second)))
        return found
    if first is MISSING or second is MISSING or first != second:
        return [Difference(place, first, second)]
    return []


def _shown(value: object) -> str:
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."
