"""Verdicts in plain words: by how much, why not, and what would have helped."""

from collections.abc import Sequence
from typing import Final

from counting.checks.table import VIEWS, Calibration, CalibrationTable
from counting.checks.types import CheckReading, RepVerdict
from counting.decision.combination import RepState
from counting.decision.conformance import State
from counting.movements.types import PART_WORDS, Check, Movement, Quantity

_SAID: Final[dict[Quantity, str]] = {
    "hip crease above knee top": "hip crease {value} above the top of the knee, {limit} allowed",
    "knee angle": "knees reached {value}, {limit} asked",
    "hip angle": "hips reached {value}, {limit} asked",
    "elbow angle": "elbows reached {value}, {limit} asked",
    "chin above bar": "chin {value} above the bar, {limit} asked",
    "chest to bar gap": "chest {value} from the bar, {limit} allowed",
    "shoulders above bar": "shoulders {value} above the bar, {limit} asked",
    "chest above floor": "chest {value} above the floor, {limit} allowed",
    "feet clear of floor": "feet {value} clear of the floor, {limit} asked",
    "wrists above crown": "hands {value} above the crown, {limit} asked",
    "bar over mid-foot": "bar {value} from over the middle of the foot, {limit} allowed",
    "body straightness": "body bent to {value}, {limit} asked",
    "plates on floor": "plates {value} above the floor, {limit} allowed",
    "feet to bar gap": "feet {value} from the bar, {limit} allowed",
    "knees above elbows": "knees {value} above the elbows, {limit} asked",
    "knee above floor": "knee {value} above the floor, {limit} allowed",
    "head above floor": "head {value} above the floor, {limit} allowed",
}

VIEW_WORDS: Final = {
    "front": "from the front (facing the athlete)",
    "oblique": "at an angle (about 45 degrees off the front)",
    "side": "from the side",
}


def shortfall(check: Check, known: tuple[float, float, float], verdict: State) -> str:
    """Say what was read against the limit, e.g. "hip crease 4 cm above the top of the knee".

    ``known`` is the value between the ends of the interval that the call comes from.
    """
    low, value, high = known
    words = _SAID.get(check.quantity, check.quantity + " {value}, limit {limit}")
    if check.read == "lowest":
        words = words.replace("reached", "bent to")
    said = words.format(value=_amount(value, check.unit), limit=_amount(check.limit, check.unit))
    said = said.replace(", 0 cm allowed", "").replace(", 0 cm asked", "")
    said = _below(said, value, check)
    if verdict == "too close":
        return f"{said}, give or take {_amount((high - low) / 2, check.unit)}"
    return said


def _amount(value: float, unit: str) -> str:
    return f"{round(value) + 0} {'degrees' if unit == 'deg' else unit}"


def _below(said: str, value: float, check: Check) -> str:
    """Turn "-3 cm above" into "3 cm below"."""
    if value >= 0 or check.unit != "cm" or " above " not in said:
        return said
    negative, positive = _amount(value, "cm"), _amount(-value, "cm")
    return said.replace(f"{negative} above", f"{positive} below", 1)


def not_seen(check: Check) -> str:
    """Why a check has no reading in a film whose view suits it."""
    when = PART_WORDS.get(check.phase, f"at the {check.phase}")
    return f"cannot be judged: the body was hidden or lost {when} of the rep"


def no_view(check: Check, view_deg: float) -> str:
    """Why a check cannot be read from where the camera stood."""
    return (
        f"{check.quantity} cannot be judged from this view ({view_deg:.0f} degrees off the front)"
    )


def rep_reason(state: RepState, checks: Sequence[CheckReading]) -> str | None:
    """One sentence for the rep: the check that decides against it."""
    if state == "good" or not checks:
        return None
    worst = min(checks, key=lambda c: (c.probability_met, c.name))
    if state == "no-rep":
        return f"{worst.name}: {worst.reason}"
    if worst.reason is None:
        return "too close to call: every check alone is met, but not surely all of them together"
    return f"too close to call, {worst.name}: {worst.reason}"


def view_advice(
    verdicts: Sequence[RepVerdict], movement: Movement, view_deg: float, table: CalibrationTable
) -> tuple[str, ...]:
    """Say what would have made undecided checks decidable."""
    notes = []
    for index, check in enumerate(movement.checks):
        undecided = [v for v in verdicts if v.checks[index].verdict == "too close"]
        if not undecided:
            continue
        hidden = sum(v.checks[index].value is None for v in undecided)
        calibration = table.find(check.quantity, movement.base, check.phase)
        best = best_view(calibration) if calibration is not None else None
        count = f"{len(undecided)} rep{'s' if len(undecided) > 1 else ''}"
        said = f"{check.name} unclear in {count}"
        if hidden:
            said += f" ({hidden} times the body was hidden or lost)"
        low, high = VIEWS[best] if best is not None else (0.0, 360.0)
        if best is not None and not low <= view_deg < high:
            said += f"; clearest {VIEW_WORDS[best]}"
        notes.append(said)
    return tuple(notes)


def best_view(calibration: Calibration) -> str | None:
    """Pick the view that reads a quantity best; None where no film was labelled."""
    known = [name for name, films in calibration.films.items() if films]
    return min(
        known,
        key=lambda name: calibration.error(name) / calibration.read_share[name] ** 2,
        default=None,
    )
