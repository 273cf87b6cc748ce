"""Percentiles are the library's."""

import math

import numpy as np
import pytest

from counting.signals.percentiles import percentile


@pytest.mark.parametrize("count", [1, 2, 3, 10, 97, 1000])
@pytest.mark.parametrize("share", [0, 2, 10, 25, 33.3, 50, 75, 95, 100])
def test_percentiles_are_the_library_s_to_the_last_bit(count: int, share: float) -> None:
    values = np.random.default_rng(count).normal(size=count)
    before = values.copy()
    assert percentile(values, share) == np.percentile(values, share)
    assert np.array_equal(values, before)


def test_nothing_has_no_percentile() -> None:
    assert math.isnan(percentile(np.empty(0), 50))
