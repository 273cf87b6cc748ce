"""The two strokes of a cycle: where they end, and when they truly began."""

import numpy as np
import pytest
from synthetic.script import minimum_jerk

from counting.reps.candidates import jitter, swings, typical
from counting.reps.strokes import onset_s, stroke_to_halt


def stroke(seconds: float, rate_hz: float = 60.0, rest_s: float = 1.0) -> np.ndarray:
    """From a turn at 1 down to the start at 0, then rest."""
    way = minimum_jerk(np.arange(0, seconds, 1 / rate_hz) / seconds)
    return np.concatenate([1 - way, np.zeros(int(rest_s * rate_hz))])


@pytest.mark.parametrize("seconds", [0.4, 0.8, 2.0, 4.0])
def test_the_foot_of_a_minimum_jerk_stroke_is_found_whatever_its_speed(seconds):
    # Flash and Hogan 1985: rest to rest in T follows 10 u^3 - 15 u^4 + 6 u^5.
    found = stroke_to_halt(stroke(seconds), 60.0, 0.5)
    assert found.halted
    assert found.onset_s == pytest.approx(seconds, abs=0.02 * seconds + 0.01)


def test_jitter_moves_the_onset_by_a_frame_or_two_not_more():
    rng = np.random.default_rng(1)
    errors = [
        onset_s(1 - (stroke(1.0, 30.0, 0.0) + rng.normal(0, 0.01, 30)), 30.0) - 1.0
        for _ in range(50)
    ]
    assert np.abs(errors).max() < 2 / 30


def test_a_sticking_point_is_not_the_end():
    down, hang, rest = stroke(0.6)[:36], np.full(30, 0.6), np.zeros(30)
    sticking = np.concatenate([0.6 + 0.4 * down, hang, 0.6 * down, rest])
    assert stroke_to_halt(sticking, 60.0, 0.5).halt_level == pytest.approx(0.0, abs=0.02)


def test_a_halt_ends_a_stroke_only_near_the_start_position():
    half_way = np.concatenate(
        [0.45 + 0.55 * stroke(0.6)[:36], np.full(40, 0.45), 0.45 * stroke(0.6)]
    )
    whole = stroke_to_halt(half_way, 60.0, 0.5, start_position=(0.0, 0.3))
    assert whole.halt_level == pytest.approx(0, abs=0.02)


def test_motion_that_runs_through_the_start_ends_as_it_passes():
    through = np.linspace(1.0, -3.0, 120)
    found = stroke_to_halt(through, 60.0, 0.5, start_position=(0.0, 0.2))
    assert not found.halted
    assert found.halt_level == pytest.approx(0.0, abs=0.05)


def test_the_largest_swing_is_measured_against_its_neighbours_not_the_drop_beside_it():
    hang = np.concatenate([stroke(0.5)[:30][::-1], stroke(0.5)[:30]])
    drop = np.full(60, -2.0)
    driver = np.concatenate([drop, hang, hang * 1.05, hang, drop])
    _, sizes = swings(driver, 60.0, 0.1)
    assert sizes == pytest.approx([1.0, 1.05, 1.0], abs=0.05)


def test_the_typical_swing_is_not_pulled_down_by_many_small_ones():
    assert typical(np.array([0.02] * 8 + [0.3, 0.31, 0.32])) == pytest.approx(0.31)
    assert typical(np.array([])) == 0.0


def test_jitter_is_what_a_body_is_too_heavy_for():
    time_s = np.arange(0, 20, 1 / 30)
    slow = np.sin(2 * np.pi * 0.4 * time_s)
    assert jitter(slow, 30.0) < 0.01
    assert jitter(slow + 0.1 * np.sin(2 * np.pi * 8 * time_s), 30.0) == pytest.approx(0.1, abs=0.02)


def test_a_wobble_too_small_for_a_repetition_makes_no_halves_of_a_top() -> None:
    """Two swings of 1, the first with a dip of 0.23 at its top: a pose misread for a moment."""
    corners = [(0, 0.0), (20, 1.0), (25, 0.77), (30, 1.0), (50, 0.0), (80, 1.0), (110, 0.0)]
    at, level = zip(*corners, strict=True)
    driver = np.interp(np.arange(111), at, level)
    driver[30] = 0.999
    sizes = swings(driver, 30.0, 0.05)[1]
    assert sizes.tolist() == pytest.approx([1.0, 0.229, 1.0], abs=0.01)
