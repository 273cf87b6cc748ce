"""The short forms that a workout file may hold, and what each is short for.

A file is checked as it was written; then every short form is written out in the plain blocks and
stations of `counting.workout.types`, which are all that auditing and planning know.
"""

import re
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Annotated, Final

import msgspec
from msgspec import Meta

from counting.toml_faults import nearest_words
from counting.workout.types import (
    Block,
    LoadUnit,
    MissingReps,
    Name,
    NotNegative,
    Penalties,
    PenaltyReps,
    Positive,
    RepCount,
    RoundCount,
    Scoring,
    StartPlace,
    Station,
    TieBreak,
    Turns,
    Workout,
)

UNTIL_TIME_IS_UP: Final = "until time is up"
AS_MANY: Final = "max"
FASTEST_REP_S: Final = 1.0
"""Nobody does more reps than one a second: open reps and ladders are written out so far."""

MISSING_REPS_WORDS: Final = (
    "say what becomes of reps that are not made up, because it decides the score: "
    'missing_reps = "stop the count" or missing_reps = "deducted"'
)

_ENDLESS: Final = re.compile(r"\.\.\.|…")

MOST_REPS: Final = 1000
MOST_STATIONS: Final = 40
MOST_ROUNDS: Final = 100
"""Reps of a station, stations of a block and its rounds at most: several times what anybody
writes (no source)."""


class ShorthandError(ValueError):
    """A short form that cannot be written out; ``path`` is where it stands in the file."""

    def __init__(self, path: tuple[str | int, ...], message: str) -> None:
        super().__init__(message)
        self.path = path


class _Part(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """Common rules of all parts: frozen, named fields only, unknown fields refused."""


FileReps = (
    RepCount
    | Annotated[list[RepCount], Meta(min_length=1, max_length=MOST_ROUNDS)]
    | Annotated[str, Meta(max_length=200)]
)
FileLoad = Positive | Annotated[list[Positive], Meta(min_length=1, max_length=MOST_ROUNDS)]


class FileStation(_Part, frozen=True, kw_only=True):
    """A station as a file may write it; see `counting.workout.types.Station`.

    ``reps`` may also be "21-15-9" (one number a round), "3, 6, 9, ..." (a ladder without end) or
    "max" (as many as there is time for); ``load`` one number a round; ``each_side`` doubles the
    reps.
    """

    movement: Name
    reps: FileReps | None = None
    load: FileLoad | None = None
    load_unit: LoadUnit | None = None
    limits: dict[str, float] = {}
    each_side: bool = False
    alternating: bool = False
    distance_m: Positive | None = None
    calories: Positive | None = None
    hold_s: Positive | None = None
    takes_s: Positive | None = None


class Change(_Part, frozen=True, kw_only=True):
    """What a variant of a workout changes at the stations of one movement."""

    movement: Name | None = None
    reps: FileReps | None = None
    load: FileLoad | None = None
    load_unit: LoadUnit | None = None
    limits: dict[str, float] = {}
    distance_m: Positive | None = None
    calories: Positive | None = None
    hold_s: Positive | None = None
    takes_s: Positive | None = None


class FileBlock(_Part, frozen=True, kw_only=True):
    """A block as a file may write it.

    ``rest_between_s`` is rested between its rounds; ``time_cap_s`` gives it a clock of its own, in
    which its stations repeat; ``alternate`` does one station an interval, in turn; what is not
    ``scored`` has to be done and does not count.
    """

    stations: Annotated[list[FileStation], Meta(min_length=1, max_length=MOST_STATIONS)]
    rounds: RoundCount | None = None
    rest_after_s: NotNegative = 0.0
    interval_s: Positive | None = None
    rest_between_s: NotNegative = 0.0
    time_cap_s: Positive | None = None
    alternate: bool = False
    scored: bool = True


class WorkoutFile(_Part, frozen=True, kw_only=True):
    """A workout as a file may write it; see `counting.workout.types.Workout`.

    ``variants`` hold, by name, what each changes at the stations of which movement.
    """

    name: Name
    scoring: Scoring
    missing_reps: MissingReps | None = None
    blocks: Annotated[list[FileBlock], Meta(min_length=1, max_length=20)]
    time_cap_s: Positive | None = None
    start: StartPlace = "anywhere"
    tie_break: TieBreak | None = None
    penalties: Penalties = Penalties()
    words: str = ""
    athletes: Annotated[int, Meta(ge=1, le=10)] = 1
    turns: Turns = "sets"
    penalty_reps: PenaltyReps | None = None
    variants: dict[Name, dict[Name, Change]] = {}


NO_MISSING_REPS: Final = ("fixed interval", "one-set maximum", "maximum load")
"""Scores that missing reps change in one way only, so that nothing has to be said of them."""


def variant_of(file: WorkoutFile, name: str) -> WorkoutFile:
    """Write a variant of a workout out; ``name`` has to be one of its variants.

    Raises
    ------
    ShorthandError
        The variant changes a movement that the workout does not have.
    """
    changes = file.variants[name]
    there = {station.movement for block in file.blocks for station in block.stations}
    for movement in changes:
        if movement not in there:
            raise ShorthandError(
                ("variants", name, movement),
                f"the workout has no {movement!r}{nearest_words(movement, sorted(there))}",
            )
    blocks = [
        msgspec.structs.replace(
            block, stations=[_changed(station, changes) for station in block.stations]
        )
        for block in file.blocks
    ]
    return msgspec.structs.replace(file, name=f"{file.name}, {name}"[:80], blocks=blocks)


def _changed(station: FileStation, changes: Mapping[str, Change]) -> FileStation:
    """Put a variant's change into a station; another measure of the work takes its place."""
    change = changes.get(station.movement)
    if change is None:
        return station
    given = {
        field.name: getattr(change, field.name)
        for field in msgspec.structs.fields(Change)
        if getattr(change, field.name) not in (None, {})
    }
    measures = ("reps", "distance_m", "calories", "hold_s")
    if any(key in given for key in measures):
        given = dict.fromkeys((*measures, "takes_s")) | given
    return msgspec.structs.replace(station, **given)


def written_out(file: WorkoutFile) -> tuple[Workout, tuple[int, ...]]:
    """Write all short forms out.

    Returns
    -------
    The workout, and for each of its blocks the number of the file's block, from 0, it comes from.

    Raises
    ------
    ShorthandError
        A short form does not fit what stands beside it.
    """
    missing_reps = file.missing_reps
    if missing_reps is None and file.scoring in NO_MISSING_REPS:
        missing_reps = "deducted"
    windows = any(block.time_cap_s is not None for block in file.blocks)
    blocks: list[Block] = []
    origins: list[int] = []
    for number, block in enumerate(file.blocks):
        cap_s = _window_s(file, number) if windows else file.time_cap_s
        for one in _blocks(block, number, cap_s, window=windows):
            blocks.append(one)
            origins.append(number)
    tie_break = file.tie_break
    block_number = None if tie_break is None else tie_break.block
    if tie_break is not None and block_number is not None and block_number <= len(file.blocks):
        last = max(i for i, origin in enumerate(origins) if origin == block_number - 1)
        tie_break = msgspec.structs.replace(tie_break, block=last + 1)
    if missing_reps is None:
        raise ShorthandError((), MISSING_REPS_WORDS)
    if windows and file.scoring != "as many reps as possible":
        raise ShorthandError(
            ("scoring",),
            'blocks with a time_cap_s of their own need scoring = "as many reps as possible"',
        )
    return (
        Workout(
            name=file.name,
            scoring="fixed interval" if windows else file.scoring,
            missing_reps=missing_reps,
            blocks=blocks,
            time_cap_s=None if windows else file.time_cap_s,
            start=file.start,
            tie_break=tie_break,
            penalties=file.penalties,
            words=file.words,
            athletes=file.athletes,
            turns=file.turns,
            penalty_reps=file.penalty_reps,
        ),
        tuple(origins),
    )


def _window_s(file: WorkoutFile, number: int) -> float:
    """Length of a block's own clock; the last one may take what is left of the workout's."""
    own_s = file.blocks[number].time_cap_s
    if own_s is not None:
        return own_s
    before_s = sum((block.time_cap_s or 0.0) + block.rest_after_s for block in file.blocks[:number])
    if number == len(file.blocks) - 1 and file.time_cap_s and file.time_cap_s > before_s:
        return file.time_cap_s - before_s
    raise ShorthandError(
        ("blocks", number),
        "another block has a time_cap_s of its own, so this one needs one as well",
    )


def _blocks(block: FileBlock, number: int, cap_s: float | None, *, window: bool) -> Iterator[Block]:
    path: tuple[str | int, ...] = ("blocks", number)
    ladders = [_reps(s, (*path, "stations", i), cap_s) for i, s in enumerate(block.stations)]
    given = [reps for reps in ladders if isinstance(reps, list)]
    endless = any(isinstance(s.reps, str) and _ENDLESS.search(s.reps) for s in block.stations)
    by_round = bool(block.rest_between_s) or any(isinstance(s.load, list) for s in block.stations)
    rounds = block.rounds
    if any(reps == AS_MANY for reps in ladders) and block.interval_s is None and cap_s is None:
        raise ShorthandError(path, 'reps = "max" needs a clock: time_cap_s or interval_s')
    if given and (rounds is None or endless):
        wanted = rounds if isinstance(rounds, int) else MOST_ROUNDS
        rounds = min(wanted, *(len(reps) for reps in given))
        ladders = [reps[:rounds] if isinstance(reps, list) else reps for reps in ladders]
    if rounds is None:
        loads = [len(s.load) for s in block.stations if isinstance(s.load, list)]
        rounds = loads[0] if loads else UNTIL_TIME_IS_UP if window and len(given) == 0 else 1
    if block.alternate:
        yield from _alternating(block, path, ladders, rounds)
        return
    clock_s = cap_s if window else block.interval_s
    if window:
        if block.interval_s is not None or by_round:
            raise ShorthandError(
                path,
                "a block with a time_cap_s of its own has no interval_s, rest_between_s or loads "
                "by round",
            )
        yield _window(block, ladders, rounds, clock_s or 0.0)
        return
    if not by_round:
        stations = [
            _station(
                station,
                reps,
                station.load if isinstance(station.load, float) else None,
                clock_s or cap_s,
            )
            for station, reps in zip(block.stations, ladders, strict=True)
        ]
        yield Block(
            stations=stations,
            rounds=rounds,
            rest_after_s=block.rest_after_s,
            interval_s=block.interval_s,
            scored=block.scored,
        )
        return
    if not isinstance(rounds, int):
        raise ShorthandError(path, "rest_between_s and loads by round need a number of rounds")
    for turn in range(rounds):
        last = turn == rounds - 1
        yield Block(
            stations=_in_round(block, path, ladders, turn, clock_s or cap_s),
            rest_after_s=block.rest_after_s if last else block.rest_between_s,
            interval_s=block.interval_s,
            scored=block.scored,
        )


def _alternating(
    block: FileBlock,
    path: tuple[str | int, ...],
    ladders: list[int | list[int] | str | None],
    rounds: int | str,
) -> Iterator[Block]:
    if block.interval_s is None or not isinstance(rounds, int):
        raise ShorthandError(path, "alternate = true needs interval_s and a number of rounds")
    for turn in range(rounds):
        stations = _in_round(block, path, ladders, turn, block.interval_s)
        yield Block(
            stations=[stations[turn % len(stations)]],
            interval_s=block.interval_s,
            rest_after_s=block.rest_after_s if turn == rounds - 1 else 0.0,
            scored=block.scored,
        )


def _in_round(
    block: FileBlock,
    path: tuple[str | int, ...],
    ladders: list[int | list[int] | str | None],
    turn: int,
    clock_s: float | None,
) -> list[Station]:
    stations = []
    for index, (station, reps) in enumerate(zip(block.stations, ladders, strict=True)):
        own = reps
        if isinstance(reps, list):
            if turn >= len(reps):
                where = (*path, "stations", index, "reps")
                raise ShorthandError(where, f"{len(reps)} numbers of reps; give one a round")
            own = reps[turn]
        load = station.load
        if isinstance(load, list):
            if turn >= len(load):
                where = (*path, "stations", index, "load")
                raise ShorthandError(where, f"{len(load)} loads; give one a round")
            load = load[turn]
        stations.append(_station(station, own, load, clock_s))
    return stations


def _window(
    block: FileBlock, ladders: list[int | list[int] | str | None], rounds: int | str, clock_s: float
) -> Block:
    """One round of an interval, in which the stations stand as often as there is time for."""
    once = [
        _station(station, reps if not isinstance(reps, list) else reps[0], None, clock_s)
        for station, reps in zip(block.stations, ladders, strict=True)
    ]
    turns = rounds if isinstance(rounds, int) else MOST_STATIONS // len(once)
    stations = []
    for turn in range(turns):
        for station, reps, file in zip(once, ladders, block.stations, strict=True):
            load = file.load if isinstance(file.load, float) else None
            own = reps[turn] if isinstance(reps, list) else station.reps
            stations.append(msgspec.structs.replace(station, reps=own, load=load))
    if rounds == UNTIL_TIME_IS_UP and len(once) == 1:
        reps = min(MOST_REPS, int(clock_s / FASTEST_REP_S))
        stations = [msgspec.structs.replace(stations[0], reps=max(reps, 1), as_many=True)]
    return Block(
        stations=stations[:MOST_STATIONS],
        rest_after_s=block.rest_after_s,
        interval_s=clock_s,
        scored=block.scored,
        open_ended=rounds == UNTIL_TIME_IS_UP,
    )


def _station(
    station: FileStation,
    reps: int | list[int] | str | None,
    load: float | None,
    clock_s: float | None,
) -> Station:
    as_many = reps == AS_MANY
    if as_many:
        reps = max(1, min(MOST_REPS, int((clock_s or 0.0) / FASTEST_REP_S)))
    return Station(
        movement=station.movement,
        reps=reps if not isinstance(reps, str) else None,
        load=load,
        load_unit=station.load_unit,
        limits=station.limits,
        alternating=station.alternating,
        as_many=as_many,
        distance_m=station.distance_m,
        calories=station.calories,
        hold_s=station.hold_s,
        takes_s=station.takes_s,
    )


def _reps(
    station: FileStation, path: tuple[str | int, ...], cap_s: float | None
) -> int | list[int] | str | None:
    """Reps as a number, a list with one a round, or "max"."""
    reps = station.reps
    where = (*path, "reps")
    if isinstance(reps, str):
        reps = _reps_in_words(reps, where, cap_s)
    if not station.each_side or reps is None or isinstance(reps, str):
        return reps
    return [2 * own for own in reps] if isinstance(reps, list) else 2 * reps


def _reps_in_words(
    words: str, where: tuple[str | int, ...], cap_s: float | None
) -> list[int] | str:
    text = words.strip().lower()
    if text == AS_MANY:
        return AS_MANY
    endless = re.fullmatch(r"([\d\s,-]+?)[\s,-]*(?:\.\.\.|…)", text)
    numbers = [int(each) for each in re.findall(r"\d+", endless[1] if endless else text)]
    plain = re.fullmatch(r"\d+(?:\s*[-,]\s*\d+)*", text)
    if not numbers or (endless is None and plain is None) or not all(numbers):
        raise ShorthandError(
            where,
            f'reps {words!r}: write a number, "21-15-9", a ladder as "3, 6, 9, ..." or "max"',
        )
    if endless is None:
        return numbers
    steps = {after - before for before, after in pairwise(numbers)}
    if len(steps) != 1 or cap_s is None:
        need = (
            "a time_cap_s" if cap_s is None else "the same step between its numbers, at least two"
        )
        raise ShorthandError(where, f"the ladder {words!r} without end needs {need}")
    (step,) = steps
    ladder: list[int] = []
    while len(ladder) < MOST_ROUNDS and sum(ladder) * FASTEST_REP_S < cap_s:
        following = numbers[0] + step * len(ladder)
        if not 1 <= following <= MOST_REPS:
            break
        ladder.append(following)
    return ladder
