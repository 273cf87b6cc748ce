"""A repetition: one whole cycle, from the start position back to it."""

from dataclasses import dataclass


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
    """

    number: int
    movement: str
    start_index: int
    turn_index: int
    end_index: int
    start_s: float
    turn_s: float
    end_s: float
