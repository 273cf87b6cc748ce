"""Types of the plan file, ``repwitness.plan/2``: what ``plan.json`` holds and the card shows.

Times are seconds of the workout's clock. A time that is not reached in enough plays is ``None``.
"""

from pathlib import Path
from typing import Final, Literal

import msgspec

from counting.pacing.model.loads import PacingError
from vision.files import is_folder, read_whole

PLAN_SCHEMA: Final = "repwitness.plan/2"

MOST_PLAN_BYTES: Final = 16 * 1024**2
"""What is larger is no plan."""

PERCENTILES: Final = (5, 10, 25, 50, 75, 90, 95)
"""That a plan keeps of each mark: the outer and the inner interval, and the tails."""


class _Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Common rules of all parts: frozen, named fields only, unknown fields refused."""


class Mark(_Part, frozen=True, kw_only=True):
    """Clock reading at the end of a station: the middle, and early and late (80 % between)."""

    early_s: float | None
    middle_s: float | None
    late_s: float | None


class Row(_Part, frozen=True, kw_only=True):
    """One station: how it is broken up, and where the clock should stand at its end.

    ``lowest_chance`` is the smallest mean probability that a rep of it goes. ``round`` counts
    within the block, of which ``rounds`` says how many rounds the card shows. ``usual_reps`` is the
    median of the reps done in time, ``reached`` the share of attempts that begin it. ``able`` is
    the unbroken set that is believed; below 1 the movement is out of reach. ``due_s`` is the clock
    after which its reps no longer count, where the workout sets one. ``timed_s`` is how long work
    without reps takes. ``begin_s`` is the usual clock at its first rep; ``swaps`` that another
    athlete goes in every break, ``as_many`` that the reps are a bound that nobody reaches.
    """

    block: int
    round: int
    rounds: int
    station: int
    movement: str
    reps: int
    load_kg: float | None
    able: float
    usual_reps: int
    reached: float
    due_s: float | None
    sets: list[int]
    rests_s: list[float]
    rest_before_s: float
    fixed_rest_s: float
    effort: float
    mark: Mark
    lowest_chance: float
    decisive: bool
    timed_s: float | None
    begin_s: float | None
    swaps: bool
    as_many: bool


class Percentile(_Part, frozen=True, kw_only=True):
    """Score at one percentile of the plays, better scores at higher percentiles.

    The tie-break time has percentiles of its own, so that it does not hang on single plays.
    """

    percentile: int
    reps: int
    finish_s: float | None
    tie_break_s: float | None


class Outlook(_Part, frozen=True, kw_only=True):
    """Distribution of the score: all forms together, or one form of the model alone."""

    form: Literal["all", "linear", "exponential", "two-phase"]
    weight: float
    percentiles: list[Percentile]
    finishes: float


class BeliefPart(_Part, frozen=True, kw_only=True):
    """A parameter of the athlete: middle, 80 % interval, and whether it was seen or assumed."""

    name: str
    unit: str
    low: float
    typical: float
    high: float
    origin: Literal["measured", "partly measured", "assumed", "typed in"]


class Alternative(_Part, frozen=True, kw_only=True):
    """A plan equal within the noise."""

    words: str
    mean_reps: float
    finish_s: float | None
    tie_break_s: float | None
    failing: float


class PricePart(_Part, frozen=True, kw_only=True):
    """What a departure costs on average, and the share of plays in which it loses.

    ``equal``: whether it is within the noise. ``failing``: how many more reps fail than under the
    plan. ``reached``: probability of the target
    under the departure, ``None`` without a target.
    """

    words: str
    reps: float
    time_s: float | None
    worse: float
    equal: bool
    failing: float
    reached: float | None


class LiftPart(_Part, frozen=True, kw_only=True):
    """One attempt at a maximum load, and the share of plays in which all its reps go."""

    load_kg: float
    goes: float


class CausePart(_Part, frozen=True, kw_only=True):
    """One cause of the difference to the last film: seconds there and in the plan, on average."""

    words: str
    film_s: float
    plan_s: float


class Level(_Part, frozen=True, kw_only=True):
    """Mean reservoir levels (percent, in the order of ``groups``) at a clock reading."""

    at_s: float
    percent: list[float]


class RedlinePart(_Part, frozen=True, kw_only=True):
    """Where the rhythm of a past attempt broke, in words with its times."""

    film: str
    words: str


class PlanDocument(_Part, frozen=True, kw_only=True):
    """One plan for the next attempt."""

    schema: Literal["repwitness.plan/2"] = PLAN_SCHEMA
    workout: str
    cap_s: float | None
    tie_break_rep: int | None
    made_from: list[str]
    typed: list[str]
    target: str | None
    target_probability: float | None
    rows: list[Row]
    rows_beyond: int
    endless: bool
    outlook: list[Outlook]
    beliefs: list[BeliefPart]
    equals: list[Alternative]
    prices: list[PricePart]
    lifts: list[LiftPart]
    decisive: str
    strength_decides: bool
    notes: list[str]
    no_reps: list[str]
    causes: list[CausePart]
    bad_day: str
    warm_up: list[str]
    if_behind: list[str]
    groups: list[str]
    levels: list[Level]
    redlines: list[RedlinePart]
    cautions: list[str]
    evidence: list[str]
    seed: int


def plan_json(document: PlanDocument) -> str:
    """Serialise a plan as indented JSON with a closing newline."""
    return msgspec.json.format(msgspec.json.encode(document), indent=1).decode() + "\n"


def load_plan(path: Path) -> PlanDocument:
    """Read a plan; ``path`` is ``plan.json`` or the folder that holds it.

    Raises
    ------
    PacingError
        The file is missing or no plan of this version.
    """
    file = path / "plan.json" if is_folder(path) else path
    try:
        return msgspec.json.decode(read_whole(file, MOST_PLAN_BYTES), type=PlanDocument)
    except OSError as error:
        raise PacingError(f"{file}: cannot be read ({error.strerror})") from error
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise PacingError(f"{file}: not a plan of this version ({error})") from error
