"""Which of the athlete's sides did a repetition, where one does at a time."""

from typing import Final

from counting.movements.types import Movement
from counting.reps.evidence import around
from counting.reps.types import SideSeen
from counting.signals.types import Signals

_CLEAR: Final = 0.06
"""A lead in statures that is no jitter: the rear knee of a lunge is 0.2 lower than the other."""


def side_of(signals: Signals, movement: Movement, turn: int) -> SideSeen | None:
    """Tell the side at a repetition's turn; None where neither leads clearly.

    Parameters
    ----------
    signals
        Of the athlete.
    movement
        What is being done; None is told of one that both sides do.
    turn
        Sample of the turn.
    """
    if movement.sides is None:
        return None
    if movement.sides.told_by == "higher hand":
        left_leads = around(signals.wrist_lead, turn, signals.rate_hz)
    else:
        left_leads = -around(signals.knee_lead, turn, signals.rate_hz)
    if not abs(left_leads) >= _CLEAR:
        return None
    return SideSeen("left" if left_leads > 0 else "right", abs(left_leads))
