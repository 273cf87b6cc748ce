import numpy as np
import pytest

from vision.marking.captions import Call, CaptionPainter, Captions, Stage
from vision.marking.planes import Planes, disc, lay, line, patch_of, pixelate, yuv
from vision.marking.skeleton import draw_skeleton, row_at
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.track import PoseTrack


def grey(width: int = 320, height: int = 240, level: int = 90) -> Planes:
    return Planes(
        y=np.full((height, width), level, np.uint8),
        u=np.full((height // 2, width // 2), 128, np.uint8),
        v=np.full((height // 2, width // 2), 128, np.uint8),
    )


@pytest.mark.parametrize(
    ("rgb", "expected"),
    [
        ((0, 0, 0), (16, 128, 128)),
        ((255, 255, 255), (235, 128, 128)),
        ((255, 0, 0), (63, 102, 240)),
        ((0, 0, 255), (32, 240, 118)),
    ],
)
def test_colours_are_coded_as_in_bt_709(
    rgb: tuple[int, int, int], expected: tuple[int, int, int]
) -> None:
    """Limited-range code values of Recommendation ITU-R BT.709-6, item 3 and 4."""
    assert yuv(*rgb) == pytest.approx(expected, abs=1)


def test_a_line_lies_at_the_same_place_in_brightness_and_colour() -> None:
    planes = grey()
    line(planes, (40.0, 60.0), (280.0, 60.0), yuv(255, 0, 0), 6.0)
    assert planes.y[60, 160] == pytest.approx(63, abs=2)
    assert planes.v[30, 80] == pytest.approx(240, abs=2)
    assert planes.y[75, 160] == 90
    assert planes.v[40, 80] == 128


def test_what_is_drawn_beyond_the_edge_is_cut_off() -> None:
    planes = grey()
    line(planes, (-500.0, 100.0), (900.0, 100.0), yuv(255, 255, 255), 4.0)
    disc(planes, (-10.0, 300.0), 5.0, yuv(255, 255, 255))
    assert planes.y[100, 0] > 200


def test_an_opaque_patch_replaces_and_a_clear_one_leaves_the_picture() -> None:
    rgba = np.zeros((20, 40, 4), np.uint8)
    rgba[:, :20] = (255, 255, 255, 255)
    planes = grey()
    lay(planes, patch_of(rgba), 100, 50)
    assert (planes.y[50:70, 100:120] == 235).all()
    assert (planes.y[50:70, 120:140] == 90).all()
    assert (planes.y[:50] == 90).all()


def test_a_patch_that_juts_out_is_cut_off() -> None:
    planes = grey()
    lay(planes, patch_of(np.full((40, 60, 4), 255, np.uint8)), 300, 220)
    assert (planes.y[220:, 300:] == 235).all()


def test_pixelation_leaves_five_squares_a_side_and_nothing_finer() -> None:
    planes = grey()
    noise = np.random.default_rng(4).integers(16, 235, planes.y.shape, dtype=np.uint8)
    planes.y[...] = noise
    pixelate(planes, 100.0, 80.0, 200.0, 180.0)
    inside = planes.y[120:140, 120:180]
    assert len(np.unique(inside)) <= 15
    assert (planes.y[:79] == noise[:79]).all()
    row = planes.y[130, 121:139]
    assert (row == row[0]).all()


def track_of(image_px: np.ndarray, times_s: list[float]) -> PoseTrack:
    n = len(times_s)
    return PoseTrack(
        time_s=np.array(times_s),
        image_px=image_px,
        depth_px=np.zeros((n, LANDMARK_COUNT)),
        world_m=np.zeros((n, LANDMARK_COUNT, 3)),
        visibility=np.ones((n, LANDMARK_COUNT)),
        filled=np.zeros(n, bool),
        identity=np.zeros(n, np.int64),
        camera_shift_px=np.zeros((n, 2)),
        camera_roll_rad=np.zeros(n),
        width_px=320,
        height_px=240,
    )


def test_a_time_finds_the_nearest_row_and_none_in_a_gap() -> None:
    track = track_of(np.zeros((3, LANDMARK_COUNT, 2)), [0.0, 0.04, 1.0])
    assert row_at(track, 0.03) == 1
    assert row_at(track, 0.5) is None
    assert row_at(track, 1.02) == 2


def test_a_skeleton_is_drawn_between_its_joints_and_not_where_there_is_none() -> None:
    points = np.full((LANDMARK_COUNT, 2), np.nan)
    points[Landmark.LEFT_HIP], points[Landmark.LEFT_KNEE] = (100.0, 100.0), (100.0, 160.0)
    planes = grey()
    draw_skeleton(planes, points, np.ones(LANDMARK_COUNT))
    assert abs(int(planes.y[130, 100]) - 90) > 40
    assert (planes.y[:, 200:] == 90).all()


def captions() -> Captions:
    return Captions(
        calls=[
            Call(2.0, "rep 1: good", "", "good", 1, 0),
            Call(
                4.0, "rep 2: no-rep", "hip crease 4.4 ± 2.4 cm, asked at most 0 cm", "no-rep", 1, 0
            ),
        ],
        stages=[Stage(1.0, "set 1, thruster")],
        clock_zero_s=1.0,
        duration_s=10.0,
    )


def painted(time_s: float) -> Planes:
    planes = grey(640, 360)
    CaptionPainter(captions(), 640, 360).paint(planes, time_s)
    return planes


def changed(planes: Planes, rows: slice, columns: slice) -> bool:
    return bool((planes.y[rows, columns] != 90).any())


FOOT = slice(230, 330)
MIDDLE = slice(200, 440)


def test_a_no_rep_is_shown_from_its_decision_on_and_for_a_while() -> None:
    assert not changed(painted(3.9), FOOT, MIDDLE)
    assert changed(painted(4.1), FOOT, MIDDLE)
    assert not changed(painted(7.0), FOOT, MIDDLE)


def test_a_good_rep_needs_no_banner() -> None:
    assert not changed(painted(2.1), FOOT, MIDDLE)


def test_the_counter_changes_when_a_rep_counts() -> None:
    corner = (slice(0, 60), slice(0, 60))
    before, after = painted(1.9).y[corner], painted(2.8).y[corner]
    assert (before != after).any()
    assert (after == painted(3.5).y[corner]).all()


def test_the_progress_line_moves_in_proportion_to_the_film() -> None:
    bright = np.flatnonzero(painted(5.0).y[-3] == 235)
    assert bright.mean() == pytest.approx(320, abs=2)


@pytest.mark.parametrize(("width", "height"), [(64, 48), (360, 640), (1920, 1080)])
def test_captions_fit_any_size_of_picture(width: int, height: int) -> None:
    planes = grey(width, height)
    CaptionPainter(captions(), width, height).paint(planes, 4.2)
