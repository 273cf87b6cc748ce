"""The start signal is found in noise, and nothing else is taken for one."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pytest

from counting.workout.clock import ClockError, clock_zero, time_decimals
from counting.workout.countdown import StartSignal, find_start_signal
from vision.sound.reading import Sound

RATE = 16_000
FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Countdown:
    at_s: float = 6.2
    short: int = 3
    beat_s: float = 1.0
    short_s: float = 0.15
    long_s: float = 0.7
    hz: float = 880.0
    last_hz: float = 880.0


def room(seed: int, length_s: float = 14.0, pink: bool = True) -> FloatArray:
    """Noise of unit power, pink down to 30 Hz or white, with a clang every six seconds."""
    rng = np.random.default_rng(seed)
    count = int(length_s * RATE)
    noise = rng.normal(0.0, 1.0, count)
    if pink:
        spectrum = np.fft.rfft(noise)
        spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(count, 1 / RATE), 30.0))
        noise = np.fft.irfft(spectrum, count)
        noise /= noise.std()
    clang_s = np.arange(RATE // 2) / RATE
    for _ in range(int(length_s // 6)):
        at = int(rng.integers(0, count - RATE))
        fade = np.exp(-clang_s * rng.uniform(6, 20))
        noise[at : at + len(clang_s)] += (
            4 * fade * np.sin(2 * np.pi * rng.uniform(300, 2500) * clang_s)
        )
    return noise


def with_countdown(noise: FloatArray, countdown: Countdown, ratio_db: float) -> Sound:
    """Add the tones with a power of ``ratio_db`` over the whole noise."""
    heard = noise.copy()
    amplitude = noise.std() * np.sqrt(2.0) * 10 ** (ratio_db / 20)
    for beat in range(-countdown.short, 1):
        length_s = countdown.long_s if beat == 0 else countdown.short_s
        hz = countdown.last_hz if beat == 0 else countdown.hz
        first = round((countdown.at_s + beat * countdown.beat_s) * RATE)
        tone_s = np.arange(int(length_s * RATE)) / RATE
        flank = np.clip(np.minimum(tone_s, length_s - tone_s) / 0.005, 0, 1)
        heard[first : first + len(tone_s)] += amplitude * np.sin(2 * np.pi * hz * tone_s) * flank
    return Sound((0.05 * heard).astype(np.float32), RATE, 0.0)


SHAPES = [
    Countdown(),
    Countdown(at_s=8.213, last_hz=1320.0),
    Countdown(short=2, hz=660.0, last_hz=1320.0, long_s=1.0),
    Countdown(short=4, beat_s=0.5, short_s=0.1, hz=1046.0, last_hz=1046.0),
    Countdown(short=5, hz=2500.0, last_hz=5000.0, short_s=0.2),
]


@pytest.mark.parametrize("countdown", SHAPES)
@pytest.mark.parametrize("pink", [True, False])
def test_the_start_is_found_within_0_03_s_in_noise_as_loud_as_the_tones(
    countdown: Countdown, pink: bool
) -> None:
    found = find_start_signal(with_countdown(room(7, pink=pink), countdown, 0.0))
    assert found is not None
    assert found.time_s == pytest.approx(countdown.at_s, abs=0.03)
    assert found.short_tones == countdown.short
    assert found.short_pitch_hz == pytest.approx(countdown.hz, abs=10.0)
    assert found.long_pitch_hz == pytest.approx(countdown.last_hz, abs=10.0)


@pytest.mark.slow
def test_the_stated_uncertainty_covers_the_error() -> None:
    scores = []
    for seed in range(12):
        found = find_start_signal(with_countdown(room(seed), Countdown(), -3.0))
        if found is not None:
            scores.append(abs(found.time_s - 6.2) / found.uncertainty_s)
    assert len(scores) >= 10
    assert np.mean(np.array(scores) <= 2.0) >= 0.8


def test_the_sound_tracks_own_start_time_is_kept() -> None:
    heard = with_countdown(room(1), Countdown(), 6.0)
    late = Sound(heard.samples, heard.rate_hz, 2.5)
    found = find_start_signal(late)
    assert found is not None
    assert found.time_s == pytest.approx(8.7, abs=0.02)


def test_the_first_of_two_countdowns_is_the_start() -> None:
    noise = room(2, 30.0)
    first = with_countdown(noise, Countdown(at_s=5.0), 6.0)
    second = with_countdown(np.asarray(first.samples, float) / 0.05, Countdown(at_s=22.0), 6.0)
    found = find_start_signal(second)
    assert found is not None
    assert found.time_s == pytest.approx(5.0, abs=0.03)


def melody(seed: int, length_s: float = 30.0) -> Sound:
    """Music on a steady beat that likes to repeat notes: a hard look-alike of a countdown."""
    rng = np.random.default_rng(seed)
    heard = 0.3 * room(seed, length_s)
    beat_s = 30.0 / rng.uniform(90, 170)
    scale_hz = 440.0 * 2 ** (np.array([0, 2, 3, 5, 7, 8, 10, 12]) / 12)
    note_hz = scale_hz[0]
    for step in range(int((length_s - 2.5) / beat_s)):
        if rng.random() < 0.25:
            continue
        if rng.random() < 0.55:
            note_hz = scale_hz[rng.integers(8)]
        length = beat_s * rng.choice([0.5, 0.9, 1.8, 3.5])
        tone_s = np.arange(int(length * RATE)) / RATE
        shape = np.clip(np.minimum(tone_s, length - tone_s) / 0.01, 0, 1)
        shape *= np.exp(-tone_s * rng.choice([0, 1, 3]))
        at = round(step * beat_s * RATE)
        for overtone in (1, 2, 3):
            heard[at : at + len(tone_s)] += (
                shape * np.sin(2 * np.pi * note_hz * overtone * tone_s) / overtone
            )
    return Sound((0.1 * heard).astype(np.float32), RATE, 0.0)


@pytest.mark.parametrize("seed", range(4))
def test_music_is_no_countdown(seed: int) -> None:
    assert find_start_signal(melody(seed)) is None


def test_clangs_are_no_countdown() -> None:
    noise = room(5, 40.0)
    for seed in range(6):
        noise += 0.5 * room(50 + seed, 40.0)
    assert find_start_signal(Sound((0.02 * noise).astype(np.float32), RATE, 0.0)) is None


def test_silence_and_a_lone_long_tone_are_no_countdown() -> None:
    assert find_start_signal(Sound(np.zeros(RATE * 5, np.float32), RATE, 0.0)) is None
    alone = with_countdown(room(4), Countdown(short=0), 10.0)
    assert find_start_signal(alone) is None


def test_tones_that_are_all_short_are_no_start() -> None:
    ticking = with_countdown(room(4), Countdown(short=4, long_s=0.15), 10.0)
    assert find_start_signal(ticking) is None


SIGNAL = StartSignal(5.0, 0.01, 0.97, 3, 880.0, 880.0)


def test_the_hand_goes_before_the_signal_and_the_signal_before_the_first_movement() -> None:
    assert clock_zero(4.0, SIGNAL, 7.0).source == "given by hand"
    assert clock_zero(None, SIGNAL, 7.0).source == "start signal"
    assert clock_zero(None, SIGNAL, 7.0).confidence == 0.97
    first = clock_zero(None, None, 7.0)
    assert (first.source, first.time_s) == ("first movement", 7.0)
    assert "--start" in first.words
    with pytest.raises(ClockError):
        clock_zero(None, None, None)


def test_no_digit_is_printed_that_the_uncertainty_does_not_carry() -> None:
    # At 30 frames a second one event is good to 9.6 ms (uniform quantisation, dt / sqrt 12), the
    # difference of two to 13.6 ms: hundredths would be false.
    from counting.workout.clock import event_uncertainty_s

    assert event_uncertainty_s(1 / 30, 0.0) == pytest.approx(0.0096, abs=0.0001)
    assert time_decimals(0.0136) == 1
    assert time_decimals(0.4) == 0


def test_a_long_row_of_short_tones_is_followed_back_only_so_far() -> None:
    metronome = with_countdown(room(6, 30.0), Countdown(at_s=25.0, short=24), 20.0)
    found = find_start_signal(metronome)
    assert found is not None
    assert found.time_s == pytest.approx(25.0, abs=0.03)
    assert found.short_tones == 20
