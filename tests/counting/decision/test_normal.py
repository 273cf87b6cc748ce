"""The one quantile that intervals are made of."""

import pytest
from scipy.stats import norm

from counting.decision.normal import NORMAL_95


def test_95_per_cent_of_normal_values_lie_within_it() -> None:
    assert norm.cdf(NORMAL_95) - norm.cdf(-NORMAL_95) == pytest.approx(0.95, abs=1e-4)
