"""How high a ball comes over its target, from wherever the wall is seen."""

from dataclasses import replace

import numpy as np
import pytest

from counting.decision.conformance import Risk
from counting.movements.types import ObjectCheck
from counting.objects.line import Target, target_of
from counting.objects.readings import Measured, Unseen, reading
from counting.objects.target import balls_over_target, flights_of
from counting.reps.types import Rep
from vision.objects.types import ObjectTrack
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.track import FloatArray, PoseTrack

WIDTH, HEIGHT = 720, 1280
FOCAL_PX = 0.75 * HEIGHT
CAMERA_M, STATURE_M, LINE_M, RADIUS_M = 1.1, 1.73, 3.0, 0.165
RATE_HZ = 30.0

CHECK = ObjectCheck(
    name="target",
    words="the ball's middle comes up to the line",
    quantity="ball above target",
    relation="at least",
    limit=0.0,
    unit="cm",
)

BODY_M = {"SHOULDER": 1.42, "HIP": 0.92, "KNEE": 0.497, "ANKLE": 0.07}
"""Heights of joints of one who stands straight, 1.73 m tall (Drillis and Contini 1966)."""


class Camera:
    """A pinhole camera that sees a wall turned by an angle, and the athlete before it."""

    def __init__(self, turned_deg: float, pitch_deg: float = 0.0) -> None:
        self.turned, self.pitch = np.radians(turned_deg), np.radians(pitch_deg)

    def on_wall(self, along_m: float, height_m: float, before_m: float = 0.0) -> FloatArray:
        """Where a point is seen that is along the wall, above the floor and before the wall."""
        ahead = np.array([np.sin(self.turned), 0.0, -np.cos(self.turned)]) * before_m
        along = np.array([np.cos(self.turned), 0.0, np.sin(self.turned)]) * along_m
        point = np.array([0.0, CAMERA_M - height_m, 5.6]) + along + ahead
        return self.seen(point)

    def seen(self, point: FloatArray) -> FloatArray:
        x, y, z = point
        cos, sin = np.cos(self.pitch), np.sin(self.pitch)
        # a camera that looks up sees level things lower
        y, z = y * cos + z * sin, z * cos - y * sin
        return np.array([WIDTH / 2 + FOCAL_PX * x / z, HEIGHT / 2 + FOCAL_PX * y / z])

    def target(self) -> Target:
        ends = [self.on_wall(along, LINE_M) / [WIDTH, HEIGHT] for along in (-0.6, 0.6)]
        return Target(tuple(ends[0].tolist()), tuple(ends[1].tolist()))

    def track(self, time_s: FloatArray) -> PoseTrack:
        empty = PoseTrack.unobserved(time_s, WIDTH, HEIGHT)
        points = np.full((len(time_s), LANDMARK_COUNT, 2), np.nan)
        for name, height_m in BODY_M.items():
            for side, x in (("LEFT", -0.16), ("RIGHT", 0.16)):
                place = self.seen(np.array([x, CAMERA_M - height_m, 4.8]))
                points[:, Landmark[f"{side}_{name}"]] = place
        return replace(empty, image_px=points, visibility=np.ones_like(empty.visibility))


def thrown(camera: Camera, top_m: float, rows: slice = slice(None)) -> tuple[ObjectTrack, Rep]:
    """A ball that turns where it touches the wall, and the rep that it belongs to."""
    time_s = np.arange(60) / RATE_HZ
    ball = ObjectTrack.nowhere(time_s)
    flying = np.flatnonzero(np.abs(time_s - 1.0) <= 0.4)[rows]
    for row in flying:
        away_s = abs(time_s[row] - 1.0)
        height_m = top_m - 9.81 / 2 * away_s**2
        ball.centre_px[row] = camera.on_wall(0.1, height_m, RADIUS_M + 1.2 * away_s)
        ball.radius_px[row] = FOCAL_PX * RADIUS_M / 5.5
        ball.covariance_px2[row] = np.eye(2)
    return ball, Rep(1, "wall ball", 0, 0, 0, 0.0, 0.3, 1.9)


def over(camera: Camera, top_m: float, rows: slice = slice(None)) -> Measured | Unseen:
    ball, rep = thrown(camera, top_m, rows)
    track = camera.track(ball.time_s)
    (found,) = balls_over_target(ball, [rep], camera.target(), track, STATURE_M, CAMERA_M)
    assert isinstance(found, Measured | Unseen)
    return found


@pytest.mark.parametrize("top_m", [2.8, 3.0, 3.2])
@pytest.mark.parametrize("pitch_deg", [0.0, 8.0])
@pytest.mark.parametrize("turned_deg", [0.0, 25.0, -50.0])
def test_height_over_the_line_is_told_within_what_is_stated(
    turned_deg: float, pitch_deg: float, top_m: float
) -> None:
    found = over(Camera(turned_deg, pitch_deg), top_m)
    assert isinstance(found, Measured)
    true_cm = 100 * (top_m - LINE_M)
    assert found.at_s == pytest.approx(1.0, abs=0.05)
    assert abs(found.value - true_cm) < 1.5 * found.uncertainty
    # lengths at the wall are shorter than the athlete's stature says, as the wall is beyond
    assert found.value == pytest.approx(true_cm, abs=2.5 + 0.2 * abs(true_cm))


def test_the_more_a_wall_is_seen_from_its_side_the_less_is_told() -> None:
    errors = []
    for turned_deg in (0.0, 40.0, 70.0):
        found = over(Camera(turned_deg), 3.0)
        assert isinstance(found, Measured)
        errors.append(found.uncertainty)
    assert errors == sorted(errors)
    assert errors[0] < 4.0 < 8.0 < errors[-1]


@pytest.mark.parametrize("rows", [slice(0, 9), slice(16, None)])
def test_a_ball_that_is_lost_before_it_turns_is_not_measured(rows: slice) -> None:
    assert over(Camera(0.0), 3.0, rows) == Unseen("the ball's highest point was not seen")


def test_a_ball_that_is_nowhere_is_not_judged() -> None:
    found = over(Camera(0.0), 3.0, slice(0, 0))
    said = reading(CHECK, found, Risk())
    assert (said.verdict, said.reason) == ("not judged", "not judged: the ball was not seen")
    assert said.value is None


@pytest.mark.parametrize(
    ("top_m", "verdict", "reason"),
    [
        (3.3, "met", None),
        (2.7, "not met", "the ball's middle came 34 cm under the target"),
        (3.01, "too close", "the ball's middle came"),
    ],
)
def test_only_what_is_clear_is_decided(top_m: float, verdict: str, reason: str | None) -> None:
    said = reading(CHECK, over(Camera(0.0), top_m), Risk())
    assert said.verdict == verdict
    assert (said.reason is None) if reason is None else reason[:22] in str(said.reason)
    assert said.low is not None
    assert said.high is not None
    assert (said.low <= 0.0 <= said.high) == (verdict == "too close")


def test_a_shaken_camera_moves_the_line_with_the_room() -> None:
    camera = Camera(0.0)
    ball, rep = thrown(camera, 3.0)
    still = camera.track(ball.time_s)
    shift = np.tile([7.0, -12.0], (len(ball.time_s), 1))
    shaken = replace(still, camera_shift_px=shift, image_px=still.image_px + np.array([7.0, -12.0]))
    target = camera.target()
    moved = Target(
        (target.left[0] + 7 / WIDTH, target.left[1] - 12 / HEIGHT),
        (target.right[0] + 7 / WIDTH, target.right[1] - 12 / HEIGHT),
    )
    before = balls_over_target(ball, [rep], target, still, STATURE_M, CAMERA_M)
    after = balls_over_target(ball, [rep], moved, shaken, STATURE_M, CAMERA_M)
    assert isinstance(before[0], Measured)
    assert isinstance(after[0], Measured)
    assert after[0].value == pytest.approx(before[0].value, abs=1e-6)


def test_each_rep_has_its_own_flight() -> None:
    reps = [Rep(k + 1, "wall ball", 0, 0, 0, 3.0 * k, 3.0 * k + 1, 3.0 * k + 3) for k in range(3)]
    assert flights_of(reps) == [(1.0, 4.0), (4.0, 7.0), (7.0, 10.2)]


@pytest.mark.parametrize(
    "numbers", [(0.4, 0.2, 0.6), (0.4, 0.2, 1.6, 0.2), (0.6, 0.2, 0.4, 0.2), (0.4, 0.2, 0.404, 0.9)]
)
def test_a_target_is_two_points_in_the_picture_from_left_to_right(
    numbers: tuple[float, ...],
) -> None:
    with pytest.raises(ValueError, match="point"):
        target_of(numbers)
