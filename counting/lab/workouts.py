"""How far followed workouts agree with labelled films.

``python -m counting.lab.workouts files CLIPS OUT`` writes a workout file for every labelled film
(``CLIPS/<name>/truth.json`` or
``CLIPS/<name>.truth.json``) into ``OUT``; ``python -m counting.lab.workouts figures CLIPS
AUDITS`` compares ``AUDITS/<name>/audit.json`` with that truth and prints the figures.
"""

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from counting.lab.truth import LabelledRep, Truth, movement_name, read_truth, truth_files
from counting.movements.loader import built_in_movements
from counting.movements.types import Quantity
from counting.record.files import load_record
from counting.record.scored import workout_part
from counting.record.types import AuditRecord, RepPart
from counting.workout.record import SplitPart, WorkoutPart
from counting.workout.sheet import CalledRep, Sheet, fill_sheet
from counting.workout.types import rounds_to_write, runs, script

FloatArray = npt.NDArray[np.float64]

_REACHED: Final[dict[Quantity, tuple[str, float]]] = {
    "knee angle": ("knee", 1.0),
    "hip angle": ("hip", 1.0),
    "elbow angle": ("elbow", 1.0),
    "chin above bar": ("chin_above_bar_cm", 1.0),
    "chest to bar gap": ("chest_bar_gap_cm", -1.0),
    "shoulders above bar": ("shoulder_above_bar_cm", 1.0),
    "feet clear of floor": ("ankle_risen_cm", 1.0),
    "wrists above crown": ("wrist_above_nose_cm", 1.0),
}
"""Ends of the names of true measures that tell when a quantity was reached; -1 where less is more.

A jump is read from the joints: a labelled ``top`` is where the lower of heel and toe is highest
late in the rep, which is before the take-off of feet that point at the floor.
"""

_UPRIGHT: Final = ("shoulder_above_knee_cm", 60.0)
"""Legs and hips are straight in a plank, too: whoever finishes on the feet stands."""


def _complete_with(label: str) -> list[tuple[str, float, float]]:
    """Give what has to be reached, all at once, for a judge to count: measure, sign and limit."""
    name = movement_name(label)
    movement = next((one for one in built_in_movements() if one.name == name), None)
    if movement is None:
        return []
    asked = [
        (*_REACHED[check.quantity], check.limit)
        for check in movement.checks
        if check.quantity in _REACHED and movement.part_of(check) != "start"
    ]
    if asked and movement.base == "standing":
        asked.append((_UPRIGHT[0], 1.0, _UPRIGHT[1]))
    return asked


_WANTED_S: Final = 0.15
_NEAR: Final = {"cm": 2.0, "deg": 5.0}
"""A rep with a margin closer to its limit than this is marginal."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """One film: reps found and rightly placed, the score, and errors of times in seconds."""

    name: str
    reps: int
    placed: int
    invented: int
    score: str
    truth: int
    holds: bool
    width: int
    marginal: int
    start_error_s: float | None
    tie_break_error_s: float | None
    split_errors_s: tuple[float, ...]
    split_errors_to_top_s: tuple[float, ...]
    outside_split_ranges_s: tuple[float, ...]


def with_complete_times(truth: Truth, frames: Path) -> Truth:
    """Read from the body's true measures when each rep was complete.

    ``frames`` holds ``t`` (N,), ``measure_names`` and ``measures`` (N, K). After the bottom, or
    from the start on where that is the bottom, the first moment at which all that the movement
    asks for is reached; where it never is, the top or the end stays.
    """
    with np.load(frames) as data:
        time_s, names, values = data["t"], *_measures(data)
    reps = []
    for rep in truth.reps:
        after_s = rep.start if rep.bottom is None else max(rep.start, rep.bottom)
        inside = (time_s >= after_s) & (time_s <= rep.end)
        asked = _complete_with(rep.movement)
        for name, sign, limit in asked:
            columns = [k for k, full in enumerate(names) if full.endswith(name)]
            if columns:
                inside &= (sign * values[:, columns]).min(axis=1) >= sign * limit
        at = np.flatnonzero(inside)
        known = asked and at.size
        reps.append(replace(rep, complete=float(time_s[at[0]]) if known else _complete_s(rep)))
    return replace(truth, reps=reps)


def _measures(data: Any) -> tuple[list[str], FloatArray]:
    """Names and values (N, K) of what is measured, with what the joints' heights add."""
    names = [str(name) for name in data["measure_names"]]
    values = data["measures"]
    if "joints_m" not in data:
        return names, values
    joints = [str(name) for name in data["joint_names"]]
    height_cm = dict(zip(joints, 100.0 * data["joints_m"][..., 2].T, strict=True))
    added = {}
    for side in ("left", "right"):
        ankle = height_cm[f"{side}_ankle"]
        added[f"{side}_ankle_risen_cm"] = ankle - np.median(ankle)
        added[f"{side}_wrist_above_nose_cm"] = height_cm[f"{side}_wrist"] - height_cm["nose"]
        added[f"{side}_shoulder_above_knee_cm"] = (
            height_cm[f"{side}_shoulder"] - height_cm[f"{side}_knee"]
        )
    return [*names, *added], np.column_stack([values, *added.values()])


def agreement(name: str, truth: Truth, record: AuditRecord) -> Agreement:
    """Compare one audit with its film's truth."""
    part = workout_part(record)
    pairs = list(_matched(truth.reps, record))
    right = sum(
        (rep.block, rep.round, rep.station) == _place(known)
        for known, rep in pairs
        if rep is not None
    )
    sheet = _true_sheet(truth, part)
    outcome = part.score
    signal_s = truth.start_signal_s
    marginal = sum(
        min(abs(c.margin) / _NEAR[c.unit] for c in known.criteria.values()) < 1.0
        for known in truth.reps
    )
    tie = outcome.tie_break
    return Agreement(
        name=name,
        reps=len(pairs),
        placed=right,
        invented=len(record.reps) - sum(rep is not None for _, rep in pairs),
        score=f"{outcome.worst.reps} to {outcome.best.reps}",
        truth=sheet.reps,
        holds=outcome.worst.reps <= sheet.reps <= outcome.best.reps,
        width=outcome.best.reps - outcome.worst.reps,
        marginal=marginal,
        start_error_s=part.clock.zero_s - signal_s
        if signal_s is not None and part.clock.source == "start signal"
        else None,
        tie_break_error_s=tie.time_s - sheet.tie_break_s
        if tie is not None and tie.time_s is not None and sheet.tie_break_s is not None
        else None,
        split_errors_s=tuple(_split_errors(truth, part, _complete_s)),
        split_errors_to_top_s=tuple(_split_errors(truth, part, _top_s)),
        outside_split_ranges_s=tuple(_outside_split_ranges(truth, part)),
    )


def _matched(
    known: Sequence[LabelledRep], record: AuditRecord
) -> Iterator[tuple[LabelledRep, RepPart | None]]:
    """Pair every true rep with the found one whose turn lies in its cycle, each used once."""
    free = list(record.reps)
    for rep in known:
        near = [found for found in free if rep.start - 0.2 <= found.turn_s <= rep.end + 0.2]
        best = min(near, key=lambda f: abs(f.end_s - rep.end), default=None)
        if best is not None:
            free.remove(best)
        yield rep, best


def _place(rep: LabelledRep) -> tuple[int, int, int]:
    return rep.block + 1, rep.round + 1, rep.station + 1


def _complete_s(rep: LabelledRep) -> float:
    return _top_s(rep) if rep.complete is None else rep.complete


def _top_s(rep: LabelledRep) -> float:
    return rep.end if rep.top is None else rep.top


def _true_sheet(truth: Truth, part: WorkoutPart) -> Sheet:
    """Fill the workout's sheet with the true calls and times."""
    reached = max((rep.round + 1 for rep in truth.reps), default=1)
    slots = script(part.definition, rounds_to_write(part.definition, len(truth.reps), reached))
    all_runs = runs(part.definition, slots)
    run_at = {
        (slots[i].block, slots[i].round, slots[i].station): number
        for number, run in enumerate(all_runs)
        for i in range(run.first, run.last + 1)
    }
    called = [
        CalledRep(
            number,
            run_at.get(_place(rep)),
            _complete_s(rep) - truth.clock_zero_s,
            not rep.no_rep,
        )
        for number, rep in enumerate(truth.reps, start=1)
    ]
    return fill_sheet(part.definition, slots, all_runs, called)


def _split_errors(
    truth: Truth, part: WorkoutPart, complete_s: Callable[[LabelledRep], float]
) -> Iterator[float]:
    """Errors of the film time at which each station's last good rep was complete."""
    for line, true_s in _true_ends(truth, part, complete_s):
        yield line.end_s + part.clock.zero_s - true_s


def _outside_split_ranges(truth: Truth, part: WorkoutPart) -> Iterator[float]:
    """How far those times lie outside what is told of them: a range where calls are open."""
    for line, true_s in _true_ends(truth, part, _complete_s):
        true_end_s = true_s - part.clock.zero_s
        earliest_s = line.end_s if line.earliest_end_s is None else line.earliest_end_s
        latest_s = line.end_s if line.latest_end_s is None else line.latest_end_s
        yield max(earliest_s - true_end_s, true_end_s - latest_s, 0.0)


def _true_ends(
    truth: Truth, part: WorkoutPart, complete_s: Callable[[LabelledRep], float]
) -> Iterator[tuple[SplitPart, float]]:
    """Each station's split, and the film time at which its last good rep was complete."""
    for line in part.splits:
        if line.level != "station":
            continue
        place = (line.block, line.round, line.station)
        good = [complete_s(rep) for rep in truth.reps if _place(rep) == place and not rep.no_rep]
        if good:
            yield line, max(good)


def workout_file(truth: Truth, missing_reps: str = "deducted") -> str:
    """Write the workout that a labelled film shows as a workout file."""
    lines = [
        f"name = {json.dumps(truth.name.replace('_', ' '))}",
        'scoring = "for time"',
        f'missing_reps = "{missing_reps}"',
    ]
    blocks = truth.config.blocks
    if len(blocks) > 1:
        lines += ["", "[tie_break]", "block = 1"]
    for block in blocks:
        lines += ["", "[[blocks]]", f"rounds = {block.rounds}"]
        if block.rest_after_s:
            lines.append(f"rest_after_s = {block.rest_after_s}")
        for station in block.stations:
            movement = movement_name(station.movement)
            lines += ["", "[[blocks.stations]]", f'movement = "{movement}"']
            lines.append(f"reps = {sum(station.sets)}")
    return "\n".join(lines) + "\n"


def _figures(found: Sequence[Agreement]) -> str:
    lines = ["film                  reps  placed  invented  score     true  holds  width  marginal"]
    lines += [
        f"{item.name:20} {item.reps:5} {item.placed:7} {item.invented:9}  {item.score:9} "
        f"{item.truth:4}  {'yes' if item.holds else 'no':5} {item.width:6} {item.marginal:9}"
        for item in found
    ]
    reps = sum(item.reps for item in found)
    placed = sum(item.placed for item in found)
    lines += [
        "",
        f"block, round and station right: {placed} of {reps} reps ({100 * placed / reps:.1f} %)",
        f"score interval holds the truth: {sum(i.holds for i in found)} of {len(found)} films; "
        f"no wider than the marginal reps + 1: "
        f"{sum(i.width <= i.marginal + 1 for i in found)} of {len(found)}",
        _errors("splits", [e for item in found for e in item.split_errors_s]),
        _errors(
            "splits, outside the range told where calls are open",
            [e for item in found for e in item.outside_split_ranges_s],
        ),
        _errors(
            "splits, against the top of each movement",
            [e for item in found for e in item.split_errors_to_top_s],
        ),
        _errors(
            "tie-break", [i.tie_break_error_s for i in found if i.tie_break_error_s is not None]
        ),
        _errors("start tone", [i.start_error_s for i in found if i.start_error_s is not None]),
    ]
    return "\n".join(lines)


def _errors(what: str, errors_s: Sequence[float]) -> str:
    if not errors_s:
        return f"{what}: none"
    size = np.abs(errors_s)
    return (
        f"{what}: {len(size)} times, mean error {np.mean(errors_s):+.3f} s, median size "
        f"{np.median(size):.3f} s, 95 % within {np.percentile(size, 95):.3f} s, "
        f"largest {size.max():.3f} s, {np.sum(size <= _WANTED_S)} within {_WANTED_S} s"
    )


def _truths(clips: Path) -> dict[str, Truth]:
    """Read the truth of every film with several stations."""
    truths = {}
    for name, file in truth_files(clips).items():
        truth = read_truth(file)
        frames = file.with_name("frames.npz")
        if truth.stations is not None:
            truths[name] = with_complete_times(truth, frames) if frames.exists() else truth
    return truths


def main(arguments: Sequence[str]) -> int:
    """Run one of the two jobs; see the module's docstring."""
    if len(arguments) != 3 or arguments[0] not in ("files", "figures"):
        print(__doc__, file=sys.stderr)
        return 2
    job, clips, folder = arguments[0], Path(arguments[1]), Path(arguments[2])
    truths = _truths(clips)
    if job == "files":
        folder.mkdir(parents=True, exist_ok=True)
        for name, truth in truths.items():
            (folder / f"{name}.toml").write_text(workout_file(truth), encoding="utf-8")
        return 0
    found = [
        agreement(name, truth, load_record(folder / name))
        for name, truth in truths.items()
        if (folder / name / "audit.json").exists()
    ]
    if not found:
        print(f"no audits of {clips} in {folder}", file=sys.stderr)
        return 3
    print(_figures(found))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
