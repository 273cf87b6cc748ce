"""Filters that do not delay: against published coefficients and what their theory demands."""

import numpy as np
import pytest
from scipy import signal

from counting.signals.filtering import (
    DUAL_PASS_CORRECTION,
    butterworth,
    dual_pass,
    speed,
    without_spikes,
)


@pytest.mark.parametrize(
    ("rate_hz", "b", "a"),
    [
        # Second-order Butterworth at 6 Hz, single pass: computed from the definition (bilinear
        # transform with prewarping), as in Winter 2009, ch. 3.
        (30, (0.20657208, 0.41314417, 0.20657208), (1.0, -0.36952738, 0.19581571)),
        (60, (0.06745527, 0.13491055, 0.06745527), (1.0, -1.1429805, 0.4128016)),
        (100, (0.02785977, 0.05571953, 0.02785977), (1.0, -1.47548044, 0.58691951)),
    ],
)
def test_coefficients_are_the_published_ones(rate_hz, b, a):
    found_b, found_a = butterworth(6.0, rate_hz)
    assert found_b == pytest.approx(b, abs=5e-8)
    assert found_a == pytest.approx(a, abs=5e-8)


def test_two_passes_are_corrected_as_winter_does():
    # Winter 2009, ch. 3: C = (2^(1/2) - 1)^(1/4) = 0.802, so that 6 Hz is designed at 7.48 Hz.
    design_hz = 6.0 / DUAL_PASS_CORRECTION
    assert design_hz == pytest.approx(7.47903, abs=1e-5)


def test_at_the_cut_off_the_two_passes_together_halve_the_power():
    time_s = np.arange(0, 20, 0.01)
    kept = dual_pass(np.sin(2 * np.pi * 6.0 * time_s), 100.0)
    amplitude = np.ptp(kept[500:1500]) / 2
    assert amplitude == pytest.approx(2**-0.5, abs=0.005)


def test_slow_motion_passes_untouched_and_undelayed():
    time_s = np.arange(0, 10, 1 / 30)
    motion = np.cos(2 * np.pi * 0.5 * time_s)
    kept = dual_pass(motion, 30.0)
    assert kept[30:-30] == pytest.approx(motion[30:-30], abs=0.002)
    assert np.argmin(kept[15:45]) == np.argmin(motion[15:45])


@pytest.mark.parametrize("rate_hz", [24.0, 30.0, 60.0, 120.0])
def test_two_passes_are_those_of_scipy(rate_hz):
    values = np.random.default_rng(5).normal(size=200).cumsum()
    design = signal.butter(2, 6.0 / DUAL_PASS_CORRECTION, fs=rate_hz)
    expected = signal.filtfilt(*design, values)
    assert dual_pass(values, rate_hz) == pytest.approx(expected, abs=1e-11)


def test_the_shortest_stretch_that_is_filtered_is_filtered_as_scipy_does():
    values = np.random.default_rng(6).normal(size=10)
    design = signal.butter(2, 6.0 / DUAL_PASS_CORRECTION, fs=30.0)
    assert dual_pass(values, 30.0) == pytest.approx(signal.filtfilt(*design, values), abs=1e-12)


def test_every_stretch_between_gaps_is_filtered_by_itself():
    values = np.full(100, 2.0)
    values[40:60] = np.nan
    kept = dual_pass(values, 30.0)
    assert np.isnan(kept[40:60]).all()
    assert kept[:40] == pytest.approx(2.0)
    assert kept[60:] == pytest.approx(2.0)


def test_a_stretch_too_short_for_the_filter_comes_back_as_it_is():
    values = np.array([np.nan, 1.0, 5.0, 1.0, np.nan])
    assert dual_pass(values, 30.0)[1:4] == pytest.approx([1.0, 5.0, 1.0])


def test_speed_of_steady_motion_is_exact():
    assert speed(np.arange(10.0) * 0.5, 30.0) == pytest.approx(15.0)


def test_a_single_wild_sample_is_blanked_and_its_neighbours_are_not():
    values = np.linspace(0, 1, 30)
    values[12] = 9.0
    kept = without_spikes(values, 5, 0.2)
    assert np.flatnonzero(np.isnan(kept)).tolist() == [12]
