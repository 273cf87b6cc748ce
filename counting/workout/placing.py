"""Every rep's line on the judge's sheet."""

from collections.abc import Sequence

import msgspec

from counting.record.types import RepPart
from counting.workout.record import StationPart
from counting.workout.sheet import Sheet
from counting.workout.types import Run, Slot

Place = tuple[int, int, int] | None


def place_of(rep: RepPart) -> Place:
    """Block, round and station of a rep, None off the script."""
    if rep.block is None or rep.round is None or rep.station is None:
        return None
    return rep.block, rep.round, rep.station


def complete_s(rep: RepPart) -> float:
    """Film time at which the rep was complete: when it counted, else its end."""
    return rep.counted_s if rep.counted_s is not None else rep.end_s


def placed(
    reps: Sequence[RepPart],
    run_of: Sequence[int | None],
    slots: tuple[Slot, ...],
    all_runs: tuple[Run, ...],
) -> list[RepPart]:
    """Write block, round and station into reps.

    Within a run the lines are filled one after another by what most likely is good; a no-rep
    belongs to the line on which it has to be made up.
    """
    good_in_slot: dict[int, int] = {}
    current: dict[int, int] = {}
    found: list[RepPart] = []
    for rep, run_index in zip(reps, run_of, strict=True):
        if run_index is None:
            found.append(msgspec.structs.replace(rep, block=None, round=None, station=None))
            continue
        run = all_runs[run_index]
        index = current.setdefault(run_index, run.first)
        asked = slots[index].reps
        if asked is not None and good_in_slot.get(index, 0) >= asked and index < run.last:
            index = current[run_index] = index + 1
        slot = slots[index]
        found.append(
            msgspec.structs.replace(rep, block=slot.block, round=slot.round, station=slot.station)
        )
        if rep.probability_good >= 0.5:
            good_in_slot[index] = good_in_slot.get(index, 0) + 1
    return found


def runs_of(
    reps: Sequence[RepPart], slots: tuple[Slot, ...], all_runs: tuple[Run, ...]
) -> list[int | None]:
    """Index of the run of every placed rep."""
    run_at = {
        (slots[index].block, slots[index].round, slots[index].station): number
        for number, run in enumerate(all_runs)
        for index in range(run.first, run.last + 1)
    }
    return [
        run_at.get((rep.block or 0, rep.round or 0, rep.station or 0)) if rep.block else None
        for rep in reps
    ]


def station_lines(
    reps: Sequence[RepPart], slots: tuple[Slot, ...], sheet: Sheet
) -> list[StationPart]:
    """Lines of the sheet that hold any rep, in the script's order."""
    counted: dict[int, int] = {}
    for _, at in sheet.counted:
        counted[at] = counted.get(at, 0) + 1
    lines: list[StationPart] = []
    for index, slot in enumerate(slots):
        here = [
            rep
            for rep in reps
            if (rep.block, rep.round, rep.station) == (slot.block, slot.round, slot.station)
        ]
        if here:
            lines.append(_line(slot, here, counted.get(index, 0)))
    return lines


def _line(slot: Slot, here: Sequence[RepPart], counted: int) -> StationPart:
    return StationPart(
        block=slot.block,
        round=slot.round,
        station=slot.station,
        movement=slot.movement,
        asked=slot.reps,
        counted=counted,
        good=sum(rep.verdict == "good" for rep in here),
        no_rep=sum(rep.verdict == "no-rep" for rep in here),
        too_close=sum(rep.verdict == "too close" for rep in here),
        only_counted=sum(rep.verdict == "only counted" for rep in here),
        reps=[rep.number for rep in here],
        start_s=here[0].start_s,
        end_s=complete_s(here[-1]),
    )
