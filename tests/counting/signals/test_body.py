"""What the landmarks say of the body, and which of them cannot be this body at all."""

import numpy as np
import pytest
from synthetic.figure import Camera, landmarks
from synthetic.films import hanging, planked, squat, standing
from synthetic.script import Script, track_of

from counting.signals.body import (
    elsewhere,
    hands_elsewhere,
    inverted,
    plausible,
    stature_px,
    steadied_px,
)
from counting.signals.extraction import signals_of


def picture(posture, camera=None) -> np.ndarray:
    camera = camera or Camera()
    return camera.picture(landmarks(posture.numbers()[None]))[0]


@pytest.mark.parametrize("view_deg", [0, 40, 90, 150])
def test_the_apparent_stature_is_that_of_the_figure_from_any_view(view_deg):
    # Segment shares of Drillis and Contini 1966 (in Winter 2009, fig. 4.1) make both ends meet.
    camera = Camera(view_deg=view_deg)
    pictures = np.stack([picture(standing(), camera), picture(squat(), camera)] * 10)
    assert stature_px(pictures) == pytest.approx(camera.focal_px / camera.distance, rel=0.08)


@pytest.mark.parametrize("posture", [standing(), squat(), hanging(), planked(0.0), hanging(2.0)])
def test_postures_of_the_trade_are_plausible(posture):
    assert plausible(picture(posture)[None], 300.0).all()


@pytest.mark.parametrize("posture", [standing(), squat(), hanging(2.0), planked(0.0)])
def test_no_posture_of_the_trade_is_taken_for_one_on_its_head(posture):
    assert not inverted(picture(posture)[None], 300.0, upright=False).any()


def test_a_body_on_its_head_is_left_out_but_for_its_hips():
    upside_down = picture(standing())
    upside_down[:, 1] = 1280 - upside_down[:, 1]
    assert inverted(upside_down[None], 300.0, upright=False).all()
    film = np.stack([picture(standing())] * 90)
    film[40:50] = upside_down
    signals = signals_of(track_of(np.arange(90) / 30, film, Camera()))
    assert np.ptp(signals.shoulder) < 0.01


def test_a_body_crumpled_into_a_plate_is_not():
    crumpled = 300.0 + 0.2 * (picture(standing()) - 300.0)
    assert not plausible(crumpled[None], 300.0).any()


def test_a_limb_pulled_far_too_long_is_not():
    pulled = picture(standing())
    pulled[26] += 300.0
    assert not plausible(pulled[None], 300.0).any()


@pytest.mark.parametrize(("longer", "possible"), [(1.4, True), (1.9, False)])
def test_a_forearm_half_as_long_again_is_near_the_camera_one_twice_as_long_is_misread(
    longer, possible
):
    """A hand held out 0.5 m towards a camera two metres away looks a third larger."""
    pose = picture(standing())
    forearm = (pose[15] - pose[13]) / np.linalg.norm(pose[15] - pose[13])
    pose[15] = pose[13] + forearm * longer * 0.146 * 300.0
    assert plausible(pose[None], 300.0).all() == possible


def test_a_blink_onto_somebody_else_is_left_out_and_the_athlete_stays():
    film = np.stack([picture(standing())] * 90)
    film[30:50] += [250.0, 0.0]
    astray = elsewhere(np.arange(90) / 30, film, 300.0)
    assert np.flatnonzero(astray).tolist() == list(range(30, 50))


def test_two_frames_off_do_not_take_what_follows_along():
    # Before a quick rise, within reach of the frame before them, out of reach of the one after.
    risen = [min(9.0 * max(k - 40, 0), 150.0) for k in range(150)]
    film = np.stack([picture(standing()) - [0.0, rise] for rise in risen])
    film[41:43] += [0.0, 50.0]
    film[80:] += [0.0, 120.0]
    astray = elsewhere(np.arange(150) / 30, film, 300.0)
    assert 1 <= astray.sum() <= 2
    assert set(np.flatnonzero(astray)) <= {41, 42, 43}


def test_who_leaps_away_and_stays_is_followed():
    film = np.stack([picture(standing())] * 120)
    film[60:] += [250.0, 0.0]
    assert not elsewhere(np.arange(120) / 30, film, 300.0).any()


def test_a_walk_through_the_picture_is_no_leap():
    film = np.stack([picture(standing()) + np.array([3.0 * k, 0.0]) for k in range(90)])
    assert not elsewhere(np.arange(90) / 30, film, 300.0).any()


def test_a_hand_drawn_far_off_for_some_frames_is_left_out_and_the_other_stays():
    film = np.stack([picture(standing())] * 90)
    film[30:38, 15] += [0.0, 150.0]
    astray = hands_elsewhere(np.arange(90) / 30, film, 300.0)
    assert np.flatnonzero(astray[:, 0]).tolist() == list(range(30, 38))
    assert not astray[:, 1].any()


def test_hands_that_do_not_come_back_are_where_they_are_seen():
    film = np.stack([picture(standing())] * 90)
    film[:10, 15] += [0.0, 150.0]
    film[80:, 16] += [0.0, 150.0]
    assert not hands_elsewhere(np.arange(90) / 30, film, 300.0).any()


def test_hands_that_let_a_bar_fall_are_where_they_are_seen():
    film = np.stack([picture(standing())] * 90)
    fallen_m = np.minimum(0.5 * 9.81 * np.maximum(np.arange(90) / 30 - 1.0, 0.0) ** 2, 1.2)
    film[:, [15, 16], 1] += (fallen_m / 1.73 * 300.0)[:, None]
    assert not hands_elsewhere(np.arange(90) / 30, film, 300.0).any()


def test_a_hand_lost_for_a_moment_does_not_move_the_signal():
    film = np.stack([picture(standing())] * 90)
    film[40:48, 15:17] += [0.0, 150.0]
    signals = signals_of(track_of(np.arange(90) / 30, film, Camera()), upright=True)
    assert np.ptp(signals.wrist) < 0.01


@pytest.mark.parametrize(("off", "kept"), [(0.09, True), (0.15, False)])
def test_one_picture_in_which_a_part_is_off_by_more_than_a_head_is_no_motion(off, kept):
    """A head is an eighth of stature (0.130, Drillis and Contini 1966)."""
    film = np.stack([picture(standing())] * 90)
    film[45, 15:17, 1] -= off * stature_px(film)
    signals = signals_of(track_of(np.arange(90) / 30, film, Camera()))
    moved = np.ptp(signals.wrist)
    assert moved > 0.2 * off if kept else moved < 0.005


def test_a_shaking_camera_is_taken_out():
    rng = np.random.default_rng(2)
    still = Script(standing()).hold(3.0).play()
    shift = rng.normal(0, 8, (still.frames, 2))
    roll = rng.normal(0, 0.02, still.frames)
    centre = np.array([still.width_px / 2, still.height_px / 2])
    turn = np.stack([np.cos(roll), -np.sin(roll), np.sin(roll), np.cos(roll)], axis=1)
    moved = np.einsum("nij,nkj->nki", turn.reshape(-1, 2, 2), still.image_px - centre)
    track = track_of(still.time_s, moved + centre + shift[:, None], Camera())
    object.__setattr__(track, "camera_shift_px", shift)
    object.__setattr__(track, "camera_roll_rad", roll)
    assert steadied_px(track) == pytest.approx(still.image_px, abs=1e-6)


def test_heights_are_in_statures_above_the_feet():
    signals = signals_of(Script(standing()).hold(2.0).play(Camera(view_deg=90)))
    assert np.median(signals.hip) == pytest.approx(0.49, abs=0.03)
    assert np.median(signals.shoulder) == pytest.approx(0.78, abs=0.04)


def test_a_track_without_anybody_gives_signals_without_values():
    empty = Script(standing()).hold(2.0).play()
    lost = track_of(empty.time_s, np.full_like(empty.image_px, np.nan), Camera())
    signals = signals_of(lost)
    assert np.isnan(signals.hip).all()
    assert not signals.observed.any()
