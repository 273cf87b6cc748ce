"""What a comparison of two attempts holds."""

from dataclasses import dataclass
from typing import Final, Literal, get_args

Cause = Literal["reps", "no-reps", "pauses", "breaks", "transitions", "rest"]
CAUSES: Final[tuple[Cause, ...]] = get_args(Cause)
"""On what an attempt spends its time between two good reps.

``reps`` is motion within reps that count, ``no-reps`` motion within those that do not.
"""


@dataclass(frozen=True, slots=True)
class RepPair:
    """The same rep of two attempts: the n-th good one at one place.

    Attributes
    ----------
    movement, block, round, station, ordinal
        Which rep it is; ``ordinal`` counts good reps at the place, from 1. Places are None where
        no workout was followed.
    first_s, second_s
        Clock at which it was complete.
    gained_s
        By cause, seconds that the second attempt spent less than the first since the pair before;
        negative where it spent more.
    """

    movement: str
    block: int | None
    round: int | None
    station: int | None
    ordinal: int
    first_s: float
    second_s: float
    gained_s: dict[Cause, float]

    @property
    def ahead_s(self) -> float:
        """Seconds by which the second attempt is ahead here; negative behind."""
        return self.first_s - self.second_s


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two attempts aligned by rep.

    Attributes
    ----------
    pairs
        In the order of the first attempt.
    only_first, only_second
        Numbers of good reps that the other attempt has no partner for.
    uncertainty_s
        Standard uncertainty of one difference of clocks.
    warnings
        Why the two may not be comparable.
    """

    pairs: tuple[RepPair, ...]
    only_first: tuple[int, ...]
    only_second: tuple[int, ...]
    uncertainty_s: float
    warnings: tuple[str, ...]

    def gained_by_cause_s(self) -> dict[Cause, float]:
        """Sum over all pairs; the causes add up to the lead at the last pair."""
        return {cause: sum(pair.gained_s[cause] for pair in self.pairs) for cause in CAUSES}
