"""A workout's scheme in a few sentences, for the top of a view."""

from collections.abc import Sequence
from typing import Final

from counting.pacing.search.plan import plural
from counting.workout.beyond_film import timed_words
from counting.workout.types import Block, Station, Workout
from vision.times import clock

_MOST_BLOCKS: Final = 6
"""Blocks that are told one by one: by eye, no source."""


def scheme_sentences(workout: Workout) -> list[str]:
    """Say how a workout is scored, its time cap, and what is done in each block."""
    team = f"{workout.athletes} athletes, one at a time; " if workout.athletes > 1 else ""
    cap = "" if workout.time_cap_s is None else f", time cap {clock(workout.time_cap_s, 0)}"
    blocks = [_block_words(block) for block in workout.blocks[:_MOST_BLOCKS]]
    more = len(workout.blocks) - len(blocks)
    if more:
        blocks.append("1 more block" if more == 1 else f"{more} more blocks")
    penalty = workout.penalty_reps
    if penalty is not None:
        work = f"{penalty.reps} {plural(penalty.movement, penalty.reps)}"
        blocks.append(f"after every {penalty.after} {work}")
    return [team + workout.scoring + cap, "; then ".join(blocks)]


def _block_words(block: Block) -> str:
    work = _joined([_station_words(station) for station in _once(block)])
    if not block.scored:
        work += " (not scored)"
    if block.open_ended and block.interval_s is not None:
        work = f"{clock(block.interval_s, 0)} of {work}"
    elif block.interval_s is not None:
        work = f"every {clock(block.interval_s, 0)}: {work}"
    if block.fixed_rounds is None:
        work = f"rounds of {work} until time is up"
    elif block.fixed_rounds > 1:
        work = f"{block.fixed_rounds} rounds of {work}"
    rest_s = block.rest_after_s
    rest = f"{rest_s:g} s" if rest_s < 60.0 else clock(rest_s, 0)
    return work + (f", rest {rest}" if rest_s else "")


def _once(block: Block) -> list[Station]:
    """Stations of a block, those that come again and again named once."""
    stations = block.stations
    if not block.open_ended:
        return stations
    return next(
        stations[:length]
        for length in range(1, len(stations) + 1)
        if stations == (stations[:length] * len(stations))[: len(stations)]
    )


def _station_words(station: Station) -> str:
    if station.timed:
        return timed_words(station)
    load = " alternating" if station.alternating else ""
    if station.load is not None:
        load += f" at {station.load:g}" + (f" {station.load_unit}" if station.load_unit else "")
    if station.reps is None or station.as_many:
        return f"as many {plural(station.movement)} as possible{load}"
    if isinstance(station.reps, list):
        return f"{'-'.join(map(str, station.reps))} {plural(station.movement)}{load}"
    return f"{station.reps} {plural(station.movement, station.reps)}{load}"


def _joined(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]
