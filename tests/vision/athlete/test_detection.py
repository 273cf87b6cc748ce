"""Looking for one person in a part of the picture."""

import numpy as np
import pytest

from tests.vision.athlete.people_in_pictures import joints
from vision.athlete.detection import EVEN_SCORE, found_near
from vision.pose.movenet import Person


class Finder:
    """Finds the people it was told of, and keeps what it was shown."""

    def __init__(self, *people: tuple[np.ndarray, float]) -> None:
        self._people = people
        self.shown: np.ndarray = np.empty(0)

    def find(self, picture: np.ndarray) -> list[Person]:
        self.shown = picture
        return [Person(score, places, np.full(17, 0.8)) for places, score in self._people]


def picture() -> np.ndarray:
    """Each pixel tells its place: x in red, y in green, in steps of four."""
    rows, columns = np.mgrid[:360, :640] // 4
    return np.stack([columns, rows, np.zeros_like(rows)], axis=2).astype(np.uint8)


def look(finder: Finder, expected: np.ndarray, side_px: float = 200.0) -> np.ndarray:
    return found_near(finder, picture(), expected, side_px)  # type: ignore[arg-type]


def test_who_is_found_in_the_part_is_given_where_they_are_in_the_picture() -> None:
    expected = joints(300.0, 250.0, stature_px=100.0)
    low = np.floor((expected.min(axis=0) + expected.max(axis=0)) / 2 - 100.0)
    there = joints(310.0, 250.0, stature_px=110.0)
    finder = Finder((there - low, 0.8))
    assert look(finder, expected) == pytest.approx(there)
    assert finder.shown.shape[:2] == pytest.approx((200, 200), abs=1)
    assert finder.shown[0, 0, :2] == pytest.approx(low // 4)


def test_at_the_edge_only_what_the_picture_has_is_looked_at() -> None:
    finder = Finder()
    look(finder, joints(20.0, stature_px=100.0))
    assert finder.shown.shape[1] < 200


def test_the_nearest_counts_and_only_who_is_likelier_somebody_than_nobody() -> None:
    expected = joints(300.0, 250.0, stature_px=100.0)
    low = np.floor((expected.min(axis=0) + expected.max(axis=0)) / 2 - 100.0)
    near, far = joints(305.0, 250.0, stature_px=100.0), joints(340.0, 250.0, stature_px=100.0)
    finder = Finder((far - low, 0.9), (near - low, 0.5))
    assert look(finder, expected) == pytest.approx(near)
    unsure = Finder((far - low, 0.9), (near - low, EVEN_SCORE - 0.01))
    assert look(unsure, expected) == pytest.approx(far)


def test_where_nobody_is_found_the_athlete_is_where_expected() -> None:
    expected = joints(300.0, 250.0, stature_px=100.0)
    assert look(Finder(), expected) is expected
