"""Stutter of a changed speed, told from motion that is merely quick."""

import numpy as np
import pytest

from vision.continuity.speed import find_uneven


def quick_motion(rate_hz):
    """Change from picture to picture of a body that goes down and up five times in two seconds."""
    time_s = np.arange(0.0, 20.0, 1.0 / rate_hz)
    return time_s, np.exp(2.5 + 1.3 * np.sin(2 * np.pi * 2.5 * time_s))


@pytest.mark.parametrize("rate_hz", [24.0, 25.0, 30.0, 60.0])
def test_quick_motion_is_no_stutter_at_any_frame_rate(rate_hz):
    assert find_uneven(*quick_motion(rate_hz)) == []


@pytest.mark.parametrize("rate_hz", [24.0, 30.0])
def test_every_fourth_picture_left_out_is(rate_hz):
    time_s, change = quick_motion(rate_hz)
    faster = change.copy()
    inside = (time_s > 6.0) & (time_s < 12.0)
    faster[np.flatnonzero(inside)[::4]] *= 4.0
    (found,) = find_uneven(time_s, faster)
    assert found.start_s == pytest.approx(6.0, abs=0.8)
    assert found.end_s == pytest.approx(12.0, abs=0.8)
    assert not found.throughout
