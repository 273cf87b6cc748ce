"""The symmetric body and the camera, by hand-made cases."""

import numpy as np
import pytest
from synthetic.symmetric import place_points, project

from counting.body.skeleton import (
    GLOBALS,
    LIMBS,
    PER_FRAME,
    POINTS,
    SHIFT,
    WIDTHS,
    G,
    J,
    Proportions,
    limb_lengths,
)

CENTRE = np.array([360.0, 640.0])


def shared_unknowns(**values):
    shared = np.zeros(len(GLOBALS))
    shared[G["log_distance"]] = np.log(4.0)
    shared[G["height"]] = 1.0
    shared[G["log_focal"]] = np.log(1000.0)
    for name, value in values.items():
        shared[G[name]] = value
    return shared


def test_the_camera_axis_meets_the_middle_of_the_picture():
    ahead = np.array([[0.0, 0.0, 1.0]])
    assert project(ahead, shared_unknowns(), CENTRE) == pytest.approx(CENTRE[None])


def test_a_metre_at_four_metres_is_a_quarter_of_the_focal_length():
    above = np.array([[0.0, 0.0, 2.0]])
    assert project(above, shared_unknowns(), CENTRE)[0] == pytest.approx([360.0, 640.0 - 250.0])


def test_a_camera_tilted_down_sees_the_level_point_higher():
    level = np.array([[0.0, 0.0, 1.0]])
    tilted = project(level, shared_unknowns(tilt=np.radians(10)), CENTRE)[0]
    assert tilted == pytest.approx([360.0, 640.0 - 1000 * np.tan(np.radians(10))])


def test_a_camera_panned_right_sees_the_athlete_left():
    assert project(np.array([[0.0, 0.0, 1.0]]), shared_unknowns(pan=0.1), CENTRE)[0, 0] < 360


def test_a_camera_rolled_clockwise_turns_the_picture_anticlockwise():
    """The camera's right then points down, so a point to the right appears higher."""
    right = np.array([[1.0, 0.0, 1.0]])
    x, y = project(right, shared_unknowns(roll=np.radians(5)), CENTRE)[0]
    assert x > 360
    assert y < 640


def test_who_faces_the_camera_has_the_right_hand_on_the_pictures_left():
    frames = np.zeros((1, PER_FRAME))
    frames[0, WIDTHS] = 0.3
    picture = project(
        place_points(frames, shared_unknowns(), Proportions()), shared_unknowns(), CENTRE
    )
    right, left = POINTS.index(("wrist", "right")), POINTS.index(("wrist", "left"))
    assert picture[0, right, 0] < picture[0, left, 0]


def test_facing_the_pictures_right_forward_is_right():
    frames = np.zeros((1, PER_FRAME))
    frames[0, 2 * J["toe"]] = 0.25
    points = place_points(frames, shared_unknowns(yaw=np.pi / 2), Proportions())
    middle = points[0, [POINTS.index(("toe", "left")), POINTS.index(("toe", "right"))]].mean(axis=0)
    assert middle == pytest.approx([0.25, 0.0, 0.0], abs=1e-9)


def test_a_shift_moves_the_whole_body_to_its_right():
    frames = np.zeros((1, PER_FRAME))
    frames[0, SHIFT] = 0.2
    assert place_points(frames, shared_unknowns(), Proportions())[0, :, 0].mean() == pytest.approx(
        -0.2
    )


def test_limb_lengths_follow_published_proportions():
    """Thigh .245, shank .246, forearm .146 of stature: Drillis and Contini 1966 in Winter 2009."""
    lengths = dict(zip(LIMBS, limb_lengths(shared_unknowns(), Proportions()), strict=True))
    assert lengths["hip", "knee"] == pytest.approx(0.245)
    assert lengths["knee", "ankle"] == pytest.approx(0.246)
    assert lengths["elbow", "wrist"] == pytest.approx(0.146)
