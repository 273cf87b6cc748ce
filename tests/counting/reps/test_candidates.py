"""Swings of a driver: the summits and prominences that SciPy finds."""

import numpy as np
import pytest
from scipy import signal

from counting.reps.candidates import LONGEST_CYCLE_S, swings
from vision.track import FloatArray


def driver(seed: int) -> FloatArray:
    """Give a wandering series; every third in coarse steps, so that its summits are flat."""
    rng = np.random.default_rng(seed)
    wander = rng.normal(size=rng.integers(3, 400)).cumsum()
    return np.round(wander) if seed % 3 == 0 else wander


@pytest.mark.parametrize("seed", range(30))
def test_turns_are_the_peaks_that_scipy_finds(seed: int) -> None:
    series = driver(seed)
    turns, sizes = swings(series, 30.0, 1.5)
    expected, found = signal.find_peaks(series, prominence=1.5)
    assert turns.tolist() == expected.tolist()
    assert (sizes <= found["prominences"]).all()


@pytest.mark.parametrize("seed", range(30))
def test_no_turn_is_held_against_what_came_longer_ago_than_a_rep_takes(seed: int) -> None:
    series = driver(seed)
    rate_hz = 10.0 / LONGEST_CYCLE_S
    expected, _ = signal.find_peaks(series, prominence=1.5, wlen=21)
    assert swings(series, rate_hz, 1.5)[0].tolist() == expected.tolist()


@pytest.mark.parametrize("series", [[], [1.0], [1.0, 1.0, 1.0], [0.0, 1.0, 2.0]])
def test_what_never_turns_has_no_swings(series: list[float]) -> None:
    turns, sizes = swings(np.array(series), 30.0, 0.1)
    assert not len(turns)
    assert not len(sizes)
