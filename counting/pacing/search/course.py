"""The workout as pacing sees it: stations in order, a clock, and what separates equal scores."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from counting.pacing.model.athlete import TRANSITION_S
from counting.pacing.model.attempt import load_kg
from counting.pacing.model.engine import USUAL_ROW_2000_S, USUAL_RUN_5000_S
from counting.pacing.model.loads import PacingError, load_of
from counting.workout.beyond_film import timed_words
from counting.workout.types import Block, PenaltyAfter, Turns, Workout
from counting.workout.types import Station as WorkoutStation

LONGEST_WORKOUT_S: Final = 5400.0
"""Clock at which forecasts of a workout without a cap stop."""

FASTEST_ROUND_SHARE: Final = 0.6
"""An endless workout is written out as if the athlete went at this share of usual rep times."""

USUAL_CALORIE_S: Final = 4.0
"""One calorie on a machine (common practice, no source)."""

Kind = tuple[str, float | None]


@dataclass(frozen=True)
class Station:
    """Reps of one movement at one place of the workout; numbers count from 1.

    ``fixed_rest_s`` is a rest the workout orders before it. ``not_before_s`` is the clock's
    reading before which it may not start, ``deadline_s`` the one after which its reps no longer
    count (fixed intervals and windows). What is not ``scored`` has to be done and does not count.

    ``as_many`` says that the reps are a bound that nobody reaches.

    A distance, calories or a hold is a station of one rep that takes ``timed_s``; ``movement`` then
    holds its words.
    """

    movement: str
    reps: int
    block: int
    round: int
    number: int
    fixed_rest_s: float = 0.0
    not_before_s: float = 0.0
    deadline_s: float = float("inf")
    load_kg: float | None = None
    timed_s: float | None = None
    scored: bool = True
    as_many: bool = False

    @property
    def kind(self) -> Kind:
        """What is done: the movement and its load."""
        return self.movement, self.load_kg


@dataclass(frozen=True)
class Course:
    """All stations in order.

    ``cap_s`` always stands; ``finishing`` says that the work can be finished, so that a time is a
    score; ``endless`` that rounds repeat until time is up, and are written out here further than
    anybody gets. ``tie_break_rep`` counts all reps from 1, None without a tie-break.

    Of several ``athletes`` the course is what one does. Where they take turns set by set
    (``turns``), a break lasts as long as the others' sets. After every ``penalty_after``,
    ``penalty_s`` goes by with other work. With ``one_try`` a rep that fails is not tried again.
    """

    name: str
    stations: tuple[Station, ...]
    cap_s: float
    finishing: bool
    tie_break_rep: int | None = None
    endless: bool = False
    athletes: int = 1
    turns: Turns = "sets"
    penalty_after: PenaltyAfter | None = None
    penalty_s: float = 0.0
    one_try: bool = False

    @property
    def movements(self) -> tuple[str, ...]:
        """Movements in order of first use."""
        return tuple(dict.fromkeys(s.movement for s in self.stations if s.timed_s is None))

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """Movements with their loads in order of first use."""
        return tuple(dict.fromkeys(s.kind for s in self.stations if s.timed_s is None))

    @property
    def others_go(self) -> int:
        """Athletes who do a set in every break."""
        return self.athletes - 1 if self.turns == "sets" else 0

    @property
    def break_more_s(self) -> float:
        """Seconds that every break between sets takes beside the rest."""
        return self.penalty_s if self.penalty_after == "break" else 0.0

    @property
    def miss_more_s(self) -> float:
        """Seconds that every rep which does not count costs beside itself."""
        return self.penalty_s if self.penalty_after == "no-rep" else 0.0

    @property
    def places(self) -> list[tuple[tuple[int, int, int], str, int]]:
        """Place, movement and reps of every station; work without reps has none."""
        return [
            (
                (s.block, s.round, s.number),
                s.movement,
                0 if s.timed_s is not None else s.reps,
            )
            for s in self.stations
        ]

    @property
    def scored_reps(self) -> npt.NDArray[np.bool_]:
        """Which reps count, shape ``(R,)``."""
        return np.concatenate(
            [np.full(s.reps, s.scored and s.timed_s is None) for s in self.stations]
        )

    @property
    def at_kg(self) -> dict[str, float]:
        """First load of each movement that has one."""
        found: dict[str, float] = {}
        for station in self.stations:
            if station.load_kg is not None:
                found.setdefault(station.movement, station.load_kg)
        return found

    @property
    def reps(self) -> int:
        """All reps of the workout as written out here."""
        return sum(station.reps for station in self.stations)


def course_of(workout: Workout, engine: float = 1.0) -> Course:
    """Turn a workout file into a course.

    Parameters
    ----------
    workout
        What is asked.
    engine
        Whole-body power of the athlete as a share of the usual.

    Raises
    ------
    PacingError
        A movement has no loads, the workout is a one-set maximum, which has no pacing, or nobody
        can tell how long a distance takes.
    """
    if workout.scoring == "one-set maximum":
        raise PacingError(
            "a one-set maximum has no pacing: there is one set, and it goes to the end"
        )
    endless = any(block.fixed_rounds is None for block in workout.blocks)
    if endless and workout.time_cap_s is None:
        raise PacingError("a workout that repeats until time is up needs time_cap_s to be planned")
    cap_s = _cap_s(workout)
    rounds_without_end = _rounds_within(workout, cap_s) if endless else 1
    stations: list[Station] = []
    round_start_s, reached = 0.0, (1, 1)
    waited_s = 0.0
    for block_number, block in enumerate(workout.blocks, start=1):
        for turn in range(1, (block.fixed_rounds or rounds_without_end) + 1):
            if (block_number, turn) != reached:
                before = workout.blocks[reached[0] - 1]
                round_start_s += before.interval_s or 0.0
                round_start_s += before.rest_after_s if block_number != reached[0] else 0.0
                waited_s += before.rest_after_s if block_number != reached[0] else 0.0
                reached = (block_number, turn)
            due_s = round_start_s + block.interval_s if block.interval_s else np.inf
            if workout.turns == "rounds" and not _own_turn(workout, block, turn):
                waited_s += _usual_round_s(block, turn, engine)
                continue
            for number, station in enumerate(block.stations, start=1):
                stations.append(
                    Station(
                        movement=_movement_of(station),
                        reps=_share(workout, station, turn),
                        block=block_number,
                        round=turn,
                        number=number,
                        fixed_rest_s=waited_s,
                        not_before_s=round_start_s if number == 1 and block.interval_s else 0.0,
                        deadline_s=due_s,
                        load_kg=load_kg(station.load, station.load_unit),
                        timed_s=usual_time_s(station, engine) if station.timed else None,
                        scored=block.scored,
                        as_many=station.as_many,
                    )
                )
                waited_s = 0.0
    penalty = workout.penalty_reps
    return Course(
        name=workout.name,
        stations=tuple(stations),
        cap_s=cap_s,
        finishing=not endless and workout.scoring == "for time",
        tie_break_rep=_tie_break_rep(workout, stations),
        endless=endless,
        athletes=workout.athletes,
        turns=workout.turns,
        one_try=workout.scoring == "maximum load",
        penalty_after=None if penalty is None else penalty.after,
        penalty_s=0.0 if penalty is None else penalty.reps * load_of(penalty.movement).cycle_s,
    )


def _own_turn(workout: Workout, block: Block, turn: int) -> bool:
    """Whether a round is that of the athlete who goes last, so that its end is that of all."""
    return ((block.fixed_rounds or 1) - turn) % workout.athletes == 0


def _movement_of(station: WorkoutStation) -> str:
    return timed_words(station) if station.timed else load_of(station.movement).movement


def _share(workout: Workout, station: WorkoutStation, turn: int) -> int:
    """Reps of a station that fall to one athlete; work without reps is one."""
    if station.timed:
        return 1
    reps = station.reps_in(turn) or 1
    return reps if workout.turns == "rounds" else -(-reps // workout.athletes)


def usual_time_s(station: WorkoutStation, engine: float = 1.0) -> float:
    """How long work without reps takes: as typed in, else at an even pace after the engine.

    Raises
    ------
    PacingError
        It is a distance of a kind that no usual pace is known of.
    """
    if station.takes_s is not None:
        return station.takes_s
    if station.hold_s is not None:
        return station.hold_s
    if station.calories is not None:
        return USUAL_CALORIE_S * station.calories / engine
    words = station.movement.lower()
    if "row" in words:
        return float(USUAL_ROW_2000_S * engine ** (-1.0 / 3.0) * (station.distance_m or 0) / 2000.0)
    if "run" in words:
        return float(USUAL_RUN_5000_S / engine * (station.distance_m or 0) / 5000.0)
    raise PacingError(
        f"nobody can tell how long {timed_words(station)} takes: say so in the workout file with "
        "takes_s, in seconds"
    )


def _usual_round_s(block: Block, turn: int, engine: float) -> float:
    """How long another athlete's round takes, at the usual pace."""
    return sum(
        (
            usual_time_s(station, engine)
            if station.timed
            else (station.reps_in(turn) or 1) * load_of(station.movement).cycle_s
        )
        + TRANSITION_S
        for station in block.stations
    )


def _cap_s(workout: Workout) -> float:
    """When the clock ends: the cap, the end of the last interval, or where forecasts stop."""
    intervals_s = [
        (block.fixed_rounds or 1) * block.interval_s + block.rest_after_s
        for block in workout.blocks
        if block.interval_s is not None
    ]
    ended_s = sum(intervals_s) if len(intervals_s) == len(workout.blocks) else LONGEST_WORKOUT_S
    return min(workout.time_cap_s or LONGEST_WORKOUT_S, ended_s)


def _rounds_within(workout: Workout, cap_s: float) -> int:
    block = workout.blocks[-1]
    round_s = sum(
        usual_time_s(station)
        if station.timed
        else _share(workout, station, 1) * load_of(station.movement).cycle_s
        for station in block.stations
    )
    return max(2, int(cap_s / (FASTEST_ROUND_SHARE * round_s)) + 1)


def _tie_break_rep(workout: Workout, stations: list[Station]) -> int | None:
    """Place of the tie-break among the reps of the course, of which work without reps is one."""
    tie_break = workout.tie_break
    if tie_break is None:
        return None
    done = left = 0
    for station in stations:
        if tie_break.rep is None and station.block > (tie_break.block or 1):
            break
        reps = 0 if station.timed_s is not None else station.reps
        if tie_break.rep is not None and left + reps >= tie_break.rep:
            return done + tie_break.rep - left
        done, left = done + station.reps, left + reps
    return done if tie_break.rep is None else tie_break.rep
