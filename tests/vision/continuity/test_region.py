"""Which pixels move, are new or go on as before: arithmetic of grey levels, worked out by hand."""

import numpy as np
import pytest

from vision.continuity.region import motion_goes_on, moving_parts, new_share, relit, still_share


def picture(level: float) -> np.ndarray:
    return np.full((100, 100), level, np.float32)


@pytest.mark.parametrize(("level", "moves"), [(4.8, False), (5.2, True)])
def test_what_changes_by_twice_the_usual_and_a_grey_level_moves(
    level: float, *, moves: bool
) -> None:
    difference = picture(2.0)
    difference[:10, :10] = level
    assert moving_parts([difference])[:10, :10].all() == moves


@pytest.mark.parametrize(("pixels", "moves"), [(20, False), (30, True)])
def test_less_than_a_four_hundredth_of_the_picture_is_noise(pixels: int, *, moves: bool) -> None:
    difference = picture(2.0)
    difference[50, :pixels] = 40.0
    assert moving_parts([difference]).any() == moves


@pytest.mark.parametrize(("level", "is_new"), [(33.0, False), (35.0, True)])
def test_new_is_what_changes_three_times_as_much_as_around_and_four_levels(
    level: float, *, is_new: bool
) -> None:
    assert new_share(picture(level), [picture(10.0), picture(3.0)]) == is_new


@pytest.mark.parametrize(("level", "share"), [(2.5, 1.0), (3.5, 0.5)])
def test_most_surprising_is_what_surprises_by_three_tenths_of_the_most(
    level: float, share: float
) -> None:
    surprise, moving = picture(0.0), np.zeros((100, 100), np.bool_)
    surprise[:10], surprise[10:20] = 10.0, level
    moving[10:20] = True
    assert still_share(surprise, [moving]) == pytest.approx(share)


@pytest.mark.parametrize(("alike", "goes_on"), [(0.38, False), (0.52, True)])
def test_motion_goes_on_where_both_sides_correlate_by_0_45(alike: float, *, goes_on: bool) -> None:
    before, other = picture(0.0), picture(0.0)
    before[20:40, 20:60], other[60:80, 20:60] = 30.0, 30.0
    after = alike * before + np.sqrt(1.0 - alike**2) * other
    assert motion_goes_on(before, after.astype(np.float32)) == goes_on


@pytest.mark.parametrize(("level", "goes_on"), [(1.1, False), (1.45, True)])
def test_motion_of_less_than_three_hundredths_of_a_grey_level_is_none(
    level: float, *, goes_on: bool
) -> None:
    """A twenty-fifth of the picture changes by 0.6 or 0.95 levels more than noise does."""
    faint = picture(0.0)
    faint[40:60, 40:60] = level
    assert motion_goes_on(faint, faint) == goes_on


@pytest.mark.parametrize(("contrast", "taken"), [(0.3, 0.5), (0.7, 0.7), (1.6, 1.6), (3.0, 2.0)])
def test_a_lamp_changes_contrast_by_no_more_than_two(contrast: float, taken: float) -> None:
    before = np.tile(np.linspace(90.0, 110.0, 101, dtype=np.float32), (101, 1))
    lit = relit(before, (60.0 + contrast * (before - 100.0)).astype(np.float32))
    assert lit == pytest.approx(60.0 + taken * (before - 100.0), abs=1e-3)
