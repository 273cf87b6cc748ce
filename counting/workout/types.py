"""What a workout asks for: blocks of rounds of stations, and the rules of its score."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import msgspec
from msgspec import Meta

Scoring = Literal[
    "for time", "as many reps as possible", "fixed interval", "one-set maximum", "maximum load"
]
MissingReps = Literal["stop the count", "deducted"]
StartPlace = Literal[
    "anywhere", "standing", "standing under the bar", "hanging from the bar", "lying on the floor"
]
LoadUnit = Literal["kg", "lb"]
Turns = Literal["sets", "rounds"]
PenaltyAfter = Literal["no-rep", "break"]

Positive = Annotated[float, Meta(gt=0.0, le=86400.0)]
NotNegative = Annotated[float, Meta(ge=0.0, le=86400.0)]
RepCount = Annotated[int, Meta(ge=1, le=1000)]
RoundCount = Annotated[int, Meta(ge=1, le=100)] | Literal["until time is up"]
Name = Annotated[str, Meta(min_length=1, max_length=80)]

LONGEST_SCRIPT: Final = 2000
"""Stations, counted over all rounds, that a workout may hold."""


class _Part(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """Common rules of all parts: frozen, named fields only, unknown fields refused."""


class Station(_Part, frozen=True, kw_only=True):
    """Reps of one movement.

    ``reps`` is the number asked for in every round, or one number a round, or None for as many as
    can be done (one-set maximum). ``limits`` replaces limits of the movement's standard by the
    name of the check, in the check's own unit. ``alternating`` says that the sides take turns,
    ``as_many`` that ``reps`` are no more than a bound on what anybody does in the time.

    A station with ``distance_m``, ``calories`` or ``hold_s`` has no reps: it is work that takes a
    time, ``takes_s`` where that is known, and any movement may be named.
    """

    movement: Name
    reps: RepCount | Annotated[list[RepCount], Meta(min_length=1, max_length=100)] | None = None
    load: Positive | None = None
    load_unit: LoadUnit | None = None
    limits: dict[str, float] = {}
    alternating: bool = False
    as_many: bool = False
    distance_m: Positive | None = None
    calories: Positive | None = None
    hold_s: Positive | None = None
    takes_s: Positive | None = None

    @property
    def timed(self) -> bool:
        """Whether it is a distance, calories or a hold, which have no reps to count."""
        return not (self.distance_m is None and self.calories is None and self.hold_s is None)

    def reps_in(self, round_number: int) -> int | None:
        """Reps asked for in a round, counted from 1; None where there is no number."""
        if isinstance(self.reps, list):
            return self.reps[round_number - 1]
        return self.reps


class Block(_Part, frozen=True, kw_only=True):
    """Rounds of the same stations, then perhaps a rest of fixed length.

    ``interval_s`` is the length of one round of a fixed interval workout. The reps of a block that
    is not ``scored`` have to be done and are no part of the score. One that is ``open_ended`` goes
    on until its time is up and is written out further than anybody gets.
    """

    stations: Annotated[list[Station], Meta(min_length=1, max_length=40)]
    rounds: RoundCount = 1
    rest_after_s: NotNegative = 0.0
    interval_s: Positive | None = None
    scored: bool = True
    open_ended: bool = False

    @property
    def counted_stations(self) -> list[Station]:
        """Stations with reps."""
        return [station for station in self.stations if not station.timed]

    @property
    def fixed_rounds(self) -> int | None:
        """Number of rounds; None where the stations repeat until time is up."""
        return self.rounds if isinstance(self.rounds, int) else None


class TieBreak(_Part, frozen=True, kw_only=True):
    """The clock's reading that separates equal scores: at the end of a block, or at a rep.

    ``rep`` counts all reps of the workout in order, from 1.
    """

    block: Annotated[int, Meta(ge=1)] | None = None
    rep: Annotated[int, Meta(ge=1)] | None = None


class Penalties(_Part, frozen=True, kw_only=True):
    """Seconds added to the time of a workout that is done for time."""

    no_rep_s: NotNegative = 0.0
    missing_rep_s: NotNegative | None = None
    short_rest_s: NotNegative = 0.0
    wrong_start_s: NotNegative = 0.0


class PenaltyReps(_Part, frozen=True, kw_only=True):
    """Reps to be done after every no-rep, or after every break of a set; they do not count."""

    after: PenaltyAfter
    movement: Name
    reps: RepCount


class Workout(_Part, frozen=True, kw_only=True):
    """A workout and the rules of its score.

    ``missing_reps`` says what becomes of reps that were not made up before the athlete moved on:
    nothing after them counts until they are, or they are taken off and the rest counts. Where
    there are several ``athletes``, one works at a time: ``turns`` says for a set or for a round.
    """

    name: Name
    scoring: Scoring
    missing_reps: MissingReps
    blocks: Annotated[list[Block], Meta(min_length=1, max_length=200)]
    time_cap_s: Positive | None = None
    start: StartPlace = "anywhere"
    tie_break: TieBreak | None = None
    penalties: Penalties = Penalties()
    words: str = ""
    athletes: Annotated[int, Meta(ge=1, le=10)] = 1
    turns: Turns = "sets"
    penalty_reps: PenaltyReps | None = None

    @property
    def counted_movements(self) -> set[str]:
        """Names of the movements whose reps are counted."""
        return {s.movement for block in self.blocks for s in block.counted_stations}


@dataclass(frozen=True, slots=True)
class Slot:
    """One station of one round: a line of the script. Numbers count from 1."""

    block: int
    round: int
    station: int
    movement: str
    reps: int | None
    scored: bool = True

    @property
    def words(self) -> str:
        """Where it is, for a reader."""
        return f"block {self.block}, round {self.round}, {self.movement}"


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring slots of the same movement: from outside they look like one station.

    ``first`` and ``last`` are indices of slots in the script.
    """

    movement: str
    first: int
    last: int
    block: int


def script(workout: Workout, rounds_without_end: int = 1) -> tuple[Slot, ...]:
    """All slots in the order in which they are to be done; stations without reps have none.

    A block that repeats until time is up is written out ``rounds_without_end`` times.
    """
    return tuple(_slots(workout, rounds_without_end))


def rounds_to_write(workout: Workout, reps: int, reached: int = 1) -> int:
    """How far a block without end must be written out for an attempt to fit into it.

    Parameters
    ----------
    workout
        What was asked.
    reps
        Reps that were tried in all.
    reached
        The furthest round in which one of them was done; no more than a script may hold.

    Returns
    -------
    One round more than those that can have been begun.
    """
    stations = workout.blocks[-1].counted_stations
    a_round = sum(station.reps_in(1) or 1 for station in stations) or 1
    return max(min(reached, LONGEST_SCRIPT // max(len(stations), 1)), -(-reps // a_round)) + 1


def _slots(workout: Workout, rounds_without_end: int) -> Iterator[Slot]:
    for block_number, block in enumerate(workout.blocks, start=1):
        rounds = block.fixed_rounds or rounds_without_end
        for round_number in range(1, rounds + 1):
            for number, station in enumerate(block.stations, start=1):
                if not station.timed:
                    yield Slot(
                        block=block_number,
                        round=round_number,
                        station=number,
                        movement=station.movement,
                        reps=station.reps_in(round_number),
                        scored=block.scored,
                    )


def runs(workout: Workout, slots: tuple[Slot, ...]) -> tuple[Run, ...]:
    """Join neighbouring slots of one movement.

    A new block starts a new run, and so does every round of a fixed interval.
    """
    apart = workout.scoring == "fixed interval"
    joined: list[Run] = []
    for index, slot in enumerate(slots):
        before = slots[index - 1] if joined else None
        if (
            before is not None
            and before.movement == slot.movement
            and before.block == slot.block
            and not (apart and before.round != slot.round)
        ):
            joined[-1] = Run(slot.movement, joined[-1].first, index, slot.block)
        else:
            joined.append(Run(slot.movement, index, index, slot.block))
    return tuple(joined)
