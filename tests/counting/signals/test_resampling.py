"""Time is the film's own: any frame rate, gaps bridged only where they are short."""

import numpy as np
import pytest

from counting.signals.resampling import even_grid, median_rate_hz, resample, stretches


def test_a_steady_film_keeps_its_own_frame_times():
    time_s = 3.2 + np.arange(90) / 60
    assert even_grid(time_s) == pytest.approx(time_s)


def test_a_slow_film_is_laid_on_a_finer_grid():
    grid_s = even_grid(np.arange(0, 10, 0.2))
    assert np.diff(grid_s) == pytest.approx(1 / 30)
    assert grid_s[0] == 0.0
    assert grid_s[-1] <= 9.8 + 1e-9


def test_a_line_in_variable_time_stays_a_line():
    rng = np.random.default_rng(1)
    time_s = np.cumsum(rng.uniform(0.01, 0.06, 300))
    values, bridged = resample(time_s, 2 * time_s - 1, even_grid(time_s), 0.5)
    assert values == pytest.approx(2 * even_grid(time_s) - 1)
    assert not bridged.any()


def test_short_gaps_are_bridged_and_marked_long_ones_stay_open():
    time_s = np.arange(0, 6, 0.05)
    values = time_s.copy()
    values[(time_s > 1.0) & (time_s < 1.3)] = np.nan
    values[(time_s > 3.0) & (time_s < 4.5)] = np.nan
    carried, bridged = resample(time_s, values, time_s, 0.6)
    assert carried[time_s < 2.9] == pytest.approx(time_s[time_s < 2.9])
    assert bridged[(time_s > 1.02) & (time_s < 1.28)].all()
    assert np.isnan(carried[(time_s > 3.02) & (time_s < 4.48)]).all()


def test_nothing_is_made_up_outside_the_observations():
    time_s = np.arange(0, 2, 0.1)
    values = np.full(20, np.nan)
    values[5:15] = 1.0
    carried, _ = resample(time_s, values, time_s, 10.0)
    assert np.isfinite(carried).tolist() == np.isfinite(values).tolist()


def test_films_of_no_or_one_frame_are_no_trouble():
    assert even_grid(np.empty(0)).size == 0
    assert even_grid(np.array([2.0])).tolist() == [2.0]
    assert np.isnan(median_rate_hz(np.array([2.0])))


def test_stretches_are_the_runs_of_true():
    assert stretches(np.array([True, True, False, True])) == [(0, 2), (3, 4)]
    assert stretches(np.zeros(3, bool)) == []
