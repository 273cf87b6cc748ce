"""Offset and drift put into synthetic sound and motion are found again; strangers are refused."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from scipy.optimize import least_squares
from scipy.signal import correlate, correlation_lags, fftconvolve

from vision.pose.landmarks import LANDMARK_COUNT
from vision.sound.reading import SOUND_RATE_HZ, Sound
from vision.synchrony import fit
from vision.synchrony.fit import fit_clock
from vision.synchrony.lines import robust_line
from vision.synchrony.motion import RATE_HZ, Speeds, best_shift, speeds_of
from vision.synchrony.sound import sound_line
from vision.synchrony.types import SynchronyError
from vision.track import PoseTrack

FloatArray = npt.NDArray[np.float64]
RATE = SOUND_RATE_HZ


def room(seed: int, length_s: float) -> FloatArray:
    """Bursts of noise, as of plates and steps."""
    rng = np.random.default_rng(seed)
    sound = np.zeros(int(length_s * RATE))
    for _ in range(int(length_s * 1.2)):
        at, size = rng.integers(0, len(sound) - RATE // 2), int(RATE * rng.uniform(0.03, 0.4))
        fading = np.exp(-np.arange(size) / RATE / rng.uniform(0.01, 0.1))
        sound[at : at + size] += rng.normal(size=size) * fading * rng.uniform(0.05, 0.4)
    return sound


def heard(sound: FloatArray, seed: int, noise: float = 0.5) -> FloatArray:
    """Return the room as another microphone has it: echoes of its own, and noise."""
    rng = np.random.default_rng(seed)
    echo = np.zeros(RATE // 8)
    echo[0] = 1.0
    echo[rng.integers(60, len(echo), 40)] += rng.normal(0, 0.2, 40)
    there = fftconvolve(sound, echo)[: len(sound)]
    return np.asarray(there + rng.normal(0, noise * there.std(), len(there)))


def as_sound(samples: FloatArray, start_s: float = 0.0) -> Sound:
    return Sound(np.asarray(samples / 4, np.float32), RATE, start_s)


def film_two(sound: FloatArray, offset_s: float, drift_ppm: float, seed: int) -> Sound:
    """Hear the same from a film that starts later and whose clock drifts."""
    count = int(len(sound) - offset_s * RATE - 1)
    at = offset_s * RATE + np.arange(count) * (1 + drift_ppm * 1e-6)
    return as_sound(np.interp(at, np.arange(len(sound)), heard(sound, seed)))


@pytest.mark.parametrize(("offset_s", "drift_ppm"), [(7.77, -38.0)])
@pytest.mark.slow
def test_offset_and_drift_of_five_minutes_are_found(offset_s: float, drift_ppm: float) -> None:
    sound = room(1, 300.0)
    line = sound_line(as_sound(heard(sound, 2)), film_two(sound, offset_s, drift_ppm, 3))
    true_s = offset_s + drift_ppm * 1e-6 * line.middle_s
    assert line.level_s == pytest.approx(true_s, abs=0.001)
    assert line.slope * 1e6 == pytest.approx(drift_ppm, abs=10.0)


def test_times_at_which_sound_starts_count() -> None:
    sound = room(4, 20.0)
    first, second = as_sound(heard(sound, 5), 1.5), as_sound(heard(sound, 6), 0.25)
    assert sound_line(first, second).level_s == pytest.approx(1.25, abs=0.001)


def test_the_lag_is_that_of_scipys_plain_correlation_where_sound_is_clean() -> None:
    """Reference library: scipy.signal.correlate and correlation_lags."""
    one = np.random.default_rng(7).normal(size=10 * RATE)
    other = one[1234:]
    lags = correlation_lags(len(one), len(other))
    plain = lags[np.argmax(correlate(one, other, method="fft"))] / RATE
    found = sound_line(as_sound(one), as_sound(other))
    assert found.level_s == pytest.approx(plain, abs=0.5 / RATE)


@pytest.mark.slow
def test_sounds_of_different_rooms_are_refused() -> None:
    for seed in range(3):
        one, other = room(20 + seed, 40.0), room(40 + seed, 40.0)
        with pytest.raises(SynchronyError, match="do not belong together"):
            sound_line(as_sound(heard(one, 1)), as_sound(heard(other, 2)))


def test_a_line_is_least_squares_where_nothing_is_wrong_and_wrong_lags_do_not_move_it() -> None:
    """Reference library: numpy.polyfit."""
    rng = np.random.default_rng(8)
    time_s = np.linspace(0, 600, 200)
    lag_s = 0.2 + 30e-6 * time_s + rng.normal(0, 1e-4, 200)
    slope, level = np.polyfit(time_s, lag_s, 1)
    clean = robust_line(time_s, lag_s, 1e-4)
    assert clean.slope == pytest.approx(slope, abs=2e-7)
    assert clean.at(np.zeros(1))[0] == pytest.approx(level, abs=5e-5)
    wrong = lag_s.copy()
    wrong[::7] += rng.uniform(0.01, 0.08, len(wrong[::7]))
    assert robust_line(time_s, wrong, 1e-4).slope == pytest.approx(30e-6, abs=1e-6)


def moving(height: FloatArray, time_s: FloatArray, scale: float) -> PoseTrack:
    """Make a track whose landmarks all go up and down together."""
    track = PoseTrack.unobserved(time_s, 720, 1280)
    image = np.full((len(time_s), LANDMARK_COUNT, 2), 300.0)
    image[..., 1] += scale * height[:, None]
    return replace(track, image_px=image, visibility=np.ones((len(time_s), LANDMARK_COUNT)))


def wander(seed: int) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(seed)
    time_s = np.arange(0, 40, 0.01)
    speed = np.convolve(rng.normal(size=len(time_s)), np.hanning(60), "same")
    return time_s, np.cumsum(speed - speed.mean()) * 0.01


@pytest.mark.parametrize(("length_s", "is_enough"), [(2.9, False), (3.1, True)])
def test_three_seconds_of_sound_are_needed(length_s: float, is_enough: bool) -> None:
    sound = as_sound(np.random.default_rng(15).normal(size=int(length_s * RATE)))
    if is_enough:
        assert sound_line(sound, sound).level_s == pytest.approx(0.0, abs=1e-4)
        return
    with pytest.raises(SynchronyError, match=r"2\.9 s long, too short"):
        sound_line(sound, sound)


@pytest.mark.parametrize(("length_s", "is_enough"), [(1.9, False), (2.1, True)])
def test_two_seconds_in_which_both_films_show_the_body_are_needed(
    length_s: float, is_enough: bool
) -> None:
    first = Speeds(0.0, np.random.default_rng(16).normal(size=(1000, 7)))
    time_s = 3.0 + np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    found = best_shift(first, time_s, first.at(time_s))
    assert (found is not None) == is_enough


@pytest.mark.parametrize(("gap_s", "is_told"), [(0.3, True), (0.4, False)])
def test_over_a_gap_of_more_than_a_third_of_a_second_no_speed_is_told(
    gap_s: float, is_told: bool
) -> None:
    before_s = np.arange(0.0, 2.0, 0.04)
    time_s = np.concatenate((before_s, before_s[-1] + gap_s + before_s))
    heights = np.sin(time_s)[:, None] * np.ones(7)
    speeds = speeds_of(time_s, heights)
    middle = round((before_s[-1] + gap_s / 2) * RATE_HZ)
    assert np.isfinite(speeds.values[middle]).all() == is_told


def test_a_lag_two_standard_errors_off_weighs_half() -> None:
    """Reference library: scipy.optimize.least_squares with a Cauchy loss of scale 2."""
    rng = np.random.default_rng(14)
    lags = np.concatenate((rng.normal(0.0, 0.3, 9), [1.5, 2.5, 5.0]))
    level = least_squares(lambda level: lags - level, 0.0, loss="cauchy", f_scale=2.0, xtol=1e-12)
    found = robust_line(np.zeros(len(lags)), lags, error_s=1.0)
    assert found.level_s == pytest.approx(level.x[0], abs=1e-5)
    assert abs(found.level_s - lags.mean()) > 0.1


def test_motion_alone_finds_the_offset() -> None:
    time_s, height = wander(9)
    one = np.arange(0, 40, 1 / 30)
    other = np.arange(0, 36, 1 / 24)
    tracks = (
        moving(np.interp(one, time_s, height), one, 90.0),
        moving(np.interp(other + 2.345, time_s, height), other, 60.0),
    )
    clock = fit_clock(tracks, (None, None))
    assert clock.offset_s == pytest.approx(2.345, abs=0.008)
    assert clock.told_by == "motion"


def test_even_reps_alone_tell_no_offset() -> None:
    time_s = np.arange(0, 40, 1 / 30)
    even = moving(np.sin(2 * np.pi * time_s / 2.5), time_s, 80.0)
    with pytest.raises(SynchronyError, match="more than one shift"):
        fit_clock((even, even), (None, None))


@pytest.mark.parametrize(("apart", "is_told"), [(0.04, False), (0.06, True)])
def test_one_shift_has_to_stand_out_by_0_05(
    apart: float, is_told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    time_s, height = wander(9)
    one_s = np.arange(0, 40, 1 / 30)
    track = moving(np.interp(one_s, time_s, height), one_s, 90.0)
    monkeypatch.setattr(fit, "widest_search", lambda *_speeds: (0.0, 0.9, 0.9 - apart))
    if is_told:
        assert fit_clock((track, track), (None, None)).told_by == "motion"
        return
    with pytest.raises(SynchronyError, match="more than one shift"):
        fit_clock((track, track), (None, None))


def test_how_far_networks_lag_in_one_view_is_four_milliseconds_of_the_error() -> None:
    """The same motion twice: pieces of the film agree, so that nothing else is left."""
    time_s, height = wander(9)
    one_s = np.arange(0, 40, 1 / 30)
    track = moving(np.interp(one_s, time_s, height), one_s, 90.0)
    assert fit_clock((track, track), (None, None)).offset_u_s == pytest.approx(0.004, rel=0.1)


def test_two_athletes_in_one_room_are_refused() -> None:
    sound = room(10, 40.0)
    one_s = np.arange(0, 40, 1 / 30)
    tracks = []
    for seed in (11, 12):
        time_s, height = wander(seed)
        tracks.append(moving(np.interp(one_s, time_s, height), one_s, 90.0))
    with pytest.raises(SynchronyError, match="do not move alike"):
        fit_clock(
            (tracks[0], tracks[1]), (as_sound(heard(sound, 1)), film_two(sound, 0.5, 10.0, 2))
        )
