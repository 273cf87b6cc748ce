"""Labelled films and the truth that lies beside them.

A labelled film is ``NAME/clip.mp4`` with ``NAME/truth.json``, or ``NAME.mp4`` with
``NAME.truth.json``. The truth file is a JSON object with at least

- ``movement``: what is done, ``fps``: frames a second, ``camera.az``: degrees from the front;
- ``standard``: the limits behind its flags, by the names in `CRITERIA`;
- ``reps``: list of ``set``, ``start`` and ``end`` (the whole cycle, seconds), ``bottom`` or ``top``
  or both, and ``criteria``: by name the ``margin`` by which each was met (positive) or missed;
- ``breaks``: list of ``start`` and ``end``, seconds.

Other keys are ignored. Flags are never taken over: each margin is turned back into the value that
was measured, and that is judged by the standard which is validated.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import msgspec

from counting.movements.loader import built_in_movements, labelled_as
from counting.movements.names import slug
from counting.movements.types import Check, Part, Quantity


@dataclass(frozen=True, slots=True)
class Criterion:
    """What a criterion of a truth file measures.

    ``sign`` is 1 where more is better, -1 where less is; ``limit_key`` names its limit in the
    file's ``standard``, None for a limit of ``limit``.
    """

    quantity: Quantity
    phase: Part | None
    sign: int
    limit_key: str | None
    limit: float = 0.0


CRITERIA: Final = {
    "depth": Criterion("hip crease above knee top", None, -1, "squat_margin_cm"),
    "knee_ext": Criterion("knee angle", None, 1, "knee_ext_deg"),
    "hip_ext": Criterion("hip angle", None, 1, "hip_ext_deg"),
    "elbow_lock": Criterion("elbow angle", None, 1, "elbow_lock_deg"),
    "support_lockout": Criterion("elbow angle", "turn", 1, "elbow_lock_deg"),
    "start_full_hang": Criterion("elbow angle", "start", 1, "hang_elbow_deg"),
    "chin_over_bar": Criterion("chin above bar", None, 1, "chin_margin_cm"),
    "chest_contact": Criterion("chest to bar gap", None, -1, "chest_contact_cm"),
    "jump": Criterion("feet clear of floor", None, 1, None, 2.0),
    "chest_down": Criterion("chest above floor", None, -1, "chest_down_cm"),
}


class TruthError(ValueError):
    """A truth file that does not have the documented shape; the message names file and key."""


@dataclass(frozen=True, slots=True)
class TrueValue:
    """A value measured on the true body, in the unit of its quantity."""

    criterion: str
    value: float

    def belongs_to(self, check: Check) -> bool:
        """Whether a check of a standard asks for this value."""
        asked = CRITERIA[self.criterion]
        return asked.quantity == check.quantity and asked.phase in (None, check.phase)


@dataclass(frozen=True, slots=True)
class TrueRep:
    """One repetition as it was."""

    start_s: float
    end_s: float
    values: tuple[TrueValue, ...]

    def margin(self, check: Check) -> float | None:
        """By how much a check is truly met (positive) or missed; None where it was not measured."""
        for found in self.values:
            if found.belongs_to(check):
                sign = 1.0 if check.relation == "at least" else -1.0
                return sign * (found.value - check.limit)
        return None


@dataclass(frozen=True, slots=True)
class LabelledFilm:
    """A film and its truth; ``view_deg`` is 0 from the front, 90 from the side, 180 from behind."""

    name: str
    film: Path
    movement: str
    view_deg: float
    frame_rate_hz: float
    reps: tuple[TrueRep, ...]
    breaks_s: tuple[tuple[float, float], ...]


class _Margin(msgspec.Struct):
    margin: float


class _Rep(msgspec.Struct):
    start: float
    end: float
    criteria: dict[str, _Margin] = {}


class _Break(msgspec.Struct):
    start: float
    end: float


class _Camera(msgspec.Struct):
    az: float


class _Truth(msgspec.Struct):
    fps: float
    camera: _Camera
    reps: list[_Rep]
    breaks: list[_Break]
    movement: str | None = None
    standard: dict[str, float] = {}


def labelled_films(folder: Path) -> list[LabelledFilm]:
    """All labelled films of one movement in a folder, by name; films of several are left out.

    Raises
    ------
    TruthError
        The folder holds none, or a truth file cannot be used.
    """
    pairs = [(truth.parent.name, truth.parent / "clip.mp4", truth)
             for truth in sorted(folder.glob("*/truth.json"))]  # fmt: skip
    for truth in sorted(folder.glob("*.truth.json")):
        name = truth.name.removesuffix(".truth.json")
        pairs.append((name, folder / f"{name}.mp4", truth))
    if not pairs:
        raise TruthError(
            f"{folder}: no labelled films, expected NAME/clip.mp4 with NAME/truth.json or "
            "NAME.mp4 with NAME.truth.json"
        )
    films = [load_labels(name, film, truth) for name, film, truth in pairs]
    return [film for film in films if film is not None]


def load_labels(name: str, film: Path, truth: Path) -> LabelledFilm | None:
    """Read one truth file; None where it names no single movement. Raises as `labelled_films`."""
    try:
        labels = msgspec.json.decode(truth.read_bytes(), type=_Truth)
    except OSError as error:
        raise TruthError(f"{truth}: cannot be read ({error.strerror})") from error
    except (msgspec.DecodeError, msgspec.ValidationError, UnicodeDecodeError) as error:
        raise TruthError(f"{truth}: no truth file ({error})") from error
    if labels.movement is None:
        return None
    if labels.fps <= 0:
        raise TruthError(f"{truth}: fps is {labels.fps}, expected more than 0")
    turned = abs(labels.camera.az) % 360
    return LabelledFilm(
        name=name,
        film=film,
        movement=_movement_name(labels.movement),
        view_deg=min(turned, 360 - turned),
        frame_rate_hz=labels.fps,
        reps=tuple(_rep(rep, labels) for rep in labels.reps),
        breaks_s=tuple((gap.start, gap.end) for gap in labels.breaks),
    )


def _movement_name(label: str) -> str:
    """Use the standard's own name where the label is a built-in movement, else the label."""
    wanted = slug(labelled_as().get(label, label))
    return next((m.name for m in built_in_movements() if slug(m.name) == wanted), label)


def _rep(rep: _Rep, labels: _Truth) -> TrueRep:
    values = tuple(
        TrueValue(name, _limit(name, labels) + CRITERIA[name].sign * found.margin)
        for name, found in rep.criteria.items()
        if name in CRITERIA
    )
    return TrueRep(rep.start, rep.end, values)


def _limit(criterion: str, labels: _Truth) -> float:
    known = CRITERIA[criterion]
    key = known.limit_key
    if key == "chest_down_cm":
        name = _movement_name(labels.movement or "")
        planks = {movement.name for movement in built_in_movements() if movement.base == "floor"}
        key = "pushup_chest_cm" if name in planks else "burpee_chest_cm"
    return known.limit if key is None else labels.standard.get(key, known.limit)
