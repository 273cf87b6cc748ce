"""Joints compared with the truth, on tracks whose errors are known exactly."""

import numpy as np
import pytest

from counting.lab.joints import compared, report
from vision.pose.landmarks import LANDMARK_COUNT
from vision.pose.movenet import JOINTS
from vision.track import PoseTrack

STATURE = 200.0
TIME_S = np.arange(40) / 20
TRUE = np.tile(
    np.stack([np.linspace(0.0, 40.0, 17), np.linspace(0.0, STATURE, 17)], axis=1), (40, 1, 1)
)


def track_of(joints_px: np.ndarray, spread_px: float = 2.0) -> PoseTrack:
    track = PoseTrack.unobserved(TIME_S, 640, 360)
    track.image_px[:] = 0.0
    track.image_px[:, list(JOINTS)] = joints_px
    track.covariance_px2[:] = spread_px**2 * np.eye(2)
    track.world_m[:] = 0.0
    track.identity[:] = 0
    assert track.image_px.shape[1] == LANDMARK_COUNT
    return track


def joints(found: np.ndarray, **more: float):
    return compared(track_of(found, **more), TIME_S, TRUE, [(0.5, 1.45)], "front")


def test_a_true_track_has_no_errors() -> None:
    film = joints(TRUE)
    assert (film.gross, film.median, film.inside, film.followed) == (0.0, 0.0, 1.0, 1.0)


def test_errors_outside_reps_do_not_count() -> None:
    found = TRUE.copy()
    found[:10] += 100.0
    found[30:] += 100.0
    assert joints(found).gross == 0.0


def test_one_joint_of_twelve_in_half_the_frames_is_four_in_a_hundred() -> None:
    found = TRUE.copy()
    found[10:20, 9, 0] += 60.0
    film = joints(found)
    assert film.gross == pytest.approx(1 / 24)
    assert film.inside == pytest.approx(23 / 24)
    assert film.followed == 1.0


def test_a_body_read_elsewhere_is_somebody_else() -> None:
    found = TRUE.copy()
    found[10:15] += 80.0
    assert joints(found).followed == pytest.approx(0.75)


def test_frames_without_a_body_are_not_followed() -> None:
    found = TRUE.copy()
    found[10:15] = np.nan
    film = joints(found)
    assert film.followed == pytest.approx(0.75)
    assert film.gross == 0.0


def test_the_report_has_a_line_a_view() -> None:
    lines = report([joints(TRUE)]).splitlines()
    assert len(lines) == 2
    assert lines[1].split()[:2] == ["front", "1"]
