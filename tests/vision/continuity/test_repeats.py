"""Pictures that stand still in mid-motion, and stretches shown twice, at the limits."""

import numpy as np
import pytest

from vision.continuity.repeats import find_frozen, find_repeats

RATE_HZ = 30.0


def frozen(pictures: int = 12, still: float = 0.0, around: float = 10.0) -> list[tuple[int, int]]:
    """Find what stands still in a film that moves but for so many steps in its middle."""
    change = np.full(150, around)
    change[60 : 60 + pictures] = still
    return find_frozen(np.arange(150) / RATE_HZ, change)


@pytest.mark.parametrize(("pictures", "count"), [(6, 0), (9, 1)])
def test_a_quarter_of_a_second_of_one_picture_is_told(pictures: int, count: int) -> None:
    assert frozen(pictures) == [(60, 60 + pictures - 1)] * count


@pytest.mark.parametrize(("around", "count"), [(2.0, 0), (3.0, 1)])
def test_only_in_motion(around: float, count: int) -> None:
    assert len(frozen(around=around)) == count


@pytest.mark.parametrize(
    ("still", "around", "count"),
    [(0.22, 10.0, 1), (0.3, 10.0, 0), (1.8, 100.0, 1), (2.4, 100.0, 0)],
)
def test_it_stands_still_below_a_quarter_of_a_grey_level_or_a_fiftieth_of_the_motion(
    still: float, around: float, count: int
) -> None:
    assert len(frozen(still=still, around=around)) == count


def test_the_motion_is_that_of_the_livelier_quarter() -> None:
    change = np.tile([4.0, 100.0], 75)
    change[61:73] = 1.8
    assert find_frozen(np.arange(150) / RATE_HZ, change) == [(61, 72)]


def signatures(pictures: int, off: float = 0.0) -> np.ndarray:
    """Make ten seconds of motion of which picture 200 on shows what 50 on did, for so long.

    The second time all are off by a share ``off`` of the energy of a step of the motion.
    """
    random = np.random.default_rng(3)
    steps = random.normal(0.0, 300.0, (300, 32))
    steps[::10] = random.normal(0.0, 5.0, (30, 32))  # pictures that stand still show the noise
    rows = np.cumsum(steps, axis=0) * 0.5
    noise = random.normal(0.0, 1.0, (pictures, 32))
    energy = float(np.mean(np.sum(np.diff(rows, axis=0) ** 2, axis=1)))
    noise *= np.sqrt(off * energy / 32.0)
    rows[200 : 200 + pictures] = rows[50 : 50 + pictures] + noise
    return np.rint(rows).astype(np.int16)


def shown_twice(pictures: int, off: float = 0.0) -> list[int]:
    """Find how far back stretches lie that were shown before."""
    found = find_repeats(np.arange(300) / RATE_HZ, signatures(pictures, off))
    return [one.lag for one in found]


@pytest.mark.parametrize(("pictures", "lags"), [(12, []), (24, [150])])
def test_half_a_second_shown_twice_is_told(pictures: int, lags: list[int]) -> None:
    assert shown_twice(pictures) == lags


@pytest.mark.parametrize(("off", "lags"), [(0.015, [150]), (0.06, [])])
def test_no_athlete_repeats_a_motion_to_a_thirtieth(off: float, lags: list[int]) -> None:
    assert shown_twice(40, off) == lags
