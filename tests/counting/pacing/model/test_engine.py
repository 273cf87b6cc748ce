"""Engine tests against worked points of the published equation."""

import numpy as np
import pytest

from counting.pacing.model.engine import (
    critical_power,
    share_of_usual_power,
    share_of_usual_row,
    share_of_usual_run,
)


def test_critical_power_returns_the_exact_athlete():
    # Monod and Scherrer 1965: work = reserve + critical power * time; 44, 68, 116, 164 kJ.
    time_s = np.array([120.0, 240.0, 480.0, 720.0])
    work_j = np.array([44e3, 68e3, 116e3, 164e3])
    power_w, reserve_j = critical_power(time_s, work_j / time_s)
    assert power_w == pytest.approx(200.0, rel=1e-9)
    assert reserve_j == pytest.approx(20_000.0, rel=1e-8)


def test_efforts_of_one_length_tell_nothing():
    with pytest.raises(ValueError, match="two different lengths"):
        critical_power(np.array([120.0, 120.0]), np.array([366.0, 360.0]))


def test_eight_times_the_power_rows_twice_as_fast():
    # Power against drag grows with the cube of speed.
    assert share_of_usual_row(225.0) / share_of_usual_row(450.0) == pytest.approx(8.0)


def test_the_usual_athlete_has_a_share_of_one():
    assert share_of_usual_row(450.0) == 1.0
    assert share_of_usual_run(1500.0) == 1.0
    assert share_of_usual_power(225.0, None) == pytest.approx(1.0)
    assert share_of_usual_power(225.0, 90.0) < 1.0
