"""A plate that hides the hands tells where they are."""

import cv2
import numpy as np
import pytest

from vision.barbell.hands import PLATE_OVER_STATURE, Bar, hands_on_bar, seen_from_the_side
from vision.barbell.plate import find_discs, plate_path
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.track import FloatArray, PoseTrack

STATURE_PX = 300.0
SHOULDERS = np.array([320.0, 200.0])
RATE_HZ = 30.0


def picture_with_disc(centre: tuple[int, int], radius: int) -> np.ndarray:
    picture = np.full((600, 640, 3), 150, np.uint8)
    rng = np.random.default_rng(5)
    picture += rng.integers(0, 12, picture.shape, dtype=np.uint8)
    cv2.circle(picture, centre, radius, (25, 25, 28), -1, cv2.LINE_AA)
    return picture


@pytest.mark.parametrize("share", [0.12, 0.16, 0.20])
def test_a_plate_is_found_to_two_hundredths_of_stature(share: float) -> None:
    discs = find_discs(
        picture_with_disc((300, 180), round(share * STATURE_PX)), SHOULDERS, STATURE_PX
    )
    assert discs[0] == pytest.approx([300, 180, share * STATURE_PX], abs=0.02 * STATURE_PX)


@pytest.mark.parametrize("share", [0.05, 0.08, 0.26, 0.35])
def test_what_is_no_plates_size_is_not_taken_for_one(share: float) -> None:
    discs = find_discs(
        picture_with_disc((300, 180), round(share * STATURE_PX)), SHOULDERS, STATURE_PX
    )
    near = [d for d in discs if abs(d[2] / STATURE_PX - share) < 0.02]
    assert near == []


def test_nothing_is_found_where_there_is_no_picture() -> None:
    assert find_discs(picture_with_disc((1, 1), 40), np.array([-900.0, 10.0]), 300.0).size == 0


def lifting(n: int = 120) -> tuple[FloatArray, FloatArray]:
    time_s = np.arange(n) / RATE_HZ
    height = 300.0 - 100.0 * (1 - np.cos(2 * np.pi * time_s / 2.0)) / 2
    return time_s, np.stack([np.full(n, 320.0), height], axis=1)


def test_the_moving_plate_is_chosen_among_louder_shapes_of_other_sizes_and_places() -> None:
    time_s, truth = lifting()
    rng = np.random.default_rng(8)
    discs = [
        np.array(
            [
                [rng.uniform(200, 440), rng.uniform(100, 400), rng.uniform(35, 60)],
                [520.0, 390.0, 58.0],
                [*(truth[k] + rng.normal(0, 1, 2)), 45.0 + rng.normal(0, 1)],
            ]
        )
        for k in range(len(time_s))
    ]
    path, radius_px = plate_path(time_s, discs, STATURE_PX)
    assert np.nanmax(np.linalg.norm(path - truth, axis=1)) < 6.0
    assert np.isfinite(path[:, 0]).mean() > 0.95
    assert radius_px == pytest.approx(45.0, abs=3.0)


def test_pictures_without_the_plate_stay_open() -> None:
    time_s, truth = lifting()
    discs = [
        np.array([[*truth[k], 45.0]]) if not 50 <= k < 60 else np.zeros((0, 3))
        for k in range(len(time_s))
    ]
    path, _ = plate_path(time_s, discs, STATURE_PX)
    assert np.array_equal(np.isnan(path[:, 0]), np.isin(np.arange(len(time_s)), range(50, 60)))


def standing(shoulder_breadth_px: float, n: int = 120) -> PoseTrack:
    image = np.full((n, LANDMARK_COUNT, 2), 320.0)
    heights = {
        "SHOULDER": 200.0,
        "ELBOW": 250.0,
        "WRIST": 260.0,
        "HIP": 300.0,
        "KNEE": 370.0,
        "ANKLE": 434.0,
    }
    for part, height in heights.items():
        image[:, Landmark[f"LEFT_{part}"], 1] = height
        image[:, Landmark[f"RIGHT_{part}"], 1] = height
    image[:, Landmark.LEFT_SHOULDER, 0] += shoulder_breadth_px
    visibility = np.full((n, LANDMARK_COUNT), 0.95)
    visibility[:, [Landmark.LEFT_ELBOW, Landmark.RIGHT_ELBOW]] = 0.3
    return PoseTrack(
        time_s=np.arange(n) / RATE_HZ,
        image_px=image,
        depth_px=np.zeros((n, LANDMARK_COUNT)),
        world_m=np.zeros((n, LANDMARK_COUNT, 3)),
        visibility=visibility,
        filled=np.zeros(n, bool),
        identity=np.zeros(n, np.int64),
        camera_shift_px=np.zeros((n, 2)),
        camera_roll_rad=np.zeros(n),
        width_px=640,
        height_px=600,
    )


def test_shoulders_behind_each_other_are_a_side_view() -> None:
    """Shoulder breadth over trunk length (100 pixels here) reads 0.2 from the side, 0.4 at 60
    degrees: measured on labelled films, see `vision.barbell.hands`."""
    assert seen_from_the_side(standing(20.0))
    assert not seen_from_the_side(standing(40.0))


def test_wrists_go_where_a_raised_bar_is_and_elbows_between() -> None:
    _, path = lifting()
    path[:, 1] -= 80.0
    bar = Bar(path, PLATE_OVER_STATURE * STATURE_PX, STATURE_PX)
    track = hands_on_bar(standing(10.0), bar)
    held = path[:, 1] < 300.0 - 0.05 * STATURE_PX
    wrists = track.image_px[:, Landmark.RIGHT_WRIST]
    assert wrists[held] == pytest.approx(path[held])
    elbow = track.image_px[:, Landmark.RIGHT_ELBOW]
    upper = np.linalg.norm(elbow - track.image_px[:, Landmark.RIGHT_SHOULDER], axis=1)
    reachable = np.linalg.norm(wrists - track.image_px[:, Landmark.RIGHT_SHOULDER], axis=1)
    inside = held & (reachable < 0.33 * STATURE_PX) & (reachable > 0.05 * STATURE_PX)
    assert inside.any()
    assert upper[inside] == pytest.approx(0.186 * STATURE_PX, rel=1e-6)
    fore = np.linalg.norm(elbow - wrists, axis=1)
    assert fore[inside] == pytest.approx(0.146 * STATURE_PX, rel=1e-6)
    # Only there: a wrist that was put is less sure than one that was seen.
    sure = track.visibility[:, Landmark.RIGHT_WRIST]
    assert sure == pytest.approx(np.where(held, 0.6, 0.95))


def raised(rise_px: float, held_s: float = 4.0, n: int = 120) -> FloatArray:
    """A bar before the chest that goes up and down so far, found for so long."""
    time_s = np.arange(n) / RATE_HZ
    height = 230.0 - 0.5 * rise_px * np.cos(2.0 * np.pi * time_s / 0.8)
    path = np.stack([np.full(n, 320.0), height], axis=1)
    path[time_s > held_s] = np.nan
    return path


def moves_hands(track: PoseTrack, path: FloatArray) -> bool:
    return hands_on_bar(track, Bar(path, 39.0, STATURE_PX)) is not track


def test_a_bar_held_for_a_second_that_moves_a_tenth_of_stature_moves_the_hands() -> None:
    track = standing(10.0)
    assert moves_hands(track, raised(45.0, 1.3))
    assert not moves_hands(track, raised(45.0, 0.7))
    assert not moves_hands(track, raised(20.0))


@pytest.mark.parametrize(("visibility", "is_put"), [(0.8, True), (0.95, False)])
def test_elbows_that_are_clearly_seen_stay(visibility: float, *, is_put: bool) -> None:
    track = standing(10.0)
    track.visibility[:, Landmark.LEFT_ELBOW] = visibility
    put = hands_on_bar(track, Bar(raised(45.0), 39.0, STATURE_PX))
    changed = put.image_px[:, Landmark.LEFT_ELBOW] != track.image_px[:, Landmark.LEFT_ELBOW]
    assert changed.any() == is_put


@pytest.mark.parametrize(("lost_s", "is_bridged"), [(5.0, True), (7.5, False)])
def test_an_athlete_lost_for_seconds_is_still_under_the_bar(
    lost_s: float, *, is_bridged: bool
) -> None:
    track = standing(10.0, 400)
    lost = (track.time_s > 2.0) & (track.time_s < 2.0 + lost_s)
    track.image_px[lost] = np.nan
    put = hands_on_bar(track, Bar(raised(45.0, 20.0, 400), 39.0, STATURE_PX))
    assert np.isfinite(put.image_px[lost, Landmark.LEFT_WRIST]).all() == is_bridged


@pytest.mark.parametrize(("spread", "put"), [(0.015, False), (0.045, True)])
def test_a_plate_beside_a_hand_that_is_clearly_read_hides_no_hands(
    spread: float, *, put: bool
) -> None:
    """From 60 degrees off the front, the near plate of a bar overhead is seen beside the hands."""
    _, path = lifting()
    radius_px = PLATE_OVER_STATURE * STATURE_PX
    path += [0.3 * STATURE_PX, -80.0]
    before = standing(10.0)
    before.covariance_px2[:, Landmark.LEFT_WRIST] = np.eye(2) * (spread * STATURE_PX) ** 2
    before.covariance_px2[:, Landmark.RIGHT_WRIST] = np.eye(2) * (0.1 * STATURE_PX) ** 2
    track = hands_on_bar(before, Bar(path, radius_px, STATURE_PX))
    assert np.array_equal(track.image_px, before.image_px) is not put


def test_a_hand_clearly_read_within_the_plate_is_put_on_the_bar() -> None:
    _, path = lifting()
    path[:, 1] -= 150.0
    before = standing(10.0)
    before.image_px[:, Landmark.LEFT_WRIST] = path + 10.0
    before.covariance_px2[:, Landmark.LEFT_WRIST] = np.eye(2)
    before.covariance_px2[:, Landmark.RIGHT_WRIST] = np.eye(2) * (0.1 * STATURE_PX) ** 2
    radius_px = PLATE_OVER_STATURE * STATURE_PX
    wrists = hands_on_bar(before, Bar(path, radius_px, STATURE_PX)).image_px
    assert wrists[:, Landmark.LEFT_WRIST] == pytest.approx(path)


def test_a_nearer_plate_is_drawn_in_towards_the_middle_of_the_picture() -> None:
    _, path = lifting()
    path[:, 1] -= 150.0
    bar = Bar(path, 1.25 * PLATE_OVER_STATURE * STATURE_PX, STATURE_PX)
    wrists = hands_on_bar(standing(10.0), bar).image_px[:, Landmark.LEFT_WRIST]
    assert wrists[:, 1] == pytest.approx(300.0 + (path[:, 1] - 300.0) / 1.25)


def test_a_bar_below_the_hips_or_at_rest_moves_no_hand() -> None:
    _, path = lifting()
    track = standing(10.0)
    on_the_floor = Bar(path + np.array([0.0, 200.0]), 45.0, STATURE_PX)
    at_rest = Bar(np.tile([320.0, 150.0], (120, 1)), 45.0, STATURE_PX)
    for bar in (on_the_floor, at_rest):
        assert hands_on_bar(track, bar) is track


@pytest.mark.parametrize(("trunk_px", "is_held"), [(10.0, False), (38.0, False), (55.0, True)])
def test_a_bar_beside_somebody_who_lies_down_is_not_in_their_hands(
    trunk_px: float, *, is_held: bool
) -> None:
    _, path = lifting()
    path[:, 1] -= 150.0
    track = standing(10.0)
    shoulders = [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]
    track.image_px[:, shoulders, 1] = 300.0 - trunk_px
    assert moves_hands(track, path) == is_held
