"""Medians about some samples are those that SciPy finds about all."""

import numpy as np
import pytest
from scipy.ndimage import median_filter

from counting.signals.running import medians_about


@pytest.mark.parametrize("window", [1, 3, 5, 61])
@pytest.mark.parametrize("count", [1, 4, 200])
def test_medians_are_those_of_scipy(window: int, count: int) -> None:
    values = np.random.default_rng(count).normal(size=count)
    everywhere = median_filter(values, window, mode="nearest")
    samples = np.arange(0, count, 3)
    assert np.array_equal(medians_about(values, samples, window), everywhere[samples])


def test_no_sample_needs_no_median() -> None:
    assert not medians_about(np.ones(5), np.empty(0, dtype=np.int64), 3).size
