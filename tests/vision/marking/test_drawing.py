import numpy as np
import pytest

from vision.marking.captions import Call, CaptionPainter, Captions, Stage
from vision.marking.planes import Planes, lay, line, patch_of, pixelate, yuv
from vision.marking.skeleton import LEFT_RGB, RIGHT_RGB, draw_skeleton, row_at
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
    assert len(np.unique(inside)) == 3
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
    assert row_at(track, 0.09) == 1
    assert row_at(track, 0.12) is None
    assert row_at(track, 1.02) == 2


def test_a_skeleton_is_drawn_between_its_joints_and_not_where_there_is_none() -> None:
    points = np.full((LANDMARK_COUNT, 2), np.nan)
    points[Landmark.LEFT_HIP], points[Landmark.LEFT_KNEE] = (100.0, 100.0), (100.0, 160.0)
    planes = grey()
    draw_skeleton(planes, points, np.ones(LANDMARK_COUNT))
    assert abs(int(planes.y[130, 100]) - 90) > 40
    assert (planes.y[:, 200:] == 90).all()


def arm(error_px: float, visible: float = 1.0) -> Planes:
    """Draw an upper arm across a grey picture, on a trunk of 80 pixels, with a stated error."""
    points = np.full((LANDMARK_COUNT, 2), np.nan)
    points[[Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]] = (20.0, 20.0)
    points[[Landmark.LEFT_HIP, Landmark.RIGHT_HIP]] = (20.0, 100.0)
    points[Landmark.LEFT_ELBOW] = (100.0, 20.0)
    visibility, errors = np.ones(LANDMARK_COUNT), np.full(LANDMARK_COUNT, 1.0)
    errors[Landmark.LEFT_ELBOW], visibility[Landmark.LEFT_ELBOW] = error_px, visible
    planes = grey()
    draw_skeleton(planes, points, visibility, errors)
    return planes


@pytest.mark.parametrize(
    ("error_px", "visible", "faint"),
    [(2.0, 1.0, False), (7.9, 1.0, False), (8.1, 1.0, True), (2.0, 0.4, True)],
)
def test_a_limb_is_faint_where_it_is_hidden_or_its_stated_error_is_a_tenth_of_the_trunk(
    error_px: float, visible: float, *, faint: bool
) -> None:
    told = int(arm(error_px, visible).y[20, 60]) - 90
    sure = int(arm(1.0).y[20, 60]) - 90
    assert sure > 60
    assert told == pytest.approx(0.3 * sure if faint else sure, abs=3)


def seen_by(colour: tuple[int, int, int], missing: str) -> np.ndarray:
    """Show a colour as somebody without one kind of cone sees it.

    Machado, Oliveira, Fernandes, "A Physiologically-based Model for Simulation of Color Vision
    Deficiency" (IEEE TVCG 15, 2009), severity 1.0, on linear RGB.
    """
    matrices = {
        "none": np.eye(3),
        "long": [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ],
        "middle": [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ],
        "short": [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ],
    }
    linear = (np.array(colour) / 255.0) ** 2.2
    return np.clip(np.array(matrices[missing]) @ linear, 0.0, 1.0)


@pytest.mark.parametrize("missing", ["none", "long", "middle", "short"])
def test_left_and_right_differ_in_brightness_for_every_kind_of_colour_vision(missing: str) -> None:
    # Relative luminance and the ratio of 3 to 1 for graphical objects: WCAG 2.2, 1.4.11.
    weights = np.array([0.2126, 0.7152, 0.0722])
    left, right = (weights @ seen_by(rgb, missing) for rgb in (LEFT_RGB, RIGHT_RGB))
    assert (left + 0.05) / (right + 0.05) >= 3.0


def captions() -> Captions:
    return Captions(
        calls=[
            Call(2.0, "rep 1: good", "", "good", 1, 0, 0),
            Call(
                4.0,
                "rep 2: no-rep",
                "hip crease 4.4 ± 2.4 cm (standard: 0 cm)",
                "no-rep",
                1,
                1,
                0,
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
