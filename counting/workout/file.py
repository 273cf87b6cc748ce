"""Reading a workout file: TOML, checked against the types, with errors that name the line."""

import math
import re
import tomllib
from collections.abc import Collection
from pathlib import Path as FilePath
from typing import Final

import msgspec

from counting.movements.key_lines import Path, key_lines, line_of
from counting.toml_faults import fault_of, nearest_words
from counting.workout.shorthand import ShorthandError, WorkoutFile, variant_of, written_out
from counting.workout.types import LONGEST_SCRIPT, Block, Workout, script
from vision.files import read_whole

LARGEST_FILE_BYTES: Final = 200_000
"""What is larger is no workout file: long ones have two thousand."""


class WorkoutError(ValueError):
    """A workout file that cannot be followed; the message names file, line and remedy."""


def load_workout(
    path: FilePath, known_movements: Collection[str], variant: str | None = None
) -> Workout:
    """Read a workout file.

    Parameters
    ----------
    path
        The TOML file.
    known_movements
        Names of the movements that a station may hold.
    variant
        Name of the variant that is done, None for the workout as it is written.

    Raises
    ------
    WorkoutError
        The file is missing, no ordinary file, too large, no UTF-8, no TOML, or breaks a rule; or
        has no such variant.
    """
    try:
        data = read_whole(path, LARGEST_FILE_BYTES)
    except OSError as error:
        raise WorkoutError(f"{path}: cannot be read ({error.strerror})") from error
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise WorkoutError(f"{path}, line {line}: not UTF-8 text; save it as UTF-8") from error
    return parse_workout(text, str(path), known_movements, variant)


def parse_workout(
    text: str, source: str, known_movements: Collection[str], variant: str | None = None
) -> Workout:
    """Parse a workout from TOML; ``source`` names it in errors. Raises as `load_workout`."""
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise WorkoutError(_syntax_message(str(error), text, source)) from error
    except RecursionError as error:
        raise WorkoutError(f"{source}: nested too deeply for a workout file") from error
    lines = key_lines(text)
    try:
        file = msgspec.convert(document, WorkoutFile)
        if variant is not None:
            if variant not in file.variants:
                hint = nearest_words(variant, list(file.variants)) or "; it has none"
                raise WorkoutError(f"{source}: no variant {variant!r}{hint}")
            file = variant_of(file, variant)
        workout, origins = written_out(file)
    except msgspec.ValidationError as error:
        message, path = fault_of(error, WorkoutFile)
        raise WorkoutError(f"{source}, line {line_of(path, lines)}: {message}") from error
    except ShorthandError as error:
        raise WorkoutError(f"{source}, line {line_of(error.path, lines)}: {error}") from error
    fault = _first_fault(workout, known_movements)
    if fault is not None:
        path, message = fault
        path = _as_in_the_file(path, workout, origins)
        raise WorkoutError(f"{source}, line {line_of(path, lines)}: {message}")
    return workout


def _syntax_message(error: str, text: str, source: str) -> str:
    at = re.search(r"\(at line (\d+), column \d+\)", error)
    line = int(at[1]) if at else max(1, len(text.splitlines()))
    plain = re.sub(r"\s*\(at [^)]*\)", "", error)
    return f"{source}, line {line}: not valid TOML ({plain[:1].lower()}{plain[1:]})"


def _as_in_the_file(path: Path, workout: Workout, origins: tuple[int, ...]) -> Path:
    """Where the block that a path leads to stands in the file, before it was written out."""
    if len(path) < 2 or path[0] != "blocks" or not isinstance(path[1], int):
        return path
    alone = len(workout.blocks) == len(set(origins))
    return ("blocks", origins[path[1]], *(path[2:] if alone else ()))


def broken_rule(workout: Workout) -> str | None:
    """Say which rule that spans several keys a workout breaks; None where it breaks none.

    For workouts that were read from elsewhere than a workout file: movements are not looked up.
    """
    movements = {station.movement for block in workout.blocks for station in block.stations}
    if workout.penalty_reps is not None:
        movements.add(workout.penalty_reps.movement)
    fault = _first_fault(workout, movements)
    return None if fault is None else fault[1]


def _first_fault(workout: Workout, known: Collection[str]) -> tuple[Path, str] | None:
    """Find the first rule that spans several keys and is broken, with the path to point at."""
    for index, block in enumerate(workout.blocks):
        fault = _block_fault(workout, block, ("blocks", index), known)
        if fault is not None:
            return fault
    for index, block in enumerate(workout.blocks[:-1]):
        if block.fixed_rounds is None:
            where: Path = ("blocks", index, "rounds")
            return where, "only the last block can repeat until time is up"
    if workout.blocks[-1].rest_after_s:
        return ("blocks", len(workout.blocks) - 1, "rest_after_s"), "no block follows this rest"
    endless = workout.blocks[-1].fixed_rounds is None
    if not any(b.counted_stations for b in workout.blocks[-1 if endless else 0 :]):
        where = ("blocks", len(workout.blocks) - 1)
        return where, "no station has reps, so that nothing can be counted"
    slots = sum((block.fixed_rounds or 1) * len(block.stations) for block in workout.blocks)
    if slots > LONGEST_SCRIPT:
        return ("blocks",), f"{slots} stations over all rounds; at most {LONGEST_SCRIPT}"
    penalty = workout.penalty_reps
    if penalty is not None and penalty.movement not in known:
        hint = nearest_words(penalty.movement, sorted(known))
        return ("penalty_reps", "movement"), f"unknown movement {penalty.movement!r}{hint}"
    return _limits_fault(workout) or _scoring_fault(workout) or _tie_break_fault(workout)


def _block_fault(
    workout: Workout, block: Block, path: Path, known: Collection[str]
) -> tuple[Path, str] | None:
    interval = workout.scoring == "fixed interval"
    if interval and block.interval_s is None:
        return path, "a fixed interval workout needs interval_s, the seconds of one round"
    if not interval and block.interval_s is not None:
        return (*path, "interval_s"), 'interval_s belongs to scoring = "fixed interval"'
    if block.fixed_rounds is None and workout.scoring != "as many reps as possible":
        return path, ("rounds until time is up need scoring = 'as many reps as possible'")
    for number, station in enumerate(block.stations):
        where: Path = (*path, "stations", number)
        measured = [station.distance_m, station.calories, station.hold_s]
        if station.timed:
            if station.reps is not None or sum(one is not None for one in measured) > 1:
                return where, "give one of reps, distance_m, calories and hold_s"
            continue
        if station.takes_s is not None:
            return (*where, "takes_s"), "takes_s belongs to distance_m, calories or hold_s"
        if station.movement not in known:
            hint = nearest_words(station.movement, sorted(known))
            if "did you mean" not in hint:
                hint = f"; work without reps needs distance_m, calories or hold_s{hint}"
            return (*where, "movement"), f"unknown movement {station.movement!r}{hint}"
        if (station.load is None) != (station.load_unit is None):
            return where, "load and load_unit belong together"
        if station.reps is None and workout.scoring != "one-set maximum":
            return where, "the station lacks the key 'reps' (or distance_m, calories, hold_s)"
        for check, limit in station.limits.items():
            if not math.isfinite(limit):
                return (*where, "limits"), f"the limit of {check!r} is {limit}, no number"
        if isinstance(station.reps, list) and len(station.reps) != block.fixed_rounds:
            rounds = f"rounds = {block.rounds!r}"
            return (
                *where,
                "reps",
            ), f"{len(station.reps)} numbers of reps for {rounds}; give one a round"
    return None


def _limits_fault(workout: Workout) -> tuple[Path, str] | None:
    first: dict[str, dict[str, float]] = {}
    for number, block in enumerate(workout.blocks):
        for index, station in enumerate(block.stations):
            if first.setdefault(station.movement, station.limits) != station.limits:
                where: Path = ("blocks", number, "stations", index)
                return where, f"all stations of {station.movement!r} must have the same limits"
    return None


def _scoring_fault(workout: Workout) -> tuple[Path, str] | None:
    if workout.scoring == "one-set maximum":
        stations = [station for block in workout.blocks for station in block.stations]
        if len(stations) != 1 or workout.blocks[0].rounds != 1:
            return ("scoring",), "a one-set maximum has one block of one round of one station"
        if stations[0].reps is not None:
            return ("blocks", 0, "stations", 0, "reps"), "a one-set maximum asks for no number"
    if workout.scoring == "maximum load":
        for index, block in enumerate(workout.blocks):
            if block.rounds != 1 or not any(station.load for station in block.stations):
                return ("blocks", index), (
                    "a maximum load needs the load of every attempt: load = [60, 65, 70] and "
                    "load_unit at a station"
                )
    if workout.scoring == "as many reps as possible" and workout.time_cap_s is None:
        return ("scoring",), "as many reps as possible needs time_cap_s, when time is up"
    seconds = workout.penalties
    if workout.scoring != "for time" and (
        seconds.no_rep_s or seconds.missing_rep_s or seconds.short_rest_s or seconds.wrong_start_s
    ):
        return ("penalties",), 'penalties in seconds need scoring = "for time"'
    return None


def _tie_break_fault(workout: Workout) -> tuple[Path, str] | None:
    tie_break = workout.tie_break
    if tie_break is None:
        return None
    if (tie_break.block is None) == (tie_break.rep is None):
        return ("tie_break",), "give either block or rep, where the tie-break is read"
    if tie_break.block is not None and tie_break.block > len(workout.blocks):
        return ("tie_break", "block"), f"there are only {len(workout.blocks)} blocks"
    if tie_break.block is not None and workout.blocks[tie_break.block - 1].fixed_rounds is None:
        return ("tie_break", "block"), "a block that repeats until time is up has no end"
    if tie_break.rep is not None and all(block.fixed_rounds for block in workout.blocks):
        reps = sum(slot.reps or 0 for slot in script(workout))
        if tie_break.rep > reps:
            return ("tie_break", "rep"), f"the workout has only {reps} reps"
    return None
