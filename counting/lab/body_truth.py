"""Truth frame by frame, for calibration: what the body in a film really did.

It is a folder with ``truth.json`` (`counting.lab.truth`: movement, body, reps with start, bottom or
top, end and the margin of each criterion) and ``frames.npz`` (time and measures of every frame).
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from counting.body.skeleton import FloatArray
from counting.checks.phases import phase_rows
from counting.lab.truth import LabelledRep, TruthError, movement_name, read_truth
from counting.movements.loader import find_movement
from counting.movements.types import Check, Movement, Quantity
from counting.quantities.scene import inner_angle_deg
from counting.reps.types import Rep

_CRITERION: Final[dict[Quantity, tuple[str, ...]]] = {
    "hip crease above knee top": ("depth",),
    "knee angle": ("knee_ext",),
    "hip angle": ("hip_ext",),
    "chin above bar": ("chin_over_bar",),
    "chest to bar gap": ("chest_contact",),
    "chest above floor": ("chest_down",),
}
_MEASURES: Final[dict[Quantity, tuple[tuple[str, ...], float]]] = {
    "hip crease above knee top": (
        ("left_crease_above_kneetop_cm", "right_crease_above_kneetop_cm"),
        1.0,
    ),
    "knee angle": (("left_knee", "right_knee"), -1.0),
    "hip angle": (("left_hip", "right_hip"), -1.0),
    "elbow angle": (("left_elbow", "right_elbow"), -1.0),
    "chin above bar": (("chin_above_bar_cm",), 1.0),
    "chest to bar gap": (("chest_bar_gap_cm",), 1.0),
    "shoulders above bar": (("shoulder_above_bar_cm",), 1.0),
    "chest above floor": (("chest_floor_cm",), 1.0),
    "feet clear of floor": (("feet_clear_cm",), 1.0),
    "wrists above crown": (("wrist_above_crown_cm",), 1.0),
    "feet to bar gap": (("toe_bar_gap_cm",), 1.0),
    "knee above floor": (("knee_floor_cm",), 1.0),
    "head above floor": (("crown_floor_cm",), 1.0),
}
"""Measures of a quantity; of two sides the worse one counts: the largest (+1) or smallest (-1)."""


_CROWN_ABOVE_EYES_M: Final = 0.11
"""Stature less eye height, 0.11 to 0.12 m in adults (anthropometric surveys, from memory)."""


def _pair(joints: dict[str, FloatArray], joint: str) -> FloatArray:
    return np.stack([joints[f"left_{joint}"], joints[f"right_{joint}"]])


def _wrists_above(joints: dict[str, FloatArray], joint: str, offset_m: float) -> FloatArray:
    wrist = _pair(joints, "wrist")[..., 2].min(axis=0)
    above: FloatArray = 100 * (wrist - _pair(joints, joint)[..., 2].mean(axis=0) - offset_m)
    return above


def _knees_above_elbows(joints: dict[str, FloatArray]) -> FloatArray:
    above = 100 * (_pair(joints, "knee") - _pair(joints, "elbow"))[..., 2]
    lower: FloatArray = above.min(axis=0)
    return lower


def _bar_over_foot(joints: dict[str, FloatArray]) -> FloatArray:
    foot = (_pair(joints, "heel") + _pair(joints, "foot_index")).mean(axis=0) / 2
    off: FloatArray = 100 * np.abs(_pair(joints, "wrist").mean(axis=0)[:, 1] - foot[:, 1])
    return off


def _straightness(joints: dict[str, FloatArray]) -> FloatArray:
    angles = [
        inner_angle_deg(joints[f"{side}_shoulder"], joints[f"{side}_hip"], joints[f"{side}_ankle"])
        for side in ("left", "right")
    ]
    worse: FloatArray = np.minimum(*angles)
    return worse


def _above_setup(joints: dict[str, FloatArray]) -> FloatArray:
    wrist = 100 * _pair(joints, "wrist")[..., 2].mean(axis=0)
    above: FloatArray = wrist - np.percentile(wrist, 1.0)
    return above


_FROM_JOINTS: Final[dict[Quantity, Callable[[dict[str, FloatArray]], FloatArray]]] = {
    "wrists above shoulders": lambda joints: _wrists_above(joints, "shoulder", 0.0),
    "wrists above crown": lambda joints: _wrists_above(joints, "eye", _CROWN_ABOVE_EYES_M),
    "knees above elbows": _knees_above_elbows,
    "bar over mid-foot": _bar_over_foot,
    "body straightness": _straightness,
    "plates on floor": _above_setup,
}
"""Quantities that are told by joints alone where a film's truth holds no measure of them."""


@dataclass(frozen=True, slots=True, eq=False)
class BodyTruth:
    """Truth of one film.

    Attributes
    ----------
    name, body
        The film, and who is in it: films of one body are held out together.
    camera
        What tells this camera from another.
    movement
        Its built-in standard.
    reps
        True reps.
    time_s
        (N,) times of the frames.
    measures
        (N,) each, by name.
    joints_m
        (N, 3) each, by name, metres: x to the athlete's right, y ahead, z up.
    margins
        For each rep, margin by criterion.
    """

    name: str
    body: str
    camera: str
    movement: Movement
    reps: tuple[Rep, ...]
    time_s: FloatArray
    measures: dict[str, FloatArray]
    joints_m: dict[str, FloatArray]
    margins: tuple[dict[str, float], ...]
    view_deg: float

    def true_value(self, rep: Rep, check: Check) -> float | None:
        """Read the true value of a check on a rep; None where the truth does not state it.

        A criterion's stated margin goes first; else the extreme of the true series in the phase.
        """
        margins = self.margins[rep.number - 1]
        for criterion in _criteria(check):
            if criterion in margins:
                sign = 1.0 if check.relation == "at least" else -1.0
                return check.limit + sign * margins[criterion]
        series = self.true_series(check.quantity)
        if series is None:
            return None
        within = series[phase_rows(self.time_s, rep, check)]
        return float(within.max() if check.read == "highest" else within.min())

    def true_series(self, quantity: Quantity) -> FloatArray | None:
        """(N,) true values of a quantity; None where the truth does not state them."""
        names, worse = _MEASURES.get(quantity, ((), 1.0))
        if not names or any(name not in self.measures for name in names):
            from_joints = _FROM_JOINTS.get(quantity)
            return None if from_joints is None else from_joints(self.joints_m)
        sides = np.stack([self.measures[name] for name in names])
        series: FloatArray = sides.max(axis=0) if worse > 0 else sides.min(axis=0)
        return series


def _criteria(check: Check) -> tuple[str, ...]:
    if check.phase == "drive":
        return ()
    if check.quantity == "elbow angle":
        if check.phase == "start":
            return ("start_full_hang",)
        return ("support_lockout", "elbow_lock")
    return _CRITERION.get(check.quantity, ())


def read_body_truth(folder: Path) -> BodyTruth:
    """Read the truth of one film.

    Raises
    ------
    counting.lab.truth.TruthError
        The truth file cannot be used, or tells of no single movement or of no camera.
    """
    file = folder / "truth.json"
    truth = read_truth(file)
    if truth.movement is None or truth.camera is None:
        raise TruthError(f"{file}: lacks the movement or the camera")
    with np.load(folder / "frames.npz") as frames:
        time_s = np.asarray(frames["t"], float)
        names = [str(name) for name in frames["measure_names"]]
        joints = {
            str(name): np.asarray(frames["joints_m"][:, i], float)
            for i, name in enumerate(frames["joint_names"])
        }
        measures = {
            name: np.asarray(frames["measures"][:, i], float) for i, name in enumerate(names)
        }
    if "wrist_above_crown_cm" in measures:
        lower_wrist = 100 * _pair(joints, "wrist")[..., 2].min(axis=0)
        measures["crown_floor_cm"] = lower_wrist - measures["wrist_above_crown_cm"]
    movement = find_movement(movement_name(truth.movement))
    return BodyTruth(
        name=folder.name,
        body=truth.body,
        camera=f"{truth.camera.az}/{truth.camera.dist}/{truth.camera.height}",
        movement=movement,
        reps=tuple(_rep(row, movement, time_s) for row in truth.reps),
        time_s=time_s,
        measures=measures,
        joints_m=joints,
        margins=tuple(
            {name: criterion.margin for name, criterion in row.criteria.items()}
            for row in truth.reps
        ),
        view_deg=abs(truth.camera.az),
    )


def _rep(row: LabelledRep, movement: Movement, time_s: FloatArray) -> Rep:
    turns_high = movement.cycle is not None and movement.cycle.turn == "high"
    ends = (row.top, row.bottom) if turns_high else (row.bottom, row.top)
    turn_s = next((end for end in ends if end is not None), row.end)
    start, turn, end = (
        int(np.argmin(np.abs(time_s - moment))) for moment in (row.start, turn_s, row.end)
    )
    return Rep(row.rep + 1, movement.name, start, turn, end, row.start, turn_s, row.end)
