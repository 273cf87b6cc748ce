"""Where the workout clock reads zero, and how sure that is."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from counting.workout.countdown import StartSignal


ClockSource = Literal["given by hand", "start signal", "first movement"]

HAND_UNCERTAINTY_S: Final = 0.05
"""A time typed in tenths of a second, rounded either way, with a little for the hand."""

FIRST_MOVEMENT_UNCERTAINTY_S: Final = 0.1
"""Seconds by which athletes differ in moving off when the clock starts (no source)."""


class ClockError(ValueError):
    """No zero can be found."""


@dataclass(frozen=True, slots=True)
class ClockZero:
    """Zero of the workout clock on the film's clock, with its standard uncertainty."""

    time_s: float
    uncertainty_s: float
    source: ClockSource
    confidence: float
    words: str


def clock_zero(
    given_s: float | None, start_signal: "StartSignal | None", first_movement_s: float | None
) -> ClockZero:
    """Choose the zero: what was given by hand, else the start signal, else the first movement.

    Raises
    ------
    ClockError
        There is none of the three.
    """
    if given_s is not None:
        return ClockZero(given_s, HAND_UNCERTAINTY_S, "given by hand", 1.0, "given by hand")
    if start_signal is not None:
        short = start_signal.short_tones
        return ClockZero(
            start_signal.time_s,
            start_signal.uncertainty_s,
            "start signal",
            start_signal.confidence,
            f"start signal in the sound: {short} short tones at "
            f"{start_signal.short_pitch_hz:.0f} Hz, a longer one at "
            f"{start_signal.long_pitch_hz:.0f} Hz",
        )
    if first_movement_s is not None:
        return ClockZero(
            first_movement_s,
            FIRST_MOVEMENT_UNCERTAINTY_S,
            "first movement",
            0.5,
            "no start signal was heard: the clock starts at the first movement; "
            "give the start by hand with --start if it was earlier",
        )
    raise ClockError("no movement was found from which the clock could start")


def event_uncertainty_s(frame_interval_s: float, method_s: float) -> float:
    """Give the standard uncertainty of one event's time.

    A frame's sampling gives the interval over the square root of 12 (uniform quantisation), to
    which the method's own scatter adds.
    """
    return math.hypot(frame_interval_s / math.sqrt(12.0), method_s)


def time_decimals(uncertainty_s: float) -> int:
    """Decimals of a time that its 95 % interval carries: 1 where that is below 0.5 s, else 0."""
    return 1 if 2.0 * uncertainty_s < 0.5 else 0
