"""Where the clock starts, and how sure a time is."""

import pytest

from counting.workout.clock import ClockError, clock_zero, event_uncertainty_s, time_decimals
from counting.workout.countdown import StartSignal

SIGNAL = StartSignal(
    time_s=3.2,
    uncertainty_s=0.004,
    confidence=0.93,
    short_tones=3,
    short_pitch_hz=440.4,
    long_pitch_hz=880.6,
)


@pytest.mark.parametrize("by_hand_s", [12.3, 0.0])
def test_what_was_given_by_hand_goes_before_everything_heard_or_seen(by_hand_s: float) -> None:
    zero = clock_zero(by_hand_s, SIGNAL, 4.0)
    assert (zero.time_s, zero.source, zero.confidence) == (by_hand_s, "given by hand", 1.0)
    # half a tenth of a second, as typed
    assert zero.uncertainty_s == 0.05


def test_a_start_signal_goes_before_the_first_movement_and_brings_its_own_uncertainty() -> None:
    zero = clock_zero(None, SIGNAL, 4.0)
    assert (zero.time_s, zero.uncertainty_s, zero.confidence) == (3.2, 0.004, 0.93)
    assert zero.source == "start signal"
    assert zero.words == (
        "start signal in the sound: 3 short tones at 440 Hz, a longer one at 881 Hz"
    )


@pytest.mark.parametrize("first_s", [4.0, 0.0])
def test_the_first_movement_is_a_doubtful_start_and_says_what_to_do(first_s: float) -> None:
    zero = clock_zero(None, None, first_s)
    assert (zero.time_s, zero.source, zero.confidence) == (first_s, "first movement", 0.5)
    assert zero.uncertainty_s == 0.1
    assert "--start" in zero.words


def test_without_any_of_them_there_is_no_clock() -> None:
    with pytest.raises(ClockError, match="no movement was found"):
        clock_zero(None, None, None)


@pytest.mark.parametrize(
    ("interval_s", "method_s", "expected_s"),
    [
        # a uniform error over one frame of 1/30 s: 0.033333 / 3.464102
        (1 / 30, 0.0, 0.0096225),
        (0.0, 0.01, 0.01),
        # root of the sum of 0.0096225² and 0.01²
        (1 / 30, 0.01, 0.0138778),
    ],
)
def test_an_event_is_as_sure_as_its_frame_and_its_method(
    interval_s: float, method_s: float, expected_s: float
) -> None:
    assert event_uncertainty_s(interval_s, method_s) == pytest.approx(expected_s, abs=1e-7)


@pytest.mark.parametrize(
    ("uncertainty_s", "decimals"), [(0.0, 1), (0.05, 1), (0.2499, 1), (0.25, 0), (0.3, 0), (2.0, 0)]
)
def test_tenths_are_shown_where_the_95_percent_interval_is_below_half_a_second(
    uncertainty_s: float, decimals: int
) -> None:
    assert time_decimals(uncertainty_s) == decimals
