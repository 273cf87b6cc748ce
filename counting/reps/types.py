"""A repetition: one whole cycle, from the start position back to it."""

from dataclasses import dataclass
from typing import Literal

from counting.movements.types import Measure


@dataclass(frozen=True, slots=True)
class Cycle:
    """One swing with its bounds; indices on the signals' grid, seconds on the film's clock.

    ``size`` is the smaller of its two ways, in the driver's unit; ``pressed`` says that its second
    swing was seen. ``anew`` says that the start position was left for a while and taken again since
    the cycle before, as only a movement's phases tell.
    """

    turn: int
    start: int
    end: int
    start_s: float
    turn_s: float
    end_s: float
    size: float
    pressed: bool = False
    anew: bool = False


@dataclass(frozen=True, slots=True)
class Extent:
    """How far a phase went, in statures, against what it asks for.

    ``at_least`` says on which side of ``asked`` the phase is reached.
    """

    measure: Measure
    value: float
    asked: float
    at_least: bool


@dataclass(frozen=True, slots=True)
class PhaseSeen:
    """A phase of one repetition.

    Attributes
    ----------
    name
        As the movement's standard says.
    first_s, last_s
        From when to when it lasted; None where it was missed.
    extents
        How far it went, for each measure that it asks for; of a phase that was missed, how near
        the repetition came to it.
    """

    name: str
    first_s: float | None
    last_s: float | None
    extents: tuple[Extent, ...] = ()


@dataclass(frozen=True, slots=True)
class SideSeen:
    """Which of the athlete's sides did a repetition, and by how much it led, in statures."""

    name: Literal["left", "right"]
    lead: float


@dataclass(frozen=True, slots=True)
class Rep:
    """One attempted repetition, whether or not it will stand.

    Attributes
    ----------
    number
        From 1, in film order.
    movement
        Name of the movement.
    start_index, turn_index, end_index
        Rows of the track nearest to the times below.
    start_s
        The athlete leaves the start position: begins to descend, takes the bar from the rack or
        from the floor, leaves the hang.
    turn_s
        Bottom or top of the cycle, as the movement's standard says.
    end_s
        The athlete is back in the start position. Reps done back to back share a moment: the end
        of one is the start of the next.
    phases
        Those that its movement's standard describes, without the start position.
    side
        Which side did it where one does at a time; None where both do or the film does not tell.
    """

    number: int
    movement: str
    start_index: int
    turn_index: int
    end_index: int
    start_s: float
    turn_s: float
    end_s: float
    phases: tuple[PhaseSeen, ...] = ()
    side: SideSeen | None = None
