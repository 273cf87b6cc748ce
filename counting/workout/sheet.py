"""A judge's sheet: what counts, when every call is made and every rule of the workout applied."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from counting.workout.types import Block, Run, Slot, Workout


@dataclass(frozen=True, slots=True)
class CalledRep:
    """A rep with a definite call.

    ``run`` is the index of the run in which it was done, None where it belongs to none;
    ``clock_s`` is the workout clock's reading when the rep was complete.
    """

    number: int
    run: int | None
    clock_s: float
    good: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """What stands at the end.

    Attributes
    ----------
    counted
        Number of each rep that counts and the index of its slot, in order of counting.
    reps
        How many count.
    missing
        By slot index, reps that were not done although the athlete moved on.
    extra
        Numbers of good reps beyond what was asked or out of turn.
    finished
        All work done, or done with penalties for what is missing.
    clock_s
        The clock at the rep that finished the work; None where it was not finished.
    penalties_s
        Seconds added to it.
    tie_break_s
        The clock at the tie-break; None where there is none or it was not reached.
    heaviest
        Of a maximum load, the heaviest load of a round that was done whole; 0 where none was.
    """

    counted: tuple[tuple[int, int], ...]
    reps: int
    missing: dict[int, int]
    extra: tuple[int, ...]
    finished: bool
    clock_s: float | None
    penalties_s: float
    tie_break_s: float | None
    heaviest: float | None = None

    @property
    def time_s(self) -> float | None:
        """Score of a workout for time: the clock with penalties, None where not finished."""
        return None if self.clock_s is None else self.clock_s + self.penalties_s


@dataclass(slots=True)
class _Tally:
    """The state of the sheet while reps are written into it."""

    done: list[int]
    counted: list[tuple[int, int]] = field(default_factory=list)
    clock_s: list[float] = field(default_factory=list)
    extra: list[int] = field(default_factory=list)

    def write(self, rep: CalledRep, slot: int) -> None:
        self.done[slot] += 1
        self.counted.append((rep.number, slot))
        self.clock_s.append(rep.clock_s)


def fill_sheet(
    workout: Workout,
    slots: tuple[Slot, ...],
    all_runs: tuple[Run, ...],
    reps: Sequence[CalledRep],
    other_penalties_s: float = 0.0,
) -> Sheet:
    """Apply the rules of a workout to reps in film order.

    Parameters
    ----------
    workout, slots, all_runs
        The workout, its script and the script's runs.
    reps
        Every rep that was tried, in film order.
    other_penalties_s
        Seconds for a short rest or a wrong start.
    """
    cap_s = workout.time_cap_s if workout.time_cap_s is not None else math.inf
    tally = _Tally(done=[0] * len(slots))
    in_time = [rep for rep in reps if rep.clock_s <= cap_s]
    by_itself = workout.scoring in ("fixed interval", "maximum load")
    if workout.missing_reps == "stop the count" and not by_itself:
        _count_in_turn(slots, all_runs, in_time, tally)
    else:
        _count_each_run(workout, slots, all_runs, in_time, tally)
    reached = max((rep.run for rep in in_time if rep.run is not None), default=0)
    missing = {
        index: slot.reps - tally.done[index]
        for index, slot in enumerate(slots)
        if slot.reps is not None
        and tally.done[index] < slot.reps
        and index < all_runs[reached].first
    }
    no_time = workout.blocks[-1].fixed_rounds is None or workout.scoring == "maximum load"
    clock_s = None if no_time else _finish(workout, slots, tally, missing, in_time, all_runs)
    penalties = workout.penalties
    no_reps = sum(not rep.good for rep in in_time)
    return Sheet(
        counted=tuple(tally.counted),
        reps=sum(slots[slot].scored for _, slot in tally.counted),
        missing=missing,
        extra=tuple(tally.extra),
        finished=clock_s is not None,
        clock_s=clock_s,
        penalties_s=no_reps * penalties.no_rep_s
        + sum(missing.values()) * (penalties.missing_rep_s or 0.0)
        + other_penalties_s,
        tie_break_s=_tie_break(workout, slots, tally, all_runs, reached),
        heaviest=_heaviest(workout, slots, tally) if workout.scoring == "maximum load" else None,
    )


def _count_in_turn(
    slots: tuple[Slot, ...], all_runs: tuple[Run, ...], reps: Sequence[CalledRep], tally: _Tally
) -> None:
    """Count a slot only when all before it are full."""
    run_of = [index for index, run in enumerate(all_runs) for _ in range(run.first, run.last + 1)]
    position = 0
    for rep in reps:
        if not rep.good or rep.run is None:
            continue
        if position < len(slots) and rep.run == run_of[position]:
            tally.write(rep, position)
            asked = slots[position].reps
            if asked is not None and tally.done[position] == asked:
                position += 1
        else:
            tally.extra.append(rep.number)


def _count_each_run(
    workout: Workout,
    slots: tuple[Slot, ...],
    all_runs: tuple[Run, ...],
    reps: Sequence[CalledRep],
    tally: _Tally,
) -> None:
    """Count every run by itself, up to what it asks for, within its interval where it has one."""
    windows = interval_windows(workout, slots)
    for rep in reps:
        if not rep.good or rep.run is None:
            continue
        run = all_runs[rep.run]
        free = [
            index
            for index in range(run.first, run.last + 1)
            if _has_room(slots[index], tally.done[index])
            and windows[index][0] <= rep.clock_s <= windows[index][1]
        ]
        if free:
            tally.write(rep, free[0])
        else:
            tally.extra.append(rep.number)


def _has_room(slot: Slot, done: int) -> bool:
    return slot.reps is None or done < slot.reps


def interval_windows(workout: Workout, slots: tuple[Slot, ...]) -> list[tuple[float, float]]:
    """Begin and end of each slot's round on the workout clock; endless without fixed intervals."""
    if workout.scoring != "fixed interval":
        return [(-math.inf, math.inf)] * len(slots)
    starts: dict[tuple[int, int], tuple[float, float]] = {}
    begin_s = 0.0
    for number, block in enumerate(workout.blocks, start=1):
        length_s = block.interval_s or 0.0
        for round_number in range(1, (block.fixed_rounds or 1) + 1):
            starts[number, round_number] = (begin_s, begin_s + length_s)
            begin_s += length_s
        begin_s += block.rest_after_s
    return [starts[slot.block, slot.round] for slot in slots]


def _finish(
    workout: Workout,
    slots: tuple[Slot, ...],
    tally: _Tally,
    missing: dict[int, int],
    reps: Sequence[CalledRep],
    all_runs: tuple[Run, ...],
) -> float | None:
    """Clock at which the last rep was complete, None where work is left over."""
    if any(slot.reps is None for slot in slots):
        return None
    short = [index for index, slot in enumerate(slots) if _has_room(slot, tally.done[index])]
    if not short:
        return tally.clock_s[-1]
    priced = workout.penalties.missing_rep_s is not None and workout.missing_reps == "deducted"
    if not priced or any(index not in missing for index in short):
        return None
    last = [rep.clock_s for rep in reps if rep.run == len(all_runs) - 1 and rep.good]
    return max(last, default=None)


def _heaviest(workout: Workout, slots: tuple[Slot, ...], tally: _Tally) -> float:
    """Load of the heaviest round of which every rep counts, 0 without one."""
    done: dict[tuple[int, int], bool] = {}
    for slot, count in zip(slots, tally.done, strict=True):
        at = (slot.block, slot.round)
        done[at] = done.get(at, True) and count >= (slot.reps or 1)
    return max(
        (load_of_block(workout.blocks[block - 1]) for (block, _), whole in done.items() if whole),
        default=0.0,
    )


def load_of_block(block: Block) -> float:
    """Heaviest load of a block's stations, 0 without one."""
    return max((station.load or 0.0 for station in block.stations), default=0.0)


def _tie_break(
    workout: Workout,
    slots: tuple[Slot, ...],
    tally: _Tally,
    all_runs: tuple[Run, ...],
    reached: int,
) -> float | None:
    tie_break = workout.tie_break
    if tie_break is None:
        return None
    if tie_break.rep is not None:
        return tally.clock_s[tie_break.rep - 1] if len(tally.clock_s) >= tie_break.rep else None
    in_block = [index for index, slot in enumerate(slots) if slot.block == tie_break.block]
    full = not any(_has_room(slots[index], tally.done[index]) for index in in_block)
    moved_on = all_runs[reached].block > (tie_break.block or 0)
    if not full and not (moved_on and workout.missing_reps == "deducted"):
        return None
    wanted = set(in_block)
    return max(
        (
            clock_s
            for clock_s, (_, slot) in zip(tally.clock_s, tally.counted, strict=True)
            if slot in wanted
        ),
        default=None,
    )
