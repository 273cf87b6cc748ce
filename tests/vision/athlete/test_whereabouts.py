"""Where somebody must be between two detections, and when nothing is known."""

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import detection, joints, samples
from vision.athlete.tracking import Path
from vision.athlete.whereabouts import BEYOND_S, Whereabouts, is_somebody_else

FILM = samples([[detection(joints(100.0 + 10.0 * n))] for n in range(20)])


def of(places: list[int]) -> Whereabouts:
    people = tuple(FILM[place].people[0] for place in places)
    return Whereabouts(Path(tuple(places), people), FILM)


def x_px(there: np.ndarray | None) -> float:
    assert there is not None
    return float(there[[11, 12], 0].mean())


def test_between_two_detections_lies_the_line() -> None:
    assert x_px(of([0, 4]).at(0.2)) == pytest.approx(110.0)


def test_shortly_before_and_after_somebody_is_where_they_were_detected() -> None:
    assert x_px(of([5, 6]).at(1.2 + 0.9 * BEYOND_S)) == pytest.approx(160.0)
    assert of([5, 6]).at(1.2 + 1.1 * BEYOND_S) is None
    assert of([5, 6]).at(1.0 - 1.1 * BEYOND_S) is None


def test_across_a_long_absence_nothing_is_known() -> None:
    gone = of([0, 19])
    assert gone.at(1.9) is None
    assert x_px(gone.at(0.3)) == pytest.approx(100.0)
    assert x_px(gone.at(3.6)) == pytest.approx(290.0)


def test_nobody_is_nowhere() -> None:
    assert Whereabouts(None, FILM).at(0.0) is None
    assert np.isnan(Whereabouts(None, FILM).stature_px())


def test_only_times_of_detections_are_detected() -> None:
    assert of([0, 4]).detected_at(0.8)
    assert not of([0, 4]).detected_at(0.4)
    assert not Whereabouts(None, FILM).detected_at(0.0)


def test_stature_follows_from_legs_and_trunk() -> None:
    """By the proportions of Drillis and Contini 1966 in Winter 2009."""
    assert of([0, 1, 2]).stature_px() == pytest.approx(200.0, rel=0.02)


def test_a_reading_nearer_to_somebody_else_is_theirs() -> None:
    athlete, other = joints(300.0), joints(360.0)
    assert is_somebody_else(joints(355.0), athlete, [other])
    assert not is_somebody_else(joints(310.0), athlete, [other])
    assert not is_somebody_else(joints(355.0), athlete, [])
