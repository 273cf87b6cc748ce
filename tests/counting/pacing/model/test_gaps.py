"""The shortest gap that an athlete can do, from the gaps of a film."""

import numpy as np
import pytest
from scipy.special import logsumexp

from counting.pacing.model.gaps import log_density_of_gaps, shortest_gap_draws


def drawn(gaps_s, usual_s=6.0, spread=0.45):
    return shortest_gap_draws(usual_s, spread, gaps_s, np.random.default_rng(0), 2000)


def test_the_density_of_a_gap_is_a_density():
    gaps_s = np.linspace(0.0, 200.0, 1_601)
    each = [log_density_of_gaps(np.array([5.0]), np.array([gap]))[0] for gap in gaps_s]
    # Eight habits of equal odds are summed, not averaged.
    assert np.exp(logsumexp(each)) * (gaps_s[1] - gaps_s[0]) == pytest.approx(8.0, abs=0.03)


def test_without_gaps_the_usual_one_is_believed():
    assert np.median(drawn(np.array([]))) == pytest.approx(6.0, rel=0.05)
    assert np.std(np.log(drawn(np.array([])))) == pytest.approx(0.45, abs=0.03)


@pytest.mark.parametrize("parts", [1, 2])
def test_the_shortest_gap_is_held_whether_some_gaps_or_none_are_that_short(parts):
    random = np.random.default_rng(parts)
    held = []
    for _ in range(60):
        shortest_s = 6.0 * np.exp(0.45 * random.standard_normal())
        extra_s = random.gamma(parts, 10.0 / parts, 7)
        low, high = np.quantile(drawn(shortest_s + extra_s), (0.1, 0.9))
        held.append(low <= shortest_s <= high)
    # 80 % of 60, within three standard errors.
    assert 0.64 <= np.mean(held) <= 0.96


def test_a_rest_before_going_on_may_be_part_of_every_gap():
    gaps_s = 6.0 + 5.0 + np.array([1.0, 4.0, 9.0, 20.0, 2.0, 6.0, 12.0])
    random = np.random.default_rng(0)
    plain, either = (
        np.median(shortest_gap_draws(6.0, 0.45, gaps_s, random, 2000, beside))
        for beside in ((0.0,), (0.0, 5.0))
    )
    assert abs(either - 6.0) < 0.5 * abs(plain - 6.0)


def test_gaps_that_agree_leave_little_doubt_about_the_shortest():
    near, far = (
        np.std(np.log(drawn(5.0 + np.array(extra))))
        for extra in ([0.1, 0.2, 0.4, 0.3, 0.1], [2.0, 9.0, 25.0])
    )
    assert near < 0.7 * far
