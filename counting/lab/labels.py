"""Labelled films as the figures of merit need them: reps with what was truly measured.

Besides what every truth file has (`counting.lab.truth`), theirs holds

- ``movement``: what is done, ``fps``: frames a second, ``camera.az``: degrees from the front;
- ``standard``: the limits behind its flags, by the names in `CRITERIA`;
- ``reps`` with ``criteria``: by name the ``margin`` by which each was met (positive) or missed;
- ``breaks``: list of ``start`` and ``end``, seconds.

Flags are never taken over: each margin is turned back into the value that was measured, and that
is judged by the standard which is validated.
"""

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from counting.lab.truth import (
    LabelledRep,
    Truth,
    TruthError,
    film_of,
    movement_name,
    read_truth,
    truth_files,
)
from counting.movements.loader import built_in_movements
from counting.movements.types import Check, Movement, Part, Quantity


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
    "legs_straight": Criterion("knee angle", "drive", 1, None, 160.0),
    "knees": Criterion("knee angle", None, 1, "knee_ext_deg"),
    "hips": Criterion("hip angle", None, 1, "hip_ext_deg"),
    "elbow": Criterion("elbow angle", None, 1, "elbow_lock_deg"),
    "lockout": Criterion("elbow angle", None, 1, "elbow_lock_deg"),
    "overhead": Criterion("wrists above crown", None, 1, None, 0.0),
    "up": Criterion("hip angle", None, -1, None, 60.0),
    "contact": Criterion("feet to bar gap", None, -1, None, 3.0),
    "knee_down": Criterion("knee above floor", None, -1, None, 6.0),
    "head": Criterion("head above floor", None, -1, None, 4.0),
}
"""By their names in truth files. These give no limit for a jump: they call one of 2 cm."""


@dataclass(frozen=True, slots=True)
class TrueValue:
    """A value measured on the true body, in the unit of its quantity."""

    criterion: str
    value: float

    def belongs_to(self, check: Check) -> bool:
        """Whether a check of a standard asks for this value."""
        asked = CRITERIA[self.criterion]
        same_phase = check.phase == asked.phase or (asked.phase is None and check.phase != "drive")
        return asked.quantity == check.quantity and same_phase


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


def labelled_films(
    folder: Path, known: Collection[Movement] | None = None
) -> tuple[list[LabelledFilm], dict[str, str]]:
    """All labelled films in a folder, by name, and why others are left out, by name.

    Films of several movements are, and those of a movement without a standard among those
    ``known``, the built-in ones if None.

    Raises
    ------
    TruthError
        The folder holds none, or a truth file cannot be used.
    """
    files = truth_files(folder)
    if not files:
        raise TruthError(
            f"{folder}: no labelled films, expected NAME/clip.mp4 with NAME/truth.json or "
            "NAME.mp4 with NAME.truth.json"
        )
    movements = built_in_movements() if known is None else known
    names = {label: one.name for one in movements for label in (one.name, *one.labels)}
    films, left_out = [], {}
    for name, file in files.items():
        truth = read_truth(file)
        movement = truth.named_movement()
        movement = names.get(truth.movement or "", movement)
        if movement is None:
            left_out[name] = "holds several movements"
        elif movement not in names:
            left_out[name] = f"holds {movement!r}, for which there is no standard"
        else:
            films.append(_labelled(name, file, truth, movement))
    return films, left_out


def _labelled(name: str, file: Path, truth: Truth, movement: str) -> LabelledFilm:
    for key in ("camera", "breaks", "fps"):
        if getattr(truth, key) is None:
            raise TruthError(f"{file}: no truth file (it lacks the key {key!r})")
    assert truth.camera is not None
    assert truth.breaks is not None
    if truth.fps is None or truth.fps <= 0:
        raise TruthError(f"{file}: fps is {truth.fps}, expected more than 0")
    turned = abs(truth.camera.az) % 360
    return LabelledFilm(
        name=name,
        film=film_of(name, file),
        movement=movement,
        view_deg=min(turned, 360 - turned),
        frame_rate_hz=truth.fps,
        reps=tuple(_rep(rep, truth) for rep in truth.reps),
        breaks_s=tuple((gap.start, gap.end) for gap in truth.breaks),
    )


def _rep(rep: LabelledRep, truth: Truth) -> TrueRep:
    values = tuple(
        TrueValue(name, _limit(name, truth) + CRITERIA[name].sign * found.margin)
        for name, found in rep.criteria.items()
        if name in CRITERIA
    )
    return TrueRep(rep.start, rep.end, values)


def _limit(criterion: str, truth: Truth) -> float:
    known = CRITERIA[criterion]
    key = known.limit_key
    if key == "chest_down_cm":
        planks = {movement.name for movement in built_in_movements() if movement.base == "floor"}
        key = (
            "pushup_chest_cm"
            if movement_name(truth.movement or "") in planks
            else "burpee_chest_cm"
        )
    return known.limit if key is None else truth.standard.get(key, known.limit)
