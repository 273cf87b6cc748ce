"""The camera's movement is read off the still background, whoever moves before it."""

import math
from collections.abc import Callable

import cv2
import numpy as np
import numpy.typing as npt
import pytest

from vision.camera.background import STEADY_PX, Background, Shift, shifts_between

WIDTH, HEIGHT = 360, 640
Grey = npt.NDArray[np.uint8]


def _gym(right: float = 0.0, down: float = 0.0, roll_deg: float = 0.0) -> Grey:
    """A room of boxes and posts, turned about the picture's centre and shifted."""
    rng = np.random.default_rng(4)
    room = np.full((HEIGHT, WIDTH), 120, np.uint8)
    for _ in range(120):
        x, y, w, h = rng.integers([0, 0, 8, 8], [WIDTH, HEIGHT, 60, 60])
        cv2.rectangle(room, (int(x), int(y)), (int(x + w), int(y + h)), int(rng.integers(256)), -1)
    cos, sin = math.cos(math.radians(roll_deg)), math.sin(math.radians(roll_deg))
    cx, cy = (WIDTH - 1) / 2, (HEIGHT - 1) / 2
    turn = np.array(
        [[cos, -sin, cx - cos * cx + sin * cy + right], [sin, cos, cy - sin * cx - cos * cy + down]]
    )
    moved = cv2.warpAffine(room, turn, (WIDTH, HEIGHT), borderMode=cv2.BORDER_REPLICATE)
    return cv2.GaussianBlur(np.asarray(moved, np.uint8), (3, 3), 0).astype(np.uint8)


@pytest.mark.parametrize(
    ("right", "down", "roll_deg"),
    [(0, 0, 0), (3.4, -2.2, 0), (0, 0, 0.6), (-6.0, 5.0, -0.4), (0.3, 0.2, 0.05)],
)
def test_shift_and_roll_are_measured(right: float, down: float, roll_deg: float) -> None:
    shift = Background(_gym()).shift_in(_gym(right, down, roll_deg))
    assert shift is not None
    assert shift.right_px == pytest.approx(right, abs=0.1)
    assert shift.down_px == pytest.approx(down, abs=0.1)
    assert math.degrees(shift.roll_rad) == pytest.approx(roll_deg, abs=0.03)


def test_a_person_who_moves_before_it_is_not_taken_for_the_room() -> None:
    before, after = _gym(), _gym(2.0, 1.0)
    for picture, x in ((before, 100), (after, 150)):
        cv2.rectangle(picture, (x, 200), (x + 90, 520), 30, -1)
        cv2.circle(picture, (x + 45, 170), 35, 220, -1)
    shift = Background(before, [(100, 130, 190, 520)]).shift_in(after)
    assert shift is not None
    assert (shift.right_px, shift.down_px) == pytest.approx((2.0, 1.0), abs=0.15)


def test_a_large_shift_is_found_near_the_last_one() -> None:
    background = Background(_gym())
    shift = None
    for step in range(1, 9):
        shift = background.shift_in(_gym(5.0 * step, 2.0 * step), shift)
        assert shift is not None
    assert shift is not None
    assert (shift.right_px, shift.down_px) == pytest.approx((40.0, 16.0), abs=0.3)


def test_another_room_is_not_measured() -> None:
    other = np.random.default_rng(1).integers(0, 255, (HEIGHT, WIDTH)).astype(np.uint8)
    assert Background(_gym()).shift_in(other) is None


def test_a_bare_wall_holds_nothing_to_measure_by() -> None:
    bare = np.full((HEIGHT, WIDTH), 120, np.uint8)
    assert Background(bare).shift_in(bare) is None


def _measured(
    right_px: Callable[[float], float], time_s: list[float], *, known: bool = True
) -> tuple[list[Shift | None], list[int]]:
    asked: list[int] = []

    def measure(place: int, _near: Shift | None) -> Shift | None:
        asked.append(place)
        return Shift(right_px(time_s[place]), 0.0, 0.0)

    before = (0.0, Shift(right_px(0.0), 0.0, 0.0)) if known else None
    return shifts_between(measure, time_s, before, 367.0), asked


def test_a_camera_that_stands_or_goes_evenly_is_measured_twice_between_sightings() -> None:
    time_s = [k / 30.0 for k in range(1, 16)]
    shifts, asked = _measured(lambda when_s: 20.0 * when_s, time_s)
    assert len(asked) == 2
    assert [shift and shift.right_px for shift in shifts] == pytest.approx(
        [20.0 * when_s for when_s in time_s]
    )


def test_a_camera_that_shakes_is_measured_closely() -> None:
    time_s = [k / 30.0 for k in range(1, 16)]
    sway = {when_s: 6.0 * math.sin(2 * math.pi * 2.0 * when_s) for when_s in [0.0, *time_s]}
    shifts, asked = _measured(lambda when_s: sway[when_s], time_s)
    assert len(asked) > 6
    for when_s, shift in zip(time_s, shifts, strict=True):
        assert shift is not None
        assert shift.right_px == pytest.approx(sway[when_s], abs=2 * STEADY_PX)


def test_without_a_known_shift_each_is_measured_in_order() -> None:
    _, asked = _measured(lambda _: 0.0, [0.1, 0.2, 0.3], known=False)
    assert asked == [0, 1, 2]


def test_what_cannot_be_told_is_not_made_up() -> None:
    """Somebody walks before the camera for the second half."""
    time_s = [k / 30.0 for k in range(1, 16)]
    still = Shift(0.0, 0.0, 0.0)
    shifts = shifts_between(
        lambda place, _near: still if place < 8 else None, time_s, (0.0, still), 367.0
    )
    assert shifts == [still] * 8 + [None] * 7
