"""A body seen by two cameras: where its joints are, and where the second camera stands."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from synthetic.figure import Camera, landmarks
from synthetic.films import hanging, squat, standing
from synthetic.script import Script
from synthetic.world import STATURE_M, play_in_metres

from counting.body.cameras import as_seen, place, relative, unknown_count
from counting.body.motion import find_body
from counting.body.skeleton import GLOBALS, POINT_JOINT, G, J, camera_axes
from counting.body.views import view_at
from vision.pose.landmarks import Landmark

SECOND_DEG = -25.0
FIRST_DEG = 50.0


def squats():
    script = Script(standing())
    for _ in range(3):
        script.move(squat(1.0), 1.0).move(standing(), 1.0)
    return script


@pytest.fixture(scope="module")
def filmed():
    script = squats()
    first = play_in_metres(script, Camera(view_deg=FIRST_DEG), rate_hz=20.0, noise=0.003)
    second = play_in_metres(script, Camera(view_deg=SECOND_DEG), rate_hz=24.0, noise=0.003)
    return script, first, second


@pytest.fixture(scope="module")
def fitted(filmed):
    _, first, second = filmed
    rows = np.arange(first.frames)
    view = view_at(second, first.time_s)
    seen = rows[np.isfinite(view.picture_px[:, 0, 0])]
    return find_body(first, seen, "standing", others=(view,)).fitted(), seen


def test_the_second_camera_is_found_where_it_stands(fitted):
    motion, _ = fitted
    turned = np.degrees(motion.shared[place("yaw", 1)])
    assert abs(turned) == pytest.approx(FIRST_DEG - SECOND_DEG, abs=4.0)


def test_joints_are_nearer_to_the_truth_than_by_one_camera(filmed, fitted):
    script, first, _ = filmed
    motion, rows = fitted
    truth = landmarks(script.numbers_at(first.time_s)) * STATURE_M
    alone = find_body(first, rows, "standing").fitted()

    def miss_m(found):
        joints = ("hip", "shoulder", "knee", "ankle", "wrist")
        true = np.stack([truth[rows, Landmark[f"LEFT_{name}".upper()], 1:] for name in joints], 1)
        flat = np.stack([found.joint(name)[rows][:, [0, 2]] for name in joints], 1)
        apart = flat - true
        return np.linalg.norm(apart - apart.mean(axis=(0, 1)), axis=-1)

    assert np.median(miss_m(motion)) < 0.02
    assert np.median(miss_m(motion)) < np.median(miss_m(alone))


def test_joints_are_where_opencv_triangulates_the_landmarks(filmed, fitted):
    """Reference library: cv2.triangulatePoints with the cameras that were found."""
    _, first, second = filmed
    motion, rows = fitted
    view = view_at(second, first.time_s)
    at = rows[:: len(rows) // 8]
    left, right = Landmark.LEFT_KNEE, Landmark.RIGHT_KNEE
    point = [2 * J["knee"], 2 * J["knee"] + 1]
    pictures = (first.image_px[at][:, [left, right]], view.picture_px[at][:, point])
    cameras = []
    for camera, size in ((0, (first.width_px, first.height_px)), (1, None)):
        own = as_seen(motion.shared, camera)
        centre = np.array(size) / 2 if size else view.centre_px
        focal = np.exp(own[G["log_focal"]])
        inner = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1]])
        yaw = own[G["yaw"]]
        # columns: the body's forward, up and right as this camera's world has them
        body = np.array(
            [[np.sin(yaw), 0, -np.cos(yaw)], [-np.cos(yaw), 0, -np.sin(yaw)], [0, 1, 0]]
        )
        axes = camera_axes(own)
        stand = np.array([0, -np.exp(own[G["log_distance"]]), own[G["height"]]])
        cameras.append(inner @ np.column_stack([axes @ body, -axes @ stand]))
    flat = [points.reshape(-1, 2).T for points in pictures]
    there = cv2.triangulatePoints(cameras[0], cameras[1], flat[0], flat[1])
    knees = (there[:3] / there[3]).T.reshape(len(at), 2, 3).mean(axis=1)
    found = motion.joint("knee")[at][:, [0, 2]]
    assert np.linalg.norm(knees[:, :2] - found, axis=1).max() < 0.04


@pytest.mark.slow
def test_sides_told_the_wrong_way_round_in_one_picture_are_changed_over(filmed, fitted):
    _, first, second = filmed
    motion, rows = fitted
    wrong = view_at(second, first.time_s).mirrored()
    again = find_body(first, rows, "standing", others=(wrong,)).fitted()
    assert again.shared == pytest.approx(motion.shared, abs=0.02)


def test_cameras_fitted_alone_are_put_together_and_taken_apart():
    rng = np.random.default_rng(1)
    first, second = rng.normal(size=(2, len(GLOBALS)))
    both = relative(first, [second])
    assert len(both) == unknown_count(2)
    own = as_seen(both, 1)
    assert np.cos(own[G["yaw"]]) == pytest.approx(np.cos(second[G["yaw"]]))
    assert own[G["height"]] == second[G["height"]]
    assert own[G["log_stature"]] == first[G["log_stature"]]


def test_outside_its_film_a_second_camera_saw_nothing(filmed):
    _, first, second = filmed
    view = view_at(second, first.time_s + 1000.0)
    assert not view.weight.any()
    assert np.isnan(view.picture_px).all()


def test_hands_that_one_camera_guesses_do_not_spoil_what_the_other_sees_of_them(filmed):
    """A plate hides the hands from the second camera, whose network says so and guesses."""
    _, first, second = filmed
    view = view_at(second, first.time_s)
    rows = np.flatnonzero(np.isfinite(view.picture_px[:, 0, 0]))
    arms = np.isin(POINT_JOINT, [J["elbow"], J["wrist"]])
    guessed = replace(
        view,
        picture_px=view.picture_px + 120.0 * arms[:, None],
        weight=view.weight * np.where(arms, 0.15, 1.0),
    )
    found = find_body(first, rows, "standing", others=(guessed,)).fitted()
    alone = find_body(first, rows, "standing").fitted()
    for joint in ("elbow", "wrist"):
        assert np.median(found.joint_misfit[rows, J[joint]]) < 1.0
        apart = (found.joint(joint) - alone.joint(joint))[rows, 2]
        assert np.median(np.abs(apart - np.median(apart))) < 0.03


def test_hands_stay_where_they_hold_the_bar():
    script = Script(hanging())
    for _ in range(2):
        script.move(hanging(1.0), 1.0).move(hanging(), 1.0)
    first, second = (
        play_in_metres(script, Camera(view_deg=view), rate_hz=20.0, noise=0.003)
        for view in (FIRST_DEG, SECOND_DEG)
    )
    view = view_at(second, first.time_s)
    rows = np.flatnonzero(np.isfinite(view.picture_px[:, 0, 0]))
    wrists = np.isin(POINT_JOINT, [J["wrist"]])
    wander = np.random.default_rng(1).normal(0, 25.0, (first.frames, 1, 2))
    shaken = replace(view, picture_px=view.picture_px + wander * wrists[:, None])
    found = find_body(first, rows, "hanging", others=(shaken,)).fitted()
    assert np.std(found.joint("wrist")[rows, 1]) < 0.005
