"""What a judge would stop at: order, missing and extra reps, rests and starts."""

import itertools
import statistics
from collections.abc import Sequence
from typing import Final

from counting.record.types import RepPart
from counting.workout.placing import complete_s, runs_of
from counting.workout.record import FlagKind, FlagPart
from counting.workout.sheet import Sheet
from counting.workout.types import Run, Slot, Workout

SURE: Final = 2.0
"""A rest is short, or a start early, when it is so by this many standard uncertainties."""


def flags(
    workout: Workout,
    reps: Sequence[RepPart],
    slots: tuple[Slot, ...],
    all_runs: tuple[Run, ...],
    sheet: Sheet,
    zero_s: float,
    uncertainty_s: float,
    lost: Sequence[tuple[float, float]] = (),
) -> list[FlagPart]:
    """Order, missing and extra reps, rests, early starts and blind stretches, by time.

    ``uncertainty_s`` is the standard uncertainty of the difference of two times; ``lost`` holds
    the stretches of the film in which the athlete was not seen.
    """
    run_of = runs_of(reps, slots, all_runs)
    found = [
        *_order_flags(reps, run_of, slots, all_runs),
        *_missing_flags(reps, run_of, slots, all_runs),
        *_extra_flags(reps, sheet),
        *_rest_flags(workout, reps, uncertainty_s),
        *_unseen_flags(reps, lost),
    ]
    first = next((rep for rep in reps if rep.block is not None), None)
    if first is not None and zero_s - first.start_s > SURE * uncertainty_s:
        words = f"the first rep begins {zero_s - first.start_s:.1f} s before the start"
        found.append(FlagPart(kind="early start", at_s=first.start_s, words=words))
    return sorted(found, key=lambda flag: flag.at_s)


def flag_at(place: Slot | RepPart, kind: FlagKind, at_s: float, words: str) -> FlagPart:
    """Raise a flag on a line of the sheet."""
    return FlagPart(
        kind=kind,
        at_s=at_s,
        words=words,
        block=place.block,
        round=place.round,
        station=place.station,
    )


def _order_flags(
    reps: Sequence[RepPart],
    run_of: Sequence[int | None],
    slots: tuple[Slot, ...],
    all_runs: tuple[Run, ...],
) -> list[FlagPart]:
    found: list[FlagPart] = []
    visits = [
        (run, next(iter(group))[0])
        for run, group in itertools.groupby(zip(reps, run_of, strict=True), key=lambda x: x[1])
    ]
    seen: set[int] = set()
    order = [run for run, _ in visits if run is not None]
    furthest = -1
    for run, first in visits:
        if run is None:
            words = f"{first.movement} is not what comes next in the workout"
            found.append(FlagPart(kind="off the script", at_s=first.start_s, words=words))
            continue
        slot = slots[all_runs[run].first]
        skipped = [other for other in range(furthest + 1, run) if other not in seen]
        if skipped:
            due = slots[all_runs[skipped[0]].first]
            later = any(other in order for other in skipped)
            words = f"{slot.words} before {due.words}" if later else f"{due.words} was not done"
            kind: FlagKind = "wrong order" if later else "skipped station"
            found.append(flag_at(slot, kind, first.start_s, words))
        seen.add(run)
        furthest = max(furthest, run)
    return found


def _missing_flags(
    reps: Sequence[RepPart],
    run_of: Sequence[int | None],
    slots: tuple[Slot, ...],
    all_runs: tuple[Run, ...],
) -> list[FlagPart]:
    """Find runs that the athlete left with fewer good reps than asked."""
    found: list[FlagPart] = []
    reached = max((run for run in run_of if run is not None), default=-1)
    for number, run in enumerate(all_runs[:reached]):
        own = [rep for rep, at in zip(reps, run_of, strict=True) if at == number]
        asked = sum(slots[index].reps or 0 for index in range(run.first, run.last + 1))
        if not own or any(slots[index].reps is None for index in range(run.first, run.last + 1)):
            continue
        surely = asked - sum(rep.verdict != "no-rep" for rep in own)
        perhaps = asked - sum(rep.verdict == "good" for rep in own)
        if perhaps <= 0:
            continue
        slot = slots[run.first]
        short = "rep" if perhaps == 1 else "reps"
        short = f"{perhaps} {short}" if surely == perhaps else f"up to {perhaps} {short}"
        kind: FlagKind = "reps missing" if surely > 0 else "reps may be missing"
        words = f"{slot.words}: moved on {short} short (of {asked})"
        found.append(flag_at(slot, kind, own[-1].end_s, words))
    return found


def _extra_flags(reps: Sequence[RepPart], sheet: Sheet) -> list[FlagPart]:
    by_number = {rep.number: rep for rep in reps}
    found = []
    for number in sheet.extra:
        rep = by_number[number]
        words = f"rep {number} ({rep.movement}) is good but does not count here"
        found.append(flag_at(rep, "extra rep", rep.start_s, words))
    return found


def _rest_flags(workout: Workout, reps: Sequence[RepPart], uncertainty_s: float) -> list[FlagPart]:
    found: list[FlagPart] = []
    for number, block in enumerate(workout.blocks, start=1):
        before = [rep for rep in reps if rep.block == number]
        after = [rep for rep in reps if rep.block == number + 1]
        if not block.rest_after_s or not before or not after:
            continue
        good = [rep for rep in before if rep.verdict != "no-rep"]
        over_s = complete_s(good[-1]) if good else before[-1].end_s
        rested_s = after[0].start_s - over_s
        short_s = block.rest_after_s - rested_s
        if short_s > SURE * uncertainty_s:
            found.append(
                FlagPart(
                    kind="short rest",
                    at_s=after[0].start_s,
                    words=f"{rested_s:.1f} s of {block.rest_after_s:g} s rest after block {number}",
                    block=number + 1,
                )
            )
    return found


def _unseen_flags(reps: Sequence[RepPart], lost: Sequence[tuple[float, float]]) -> list[FlagPart]:
    """Flag blind stretches after the first rep in which a usual rep of the place could hide."""
    found: list[FlagPart] = []
    for start_s, end_s in lost:
        before = [rep for rep in reps if rep.start_s <= end_s]
        if not before:
            continue
        movement = before[-1].movement
        usual_s = statistics.median(r.end_s - r.start_s for r in reps if r.movement == movement)
        hidden = int((end_s - start_s) // (0.8 * usual_s))
        if hidden:
            words = f"for {end_s - start_s:.1f} s: up to {hidden} reps of {movement} may be hidden"
            found.append(FlagPart(kind="not seen", at_s=start_s, words=words))
    return found
