"""A workout's scheme in a few sentences, for the top of a view."""

from collections.abc import Sequence
from typing import Final

from counting.pacing.search.plan import plural
from counting.workout.types import Block, Station, Workout
from vision.times import clock

_MOST_BLOCKS: Final = 6


def scheme_sentences(workout: Workout) -> list[str]:
    """Say how a workout is scored, its time cap, and what is done in each block."""
    cap = "" if workout.time_cap_s is None else f", time cap {clock(workout.time_cap_s, 0)}"
    blocks = [_block_words(block) for block in workout.blocks[:_MOST_BLOCKS]]
    more = len(workout.blocks) - len(blocks)
    if more:
        blocks.append("1 more block" if more == 1 else f"{more} more blocks")
    return [workout.scoring + cap, "; then ".join(blocks)]


def _block_words(block: Block) -> str:
    work = _joined([_station_words(station) for station in block.stations])
    if block.interval_s is not None:
        work = f"every {clock(block.interval_s, 0)}: {work}"
    if block.fixed_rounds is None:
        work = f"rounds of {work} until time is up"
    elif block.fixed_rounds > 1:
        work = f"{block.fixed_rounds} rounds of {work}"
    rest_s = block.rest_after_s
    rest = f"{rest_s:g} s" if rest_s < 60.0 else clock(rest_s, 0)
    return work + (f", rest {rest}" if rest_s else "")


def _station_words(station: Station) -> str:
    load = ""
    if station.load is not None:
        load = f" at {station.load:g}" + (f" {station.load_unit}" if station.load_unit else "")
    if station.reps is None:
        return f"as many {plural(station.movement)} as possible{load}"
    if isinstance(station.reps, list):
        return f"{'-'.join(map(str, station.reps))} {plural(station.movement)}{load}"
    return f"{station.reps} {plural(station.movement, station.reps)}{load}"


def _joined(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]
