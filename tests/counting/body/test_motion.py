"""Fitting body and camera to films of a figure whose every joint is known."""

from dataclasses import fields, replace

import numpy as np
import pytest
from synthetic.figure import Camera, landmarks
from synthetic.films import racked, squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.body.motion import BodyFitError, find_body
from vision.pose.landmarks import Landmark


def squats(camera, noise=0.003):
    script = Script(standing())
    script.hold(0.4)
    for depth in (1.0, 0.85):
        script.move(squat(depth), 0.8).hold(0.2).move(standing(), 0.8).hold(0.3)
    track = play_in_metres(script, camera, rate_hz=10.0, noise=noise)
    truth = landmarks(script.numbers_at(track.time_s))
    return track, truth


def hip_over_knee(truth):
    return truth[:, Landmark.LEFT_HIP, 2] - truth[:, Landmark.LEFT_KNEE, 2]


@pytest.mark.parametrize("view_deg", [0.0, 25.0, 50.0, 90.0])
def test_the_view_is_found(view_deg):
    track, _ = squats(Camera(view_deg=view_deg))
    motion = find_body(track, np.arange(track.frames), "standing").fitted()
    assert motion.view_deg == pytest.approx(view_deg, abs=6.0)


@pytest.mark.parametrize("view_deg", [0.0, 45.0, 90.0])
def test_height_of_the_hip_over_the_knee_is_read_through_perspective(view_deg):
    """From the front a thigh points at the lens; a plain picture reads its slope wrongly."""
    track, truth = squats(Camera(view_deg=view_deg, height=0.85))
    motion = find_body(track, np.arange(track.frames), "standing").fitted()
    fitted = (motion.joint("hip") - motion.joint("knee"))[:, 2] / motion.stature_m
    error = fitted - hip_over_knee(truth)
    assert np.sqrt(np.mean(error**2)) < 0.02


def test_from_the_front_the_fit_beats_the_plain_picture():
    camera = Camera(view_deg=0.0, height=0.9)
    track, truth = squats(camera, noise=0.0)
    motion = find_body(track, np.arange(track.frames), "standing").fitted()
    deep = hip_over_knee(truth) < 0.08
    picture = track.image_px[:, [Landmark.LEFT_KNEE, Landmark.LEFT_HIP], 1]
    plain = (picture[:, 0] - picture[:, 1]) * camera.distance / camera.focal_px
    fitted = (motion.joint("hip") - motion.joint("knee"))[:, 2] / motion.stature_m
    true = hip_over_knee(truth)
    assert np.abs(fitted - true)[deep].mean() < 0.6 * np.abs(plain - true)[deep].mean()


def test_hidden_landmarks_are_replaced_by_the_other_side():
    track, truth = squats(Camera(view_deg=80.0), noise=0.0)
    image, visibility = track.image_px.copy(), track.visibility.copy()
    far = [landmark for landmark in Landmark if landmark.name.startswith("LEFT")]
    image[:, far] += 60.0
    visibility[:, far] = 0.02
    motion = find_body(
        replace(track, image_px=image, visibility=visibility), np.arange(track.frames), "standing"
    ).fitted()
    fitted = (motion.joint("hip") - motion.joint("knee"))[:, 2] / motion.stature_m
    assert np.sqrt(np.mean((fitted - hip_over_knee(truth)) ** 2)) < 0.035


def test_frames_with_a_wild_pose_do_not_bend_the_others():
    track, truth = squats(Camera(view_deg=30.0), noise=0.001)
    image = track.image_px.copy()
    wild = np.arange(5, track.frames, 9)
    image[wild] = np.random.default_rng(1).uniform(100, 600, image[wild].shape)
    motion = find_body(replace(track, image_px=image), np.arange(track.frames), "standing").fitted()
    kept = np.setdiff1d(np.arange(track.frames), np.concatenate([wild - 1, wild, wild + 1]))
    fitted = (motion.joint("hip") - motion.joint("knee"))[:, 2] / motion.stature_m
    error = (fitted - hip_over_knee(truth))[kept]
    assert np.median(np.abs(error)) < 0.02
    assert np.median(motion.misfit[wild]) > 3 * np.median(motion.misfit[kept])


def test_rows_not_asked_for_stay_empty():
    track, _ = squats(Camera())
    rows = np.arange(10, 30)
    motion = find_body(track, rows, "standing").fitted()
    assert np.isfinite(motion.joints_m[rows]).all()
    assert np.isnan(motion.joints_m[:10]).all()
    assert np.isnan(motion.misfit[30:]).all()


def test_an_athlete_hardly_seen_is_not_fitted():
    track, _ = squats(Camera())
    image = track.image_px.copy()
    image[6:] = np.nan
    with pytest.raises(BodyFitError, match="6 frames"):
        find_body(replace(track, image_px=image), np.arange(track.frames), "standing").fitted()


def test_who_turns_round_between_stretches_is_still_fitted():
    front, side = Camera(view_deg=10.0), Camera(view_deg=75.0)
    script = Script(racked())
    script.hold(0.3).move(racked(1.0), 0.8).move(racked(), 0.8).hold(0.3)
    first, second = play_in_metres(script, front), play_in_metres(script, side)
    later = second.time_s + first.time_s[-1] + 3.0
    joined = {
        field.name: np.concatenate([getattr(first, field.name), getattr(second, field.name)])
        for field in fields(first)
        if np.ndim(getattr(first, field.name))
    }
    track = replace(first, **{**joined, "time_s": np.concatenate([first.time_s, later])})
    motion = find_body(track, np.arange(track.frames), "standing").fitted()
    assert np.nanmedian(motion.misfit[: first.frames]) < 0.5
    assert np.nanmedian(motion.misfit[first.frames :]) < 0.5
