"""Holes in the sound, at the limits that tell them from quiet."""

import numpy as np
import pytest

from vision.continuity.soundtrack import find_holes
from vision.sound.reading import Sound

RATE_HZ = 16_000


def holes(
    length_s: float = 0.1, at_s: float = 1.0, level: float = 0.0, around: float = 0.05
) -> list[tuple[float, float]]:
    """Find what is silent in three seconds of one loudness but for one stretch."""
    samples = np.full(3 * RATE_HZ, around, np.float32)
    samples[round(at_s * RATE_HZ) : round((at_s + length_s) * RATE_HZ)] = level
    return find_holes(Sound(samples, RATE_HZ, 10.0))


@pytest.mark.parametrize(("length_s", "count"), [(0.015, 0), (0.025, 1)])
def test_a_fiftieth_of_a_second_of_nothing_is_a_hole(length_s: float, count: int) -> None:
    found = holes(length_s)
    assert len(found) == count
    assert all(one == pytest.approx((11.0, 11.0 + length_s), abs=1e-4) for one in found)


@pytest.mark.parametrize(("level", "count"), [(8e-5, 1), (1.3e-4, 0)])
def test_digital_silence_is_below_three_steps_of_16_bits(level: float, count: int) -> None:
    assert len(holes(level=level)) == count


@pytest.mark.parametrize(("around", "count"), [(8e-4, 0), (1.2e-3, 1)])
def test_what_is_hardly_heard_has_no_holes(around: float, count: int) -> None:
    assert len(holes(around=around)) == count


@pytest.mark.parametrize(("at_s", "count"), [(0.2, 0), (0.3, 1)])
def test_a_quarter_of_a_second_before_it_has_to_be_heard(at_s: float, count: int) -> None:
    assert len(holes(at_s=at_s)) == count
