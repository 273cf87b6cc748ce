"""The workout's part of an audit record: what the key ``workout`` of ``audit.json`` holds."""

from typing import Literal

from counting.record.parts import (
    Count,
    Number,
    Part,
    Probability,
    Real,
    Seconds,
)
from counting.workout.clock import ClockSource
from counting.workout.types import LoadUnit, Workout

FlagKind = Literal[
    "wrong order",
    "skipped station",
    "reps missing",
    "reps may be missing",
    "extra rep",
    "off the script",
    "another movement",
    "short rest",
    "wrong start",
    "early start",
    "not seen",
]
SplitLevel = Literal["workout", "block", "round", "station", "set"]


class ClockPart(Part, frozen=True, kw_only=True):
    """Zero of the workout clock on the film's clock; uncertainties are standard (k = 1).

    ``event_uncertainty_s`` is that of one rep's time.
    """

    zero_s: Seconds
    uncertainty_s: Seconds
    source: ClockSource
    confidence: Probability
    words: str
    event_uncertainty_s: Seconds


class FlagPart(Part, frozen=True, kw_only=True):
    """Something a judge would stop at, with its time on the film's clock."""

    kind: FlagKind
    at_s: Seconds
    words: str
    block: Number | None = None
    round: Number | None = None
    station: Number | None = None


class OutcomePart(Part, frozen=True, kw_only=True):
    """One possible score.

    ``time_s`` is the clock with penalties where the work was finished, else None. ``reps`` counts.
    ``load`` is the heaviest one lifted, 0 for none, where the workout asks for a maximum load.
    """

    finished: bool
    reps: Count
    time_s: Seconds | None = None
    load: Real | None = None
    load_unit: LoadUnit | None = None

    def same_score(self, other: "OutcomePart") -> bool:
        """Whether both are one score: where a load is the score, reps are none of it."""
        if self.load is not None:
            return self.load == other.load
        return self == other


class OutcomeProbability(Part, frozen=True, kw_only=True):
    """Probability of a number of counted reps and of having finished, or of a load."""

    reps: Count
    finished: bool
    probability: Probability
    load: Real | None = None
    load_unit: LoadUnit | None = None


class UndecidedPart(Part, frozen=True, kw_only=True):
    """What the score would be with one undecided rep called either way, all else as is."""

    rep: Number
    why: str
    if_good: OutcomePart
    if_no_rep: OutcomePart


class TieBreakPart(Part, frozen=True, kw_only=True):
    """The clock at the tie-break; None where it was not reached (``reached`` gives how sure).

    ``earliest_s`` to ``latest_s`` leaves out what open calls make less likely than 5 in 100 on each
    side, where it was reached; the 95 % interval of the clock is added.
    """

    words: str
    time_s: Seconds | None
    earliest_s: Seconds | None
    latest_s: Seconds | None
    uncertainty_s: Seconds
    reached: Probability


class ScorePart(Part, frozen=True, kw_only=True):
    """The score with its uncertainty.

    ``worst`` and ``best`` take every undecided call one way; where the score is a time they hold
    the 95 % interval of the clock too. ``within`` is the probability that the true score lies
    between them. ``good_reps`` are all good reps, whether or not the rules let them count.
    """

    likely: OutcomePart
    worst: OutcomePart
    best: OutcomePart
    within: Probability
    distribution: list[OutcomeProbability]
    counting: str
    reps_asked: Count | None
    rounds_done: Count
    reps_in_round: Count
    good_reps: Count
    missing_reps: Count
    penalties_s: Seconds
    time_uncertainty_s: Seconds
    tie_break: TieBreakPart | None
    undecided: list[UndecidedPart]


class StationPart(Part, frozen=True, kw_only=True):
    """One line of the judge's sheet; numbers of reps point into the record's list."""

    block: Number
    round: Number
    station: Number
    movement: str
    asked: Count | None
    counted: Count
    good: Count
    no_rep: Count
    too_close: Count
    only_counted: Count = 0
    reps: list[Number]
    start_s: Seconds
    end_s: Seconds


class SplitPart(Part, frozen=True, kw_only=True):
    """How a stretch of the clock was spent. Times are the workout clock's, in seconds.

    The five kinds of time add up to ``end_s`` minus ``start_s``. ``reps`` were tried, ``good`` are
    most likely good, ``counted`` count by the most likely sheet. ``cycle_s`` is the mean time from
    rep to rep within sets; ``work_to_rest`` is work over all other time, None without any.
    Where the end hangs on open calls, it lies between ``earliest_end_s`` and ``latest_end_s``, else
    both are None.
    """

    level: SplitLevel
    block: Number | None = None
    round: Number | None = None
    station: Number | None = None
    set: Number | None = None
    movement: str | None = None
    start_s: Seconds
    end_s: Seconds
    earliest_end_s: Seconds | None = None
    latest_end_s: Seconds | None = None
    reps: Count
    good: Count
    counted: Count = 0
    work_s: Seconds
    pause_s: Seconds
    break_s: Seconds
    transition_s: Seconds
    rest_s: Seconds
    cycle_s: Seconds | None
    work_to_rest: Real | None


class WorkoutPart(Part, frozen=True, kw_only=True):
    """A followed workout."""

    definition: Workout
    clock: ClockPart
    score: ScorePart
    stations: list[StationPart]
    flags: list[FlagPart]
    splits: list[SplitPart]
