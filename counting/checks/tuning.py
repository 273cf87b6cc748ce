"""What people's calls say of the film error: a file of the user's own, and the table with it.

Labelled films tell how far off readings may be with any body before any camera. Who always films in
the same place finds less: `counting.review.learning` learns the rest from reps that people decided.
Nothing else is touched: not the reading, not the limits, and not what is presumed of reps.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, Literal

import msgspec

from counting.checks.inference import FilmError
from counting.checks.table import CalibrationTable, entry_name, packaged_digest, view_name
from counting.movements.types import Movement
from vision.files import read_whole, write_whole

TUNING_SCHEMA: Final = "repwitness.tuning/1"
_MOST_BYTES: Final = 1 << 20
"""Far more than `write_tuning` writes for all movements; what is larger is refused unread."""


class TuningError(ValueError):
    """A file that cannot be used; the message is one line with file and remedy."""


class TunedError(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The film error of one quantity: see `FilmError`.

    ``entry`` names the quantity and what holds the athlete, as the table does.
    """

    entry: str
    offset: float
    size: float


class TunedGroup(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What people's calls say of one movement from one view.

    ``reps`` of ``films`` were decided by people; ``slips`` is the share of calls that seem to have
    slipped. Where so many did that nothing can be learnt, there are no ``errors``.
    """

    movement: str
    view: str
    reps: int
    films: int
    slips: float
    errors: tuple[TunedError, ...]


class Tuning(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Everything that people's calls say; ``calibration`` is the digest of the table it adds to."""

    schema: Literal["repwitness.tuning/1"] = TUNING_SCHEMA
    calibration: str
    groups: tuple[TunedGroup, ...] = ()

    def group(self, movement: str, view_deg: float | None) -> TunedGroup | None:
        """Find what is known of a movement from a view."""
        view = None if view_deg is None else view_name(view_deg)
        return next((g for g in self.groups if (g.movement, g.view) == (movement, view)), None)


@dataclass(frozen=True, slots=True)
class TuningFile:
    """A tuning with the digest of the file that holds it."""

    tuning: Tuning
    sha256: str


def load_tuning(file: Path) -> TuningFile:
    """Read a tuning that `write_tuning` wrote.

    Raises
    ------
    TuningError
        It cannot be read, is none, or adds to another table than the packaged one.
    """
    again = "make it again with 'repwitness agreement FOLDER --tune FILE'"
    try:
        data = read_whole(file, _MOST_BYTES)
        tuning = msgspec.json.decode(data, type=Tuning)
    except OSError as error:
        raise TuningError(f"{file}: cannot be read ({error.strerror})") from error
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise TuningError(f"{file}: holds no tuning ({error}); {again}") from error
    if tuning.calibration != packaged_digest():
        raise TuningError(f"{file}: was made for another calibration of this tool; {again}")
    return TuningFile(tuning, hashlib.sha256(data).hexdigest())


def write_tuning(tuning: Tuning, file: Path) -> None:
    """Write a tuning as JSON, whole or not at all."""
    text = msgspec.json.format(msgspec.json.encode(tuning), indent=1)
    write_whole(file, text.decode() + "\n")


def tuned_table(table: CalibrationTable, tuning: Tuning, movement: Movement) -> CalibrationTable:
    """Put what people's calls say of one movement over a table."""
    entries = dict(table.entries)
    for group in tuning.groups:
        if group.movement != movement.name:
            continue
        for error in group.errors:
            entry = entries.get(error.entry) or entries.get(error.entry.partition(" / ")[0])
            if entry is not None:
                of_view = {group.view: FilmError(error.offset, error.size)}
                entries[error.entry] = replace(entry, tuned={**entry.tuned, **of_view})
    return replace(table, entries=entries)


def entries_of(movement: Movement) -> dict[str, str]:
    """Name the table's entry of each check, by the check's name."""
    return {
        check.name: entry_name(
            check.quantity, movement.base, movement.part_of(check) or check.phase
        )
        for check in movement.checks
    }


def decided_reps(tuning: Tuning, done: Mapping[str, float | None]) -> int:
    """Count the decided reps behind some movements, each with the view that it is seen from."""
    groups = [tuning.group(movement, view_deg) for movement, view_deg in done.items()]
    return sum(group.reps for group in groups if group is not None and group.errors)
