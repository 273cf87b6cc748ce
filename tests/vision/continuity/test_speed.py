"""Changed speeds and rates, told from times and sizes of changes; quick motion is none."""

import numpy as np
import pytest

from vision.continuity.speed import (
    RateChange,
    Uneven,
    find_rate_changes,
    find_uneven,
    missing_stretches,
)
from vision.continuity.types import Finding


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


def at_rates(*parts: tuple[float, float]) -> np.ndarray:
    """Times of pictures at each rate for so many seconds."""
    steps = [np.full(round(rate_hz * length_s), 1.0 / rate_hz) for rate_hz, length_s in parts]
    return np.concatenate([[0.0], np.cumsum(np.concatenate(steps))])


def changes(*parts: tuple[float, float]) -> list[RateChange]:
    return find_rate_changes(at_rates(*parts))


@pytest.mark.parametrize(("slower", "count"), [(1.12, 0), (1.18, 1)])
def test_a_rate_that_changes_by_a_seventh_is_told(slower: float, count: int) -> None:
    found = changes((30.0, 3.0), (30.0 / slower, 3.0))
    assert len(found) == count
    assert all(one.time_s == pytest.approx(3.0, abs=0.04) for one in found)


@pytest.mark.parametrize(("lasts_s", "count"), [(0.4, 0), (1.2, 1)])
def test_it_has_to_last_for_a_second(lasts_s: float, count: int) -> None:
    after = [] if lasts_s > 1.0 else [(30.0, 3.0)]
    assert len(changes((30.0, 1.2), (20.0, lasts_s), *after)) == count


@pytest.mark.parametrize(
    ("rates_hz", "is_of_a_camera"),
    [((30, 24), True), ((60, 24), True), ((25, 12.5), True), ((30, 20), False), ((30, 26), False)],
)
def test_rates_that_phones_go_between_by_themselves_are_known(
    rates_hz: tuple[float, float], *, is_of_a_camera: bool
) -> None:
    for first, second in (rates_hz, rates_hz[::-1]):
        (found,) = changes((first, 3.0), (second, 3.0))
        assert found.of_a_camera == is_of_a_camera


@pytest.mark.parametrize(("odd", "is_of_a_camera"), [(0.08, True), (0.13, False)])
def test_pictures_that_were_dropped_leave_whole_intervals(
    odd: float, *, is_of_a_camera: bool
) -> None:
    """Two of three pictures go; what stays is up to a tenth of an interval off its beat."""
    steps = np.concatenate([np.full(90, 1.0), np.tile([3.0, 3.0 + odd, 3.0 - odd], 15)]) / 30.0
    (found,) = find_rate_changes(np.concatenate([[0.0], np.cumsum(steps)]))
    assert found.before_hz == pytest.approx(30.0)
    assert found.of_a_camera == is_of_a_camera


def uneven(leap: float, rate_hz: float = 30.0, level: float = 10.0) -> list[Uneven]:
    """Find what a film stutters in whose every fifth step is so many times as large as others."""
    time_s = at_rates((rate_hz, 6.0))
    change = np.full(len(time_s), level)
    change[::5] *= leap
    return find_uneven(time_s, change)


def test_a_stutter_of_0_14_at_30_hz_is_told_and_grows_with_the_square_of_the_interval() -> None:
    """Means of bends, worked out by hand: 0.11 for leaps of 1.4, 0.17 for 1.7, 0.38 for 3."""
    assert uneven(1.4) == []
    (found,) = uneven(1.7)
    assert found.throughout
    assert found.roughness == pytest.approx(0.17, abs=0.01)
    assert uneven(1.7, rate_hz=24.0) == []
    assert uneven(3.0, rate_hz=24.0)


def test_below_20_pictures_a_second_motion_itself_is_uneven() -> None:
    assert uneven(4.0, rate_hz=21.0)
    assert uneven(4.0, rate_hz=19.0) == []


def test_where_little_moves_nothing_stutters() -> None:
    assert uneven(3.0, level=3.0)
    assert uneven(3.0, level=2.0) == []


def gap_of(gap_s: float, rate_hz: float = 30.0) -> list[Finding]:
    """Tell of a gap in the middle of a film that shows motion throughout."""
    half_s = np.arange(0.0, 3.0, 1.0 / rate_hz)
    time_s = np.concatenate((half_s, half_s[-1] + gap_s + half_s))
    return missing_stretches(time_s, time_s, np.full(len(time_s), 20.0))


@pytest.mark.parametrize(("gap_s", "found"), [(0.24, 0), (0.26, 1)])
def test_a_quarter_of_a_second_without_pictures_is_told(gap_s: float, found: int) -> None:
    assert len(gap_of(gap_s)) == found


@pytest.mark.parametrize(("gap_s", "found"), [(0.55, 0), (0.65, 1)])
def test_of_ten_pictures_a_second_five_in_a_row_may_be_missing(gap_s: float, found: int) -> None:
    assert len(gap_of(gap_s, rate_hz=10.0)) == found


@pytest.mark.parametrize(("gap_s", "breaks"), [(0.45, False), (0.55, True)])
def test_half_a_second_without_pictures_in_mid_motion_breaks_a_film(
    gap_s: float, breaks: bool
) -> None:
    (gap,) = gap_of(gap_s)
    assert gap.breaks == breaks
