"""Truth files, which lie beside labelled films: found, read and checked in one place.

The truth of ``NAME/clip.mp4`` is ``NAME/truth.json``, that of ``NAME.mp4`` is ``NAME.truth.json``:
a JSON object with at least ``reps``, each with ``start`` and ``end`` (the whole cycle, seconds).
What else is read depends on what is measured; keys that nobody asks for are ignored. Blocks,
rounds, stations and reps count from 0.
"""

from pathlib import Path
from typing import Any, Final

import msgspec

from counting.movements.loader import built_in_movements, labelled_as
from counting.movements.types import slug
from vision.files import is_folder, read_whole

_MOST_BYTES: Final = 16 * 1024**2
"""Larger than the truth of an hour of film."""


class TruthError(ValueError):
    """A truth file that does not have the documented shape; the message names file and key."""


class _Part(msgspec.Struct, frozen=True, kw_only=True):
    """Common rules of all parts."""


class Margin(_Part, frozen=True, kw_only=True):
    """By how much a criterion was met (positive) or missed, in its unit."""

    margin: float
    unit: str = ""


class LabelledRep(_Part, frozen=True, kw_only=True):
    """One repetition: its cycle and where in it the ends were, seconds; its place; its criteria.

    ``complete`` is the moment from which a judge would count it, where that was worked out.
    """

    start: float
    end: float
    rep: int = 0
    bottom: float | None = None
    top: float | None = None
    complete: float | None = None
    movement: str = ""
    block: int = 0
    round: int = 0
    station: int = 0
    no_rep: bool = False
    criteria: dict[str, Margin] = {}


class Gap(_Part, frozen=True, kw_only=True):
    """A break between sets, seconds."""

    start: float
    end: float


class TrueCamera(_Part, frozen=True, kw_only=True):
    """Where the camera stood: degrees from the front, metres away, metres high."""

    az: float
    dist: float = 0.0
    height: float = 0.0


class PlannedStation(_Part, frozen=True, kw_only=True):
    """What was to be done at a station: reps of each set."""

    movement: str
    sets: list[int]


class PlannedBlock(_Part, frozen=True, kw_only=True):
    """Rounds of stations, then perhaps a rest."""

    stations: list[PlannedStation]
    rounds: int = 1
    rest_after_s: float = 0.0


class Plan(_Part, frozen=True, kw_only=True):
    """What was to be done in the film."""

    blocks: list[PlannedBlock] = []


class Truth(_Part, frozen=True, kw_only=True):
    """All that is known of a film.

    ``movement`` is None in a film of several, which has ``stations``; ``standard`` holds the limits
    behind the margins of the criteria.
    """

    reps: list[LabelledRep]
    breaks: list[Gap] | None = None
    name: str = ""
    body: str = ""
    movement: str | None = None
    fps: float | None = None
    camera: TrueCamera | None = None
    standard: dict[str, float] = {}
    stations: list[Any] | None = None
    config: Plan = Plan()
    clock_zero_s: float = 0.0
    start_signal_s: float | None = None

    def named_movement(self) -> str | None:
        """Give the one movement's name in the standards; None in a film of several."""
        return None if self.movement is None else movement_name(self.movement)


def truth_files(folder: Path) -> dict[str, Path]:
    """Find the truth files in a folder, by the name of the film; none where it is no folder."""
    if not is_folder(folder):
        return {}
    files = {file.parent.name: file for file in sorted(folder.glob("*/truth.json"))}
    return files | {
        file.name.removesuffix(".truth.json"): file for file in sorted(folder.glob("*.truth.json"))
    }


def film_of(name: str, truth: Path) -> Path:
    """Where the film lies whose truth file this is."""
    return truth.with_name("clip.mp4" if truth.name == "truth.json" else f"{name}.mp4")


def read_truth(file: Path) -> Truth:
    """Read one truth file.

    Raises
    ------
    TruthError
        It cannot be read, or does not have the documented shape.
    """
    try:
        return msgspec.json.decode(read_whole(file, _MOST_BYTES), type=Truth)
    except OSError as error:
        raise TruthError(f"{file}: cannot be read ({error.strerror})") from error
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise TruthError(f"{file}: no truth file ({error})") from error


def movement_name(label: str) -> str:
    """Use the standard's own name where the label is a built-in movement, else the label."""
    wanted = slug(labelled_as().get(label, label))
    return next((m.name for m in built_in_movements() if m.slug == wanted), label)
