"""Relative pose against cameras that are known, and against OpenCV's own functions."""

import cv2
import numpy as np
import numpy.typing as npt
import pytest

from vision.geometry.relative import relative_pose

FloatArray = npt.NDArray[np.float64]


def seen(points: FloatArray, rotation: FloatArray, translation: FloatArray) -> FloatArray:
    there = points @ rotation.T + translation
    return np.asarray(there[:, :2] / there[:, 2:])


def scene(noise: float = 0.0) -> tuple[FloatArray, ...]:
    rng = np.random.default_rng(1)
    points = rng.uniform([-0.5, -1.0, 4.0], [0.5, 1.0, 5.0], (400, 3))
    turn = cv2.Rodrigues(np.array([0.05, np.radians(70.0), -0.03]))[0]
    centre = np.array([4.5, 0.4, 3.0])
    translation = -turn @ centre
    first = seen(points, np.eye(3), np.zeros(3)) + rng.normal(0, noise, (400, 2))
    second = seen(points, turn, translation) + rng.normal(0, noise, (400, 2))
    return first, second, turn, translation, points


def test_the_pose_is_that_of_known_cameras() -> None:
    first, second, turn, translation, _ = scene()
    found = relative_pose(first, second, 0.002)
    assert found is not None
    assert found.rotation == pytest.approx(turn, abs=1e-4)
    assert found.translation == pytest.approx(translation / np.linalg.norm(translation), abs=1e-4)


def test_a_third_of_wrong_points_changes_little() -> None:
    first, second, turn, translation, _ = scene(noise=0.001)
    rng = np.random.default_rng(2)
    wrong = rng.choice(400, 133, replace=False)
    second[wrong] += rng.normal(0, 0.2, (133, 2))
    found = relative_pose(first, second, 0.004)
    assert found is not None
    apart = np.degrees(np.linalg.norm(cv2.Rodrigues(found.rotation @ turn.T)[0]))
    assert apart < 3.0
    assert found.translation @ translation / np.linalg.norm(translation) > 0.999


def test_points_triangulated_by_opencv_with_the_pose_are_where_they_were() -> None:
    """Reference library: cv2.triangulatePoints."""
    first, second, _, translation, points = scene()
    found = relative_pose(first, second, 0.002)
    assert found is not None
    one = np.eye(3, 4)
    other = np.column_stack([found.rotation, found.translation * np.linalg.norm(translation)])
    there = cv2.triangulatePoints(one, other, first.T, second.T)
    assert pytest.approx(points, abs=2e-3) == (there[:3] / there[3]).T


def test_the_essential_matrix_is_that_of_longuet_higgins() -> None:
    """Longuet-Higgins 1981 (Nature 293, 133): x2' E x1 = 0 with E = [t]x R."""
    first, second, _, _, _ = scene()
    found = relative_pose(first, second, 0.002)
    assert found is not None
    x, y, z = found.translation
    essential = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]]) @ found.rotation
    one, other = (np.column_stack([points, np.ones(400)]) for points in (first, second))
    assert np.einsum("ni,ij,nj->n", other, essential, one) == pytest.approx(np.zeros(400), abs=1e-4)


def test_too_few_points_tell_nothing() -> None:
    first, second, *_ = scene()
    first[15:] = np.nan
    assert relative_pose(first, second, 0.002) is None
