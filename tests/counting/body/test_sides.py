"""Left and right mixed up in some frames, as of somebody far away, and put right again."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.body.sides import settled_sides
from vision.pose.landmarks import Landmark

PAIRS = [(j, j + 1) for j in range(Landmark.LEFT_SHOULDER, Landmark.RIGHT_FOOT_INDEX, 2)]


def squats(view_deg=0.0, noise=0.003):
    script = Script(standing())
    script.hold(1.0)
    for _ in range(3):
        script.move(squat(1.0), 0.8).move(standing(), 0.8).hold(0.4)
    return play_in_metres(script, Camera(view_deg=view_deg), rate_hz=30.0, noise=noise)


def mirrored(track, rows):
    changed = {}
    for name in ("image_px", "depth_px", "world_m", "visibility", "covariance_px2"):
        array = getattr(track, name).copy()
        for left, right in PAIRS:
            array[rows, left], array[rows, right] = array[rows, right], array[rows, left].copy()
        changed[name] = array
    return replace(track, **changed)


def in_the_middle(track, rows):
    """Both sides where the middle is: what the network draws when it cannot decide."""
    image = track.image_px.copy()
    for left, right in PAIRS:
        image[rows, left] = image[rows, right] = image[rows][:, [left, right]].mean(axis=1)
    return replace(track, image_px=image)


def body(track):
    return track.image_px[:, Landmark.LEFT_SHOULDER :]


@pytest.mark.parametrize("view_deg", [0.0, 40.0, 180.0])
def test_a_track_without_mistakes_stays_as_it_is(view_deg):
    track = squats(view_deg)
    assert settled_sides(track) is track


@pytest.mark.parametrize("rows", [[40], [40, 41, 42, 60, 61], list(range(50, 90))])
def test_swapped_frames_are_swapped_back(rows):
    track = squats()
    settled = settled_sides(mirrored(track, rows))
    assert np.array_equal(body(settled), body(track))
    assert np.array_equal(settled.visibility[:, 11:], track.visibility[:, 11:])
    assert np.array_equal(settled.world_m[:, 11:], track.world_m[:, 11:])
    assert not settled.filled.any()


def test_a_film_swapped_for_the_most_part_is_at_least_the_same_way_round_throughout():
    track = squats()
    settled = settled_sides(mirrored(track, np.arange(30, track.frames)))
    across = settled.image_px[:, Landmark.LEFT_SHOULDER, 0]
    across = across - settled.image_px[:, Landmark.RIGHT_SHOULDER, 0]
    assert (across > 0).all() or (across < 0).all()


def test_frames_between_both_are_bridged_and_said_to_be():
    track = squats()
    rows = [40, 41, 42, 43]
    settled = settled_sides(in_the_middle(mirrored(track, np.arange(44, 60)), rows))
    assert np.flatnonzero(settled.filled).tolist() == rows
    error = np.linalg.norm(body(settled)[rows] - body(track)[rows], axis=2)
    width = np.linalg.norm(
        track.image_px[:, Landmark.LEFT_SHOULDER] - track.image_px[:, Landmark.RIGHT_SHOULDER],
        axis=1,
    ).mean()
    assert np.median(error) < 0.1 * width
    assert np.array_equal(body(settled)[44:], body(track)[44:])


def test_nothing_is_made_up_where_the_sides_are_undecided_for_long():
    track = squats()
    rows = np.arange(60, 78)
    settled = settled_sides(in_the_middle(track, rows))
    assert np.isnan(settled.image_px[rows]).all()
    assert (settled.visibility[rows] == 0).all()
    assert not settled.filled.any()
    assert np.array_equal(body(settled)[:60], body(track)[:60])


def test_rows_between_two_looks_follow_the_looks():
    track = squats(noise=0.0)
    looked = np.arange(track.frames) % 3 == 0
    looked[-1] = True
    at = np.flatnonzero(looked)
    image = track.image_px.copy()
    swapped = mirrored(track, at[(at >= 40) & (at <= 60)]).image_px
    for joint in range(image.shape[1]):
        for axis in (0, 1):
            image[:, joint, axis] = np.interp(
                track.time_s, track.time_s[at], swapped[at, joint, axis]
            )
    settled = settled_sides(replace(track, image_px=image, looked=looked))
    error = np.linalg.norm(body(settled) - body(track), axis=2)
    assert error.max() < 3.0
    assert np.array_equal(settled.looked, looked)


def test_from_the_side_where_the_sides_coincide_nothing_is_taken_away():
    track = squats(view_deg=90.0, noise=0.01)
    settled = settled_sides(track)
    assert np.isfinite(settled.image_px).all()
    assert not settled.filled.any()


def test_a_body_shrunk_to_a_point_or_without_shoulders_stays_as_it_is():
    track = squats()
    point = replace(track, image_px=np.full_like(track.image_px, 5.0))
    assert settled_sides(point) is point
    image = track.image_px.copy()
    image[:, [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]] = np.nan
    without = replace(track, image_px=image)
    assert settled_sides(without) is without


def test_a_track_in_which_nobody_is_seen_stays_as_it_is():
    track = squats()
    lost = replace(track, image_px=np.full_like(track.image_px, np.nan))
    assert settled_sides(lost) is lost
