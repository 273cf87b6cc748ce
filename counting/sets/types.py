"""Sets of repetitions, the breaks between them, the pauses inside them."""

from dataclasses import dataclass

from counting.record.types import BreakKind


@dataclass(frozen=True, slots=True)
class RepSet:
    """Repetitions without a break between them; times as of its first and last repetition."""

    number: int
    movement: str
    first_rep: int
    last_rep: int
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Break:
    """From the end of a set's last repetition to the start of the next set's first."""

    after_set: int
    start_s: float
    end_s: float
    kind: BreakKind


@dataclass(frozen=True, slots=True)
class Pause:
    """A wait inside a set, with the bar in hand or the hands on the bar.

    ``where`` is in plain words, e.g. ``in the rack``. A wait at the far end of a repetition
    carries that repetition's number.
    """

    after_rep: int
    start_s: float
    end_s: float
    where: str
