"""How reps slow: slightly at first, steeply near the limit, and later in some than in others."""

from dataclasses import replace

import numpy as np
import pytest

from counting.pacing.model.exertion import cycle_time_s, fresh, levels_of, work_of
from tests.counting.pacing.athletes import usual_athlete


def slower(power: float, missing_share: float) -> float:
    """Share by which a rep is slower than fresh, with so much of its muscles missing."""
    athlete = usual_athlete(("push-up",), "linear")
    athlete = replace(athlete, slow_power=np.array([power]))
    work = work_of(athlete, "push-up")
    missing, _ = fresh(athlete)
    fresh_s = cycle_time_s(work, levels_of(missing), 1.0)
    missing[1, :-1] = missing_share
    return float((cycle_time_s(work, levels_of(missing), 1.0) / fresh_s)[0]) - 1.0


@pytest.mark.parametrize("power", [1.0, 2.0, 3.5])
def test_slowing_grows_to_the_same_whatever_its_power(power):
    assert slower(power, 0.0) == 0.0
    assert slower(power, 1.0) == pytest.approx(slower(2.0, 1.0))
    halves = [slower(power, share) for share in (0.25, 0.5, 0.75)]
    assert halves == sorted(halves)


def test_the_later_slowing_comes_the_less_of_it_shows_half_way():
    assert slower(3.0, 0.5) == pytest.approx(0.5 * slower(2.0, 0.5))
    assert slower(1.0, 0.5) == pytest.approx(2.0 * slower(2.0, 0.5))
