"""Features of quantities, against geometry worked out by hand."""

import numpy as np
import pytest
from synthetic.figure import Camera, landmarks
from synthetic.films import planked, squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.body.motion import find_body
from counting.movements.types import QUANTITY_UNITS
from counting.quantities.features import FEATURES
from counting.quantities.scene import inner_angle_deg, view_scene


@pytest.mark.parametrize(
    ("a", "c", "expected"),
    [
        ((1.0, 0.0), (0.0, 1.0), 90.0),
        ((1.0, 0.0), (-1.0, 0.0), 180.0),
        ((2.0, 0.0), (5.0, 0.0), 0.0),
        ((1.0, 0.0), (-1.0, 1.0), 135.0),
    ],
)
def test_inner_angle(a, c, expected):
    angle = inner_angle_deg(np.array([a]), np.zeros((1, 2)), np.array([c]))
    assert angle[0] == pytest.approx(expected)


def test_inner_angle_of_coinciding_points_is_no_error():
    assert np.isfinite(inner_angle_deg(np.zeros((1, 2)), np.zeros((1, 2)), np.ones((1, 2))))[0]


@pytest.mark.parametrize(
    ("true_deg", "view_off_deg", "seen_deg"),
    [
        (60, 45, 50.8),
        (90, 60, 90.0),
        (120, 45, 129.2),
        (150, 60, 163.9),
        (165, 30, 166.9),
        (165, 75, 176.0),
        (170, 15, 170.3),
    ],
)
def test_a_yawed_camera_makes_angles_look_straighter(true_deg, view_off_deg, seen_deg):
    """One limb upright, camera off the joint's plane: computed from theta' = atan2(sin cos, cos).

    A bent elbow looks straighter and a deep knee deeper: both err towards leniency, which is why
    angles in the picture are not judged as they are.
    """
    angle, off = np.radians(true_deg), np.radians(view_off_deg)
    upright = np.array([[0.0, 1.0]])
    limb = np.array([[np.sin(angle) * np.cos(off), np.cos(angle)]])
    assert inner_angle_deg(upright, np.zeros((1, 2)), limb)[0] == pytest.approx(seen_deg, abs=0.05)


@pytest.fixture(scope="module")
def squat_scene():
    script = Script(standing())
    script.hold(0.4).move(squat(), 0.8).hold(0.4).move(standing(), 0.8).hold(0.4)
    track = play_in_metres(script, Camera(view_deg=70.0), rate_hz=10.0)
    motion = find_body(track, np.arange(track.frames), "standing").fitted()
    return view_scene(track, motion, "standing"), landmarks(script.numbers_at(track.time_s))


def test_every_quantity_of_the_standards_has_features(squat_scene):
    scene, _ = squat_scene
    assert set(FEATURES) == set(QUANTITY_UNITS)
    for quantity, features in FEATURES.items():
        values = features(scene).values
        assert values.shape[0] == scene.motion.time_s.size, quantity
        assert values.ndim == 2
        # All frames are around reps here: none shows the quiet stance that two features of legs
        # need.
        known = np.isfinite(values).all(axis=0)
        assert known.sum() >= values.shape[1] - 2, quantity
        assert known.all() or quantity in ("knee angle", "hip angle"), quantity


def test_legs_are_read_against_those_of_the_same_body_standing_outside_its_reps():
    """Straight legs at the end read as in quiet stance, bent ones by as much less as they bend."""
    script = Script(standing())
    script.hold(2.0).move(squat(), 0.8).hold(0.4).move(standing(), 0.8).hold(2.0)
    track = play_in_metres(script, Camera(view_deg=80.0), rate_hz=10.0)
    rows = np.flatnonzero((track.time_s > 1.9) & (track.time_s < 4.2))
    scene = view_scene(track, find_body(track, rows, "standing").fitted(), "standing")
    picture, beyond = FEATURES["knee angle"](scene).values[:, [1, 7]].T
    assert np.isfinite(beyond[rows]).all()
    assert beyond[rows[-1]] == pytest.approx(0.0, abs=2.0)
    assert beyond[rows] - beyond[rows[-1]] == pytest.approx(
        picture[rows] - picture[rows[-1]], abs=0.01
    )
    assert beyond[rows].min() < -60.0


def test_depth_features_fall_and_rise_with_the_hip(squat_scene):
    scene, truth = squat_scene
    height = 100 * (truth[:, 23, 2] - truth[:, 25, 2]) * scene.motion.stature_m
    for feature in FEATURES["hip crease above knee top"](scene).values.T:
        assert np.corrcoef(feature, height)[0, 1] > 0.95


def test_knee_features_follow_the_knee(squat_scene):
    scene, truth = squat_scene
    true = inner_angle_deg(truth[:, 23], truth[:, 25], truth[:, 27])
    for feature in FEATURES["knee angle"](scene).values.T[:7]:
        assert np.corrcoef(feature, true)[0, 1] > 0.9


def test_shoulders_over_the_hands_tell_the_chest_from_the_floor():
    script = Script(planked())
    script.hold(0.3).move(planked(0.1), 0.8).hold(0.3).move(planked(), 0.8).hold(0.3)
    track = play_in_metres(script, Camera(view_deg=80.0, height=0.4), rate_hz=10.0)
    motion = find_body(track, np.arange(track.frames), "floor").fitted()
    features = FEATURES["chest above floor"](view_scene(track, motion, "floor")).values
    shoulder = landmarks(script.numbers_at(track.time_s))[:, 11, 2]
    for feature in features.T[:3]:
        assert np.corrcoef(feature, shoulder)[0, 1] > 0.95
