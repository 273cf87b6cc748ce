"""A body misread for a moment, as behind a plate, neither makes nor breaks a repetition."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import EXERCISES, Film, film, hanging, standing
from synthetic.script import Script

from counting.movements.loader import find_movement
from counting.timeline import find_reps
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

SIDE = Camera(view_deg=90)
STATURE_PX = SIDE.focal_px / SIDE.distance
ANKLES = [Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE]
WRISTS = [Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST]
SHOULDERS = [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]
HEELS = [Landmark.LEFT_HEEL, Landmark.RIGHT_HEEL]
HIPS = [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]


def _misread(
    made: Film, from_s: float, to_s: float, change: Callable[[np.ndarray], None]
) -> PoseTrack:
    """The film's track with the landmarks of some frames changed in place."""
    image = made.track.image_px.copy()
    rows = (made.track.time_s >= from_s) & (made.track.time_s < to_s)
    part = image[rows]
    change(part)
    image[rows] = part
    return replace(made.track, image_px=image)


def _count(track: PoseTrack, movement: str) -> int:
    return len(find_reps(track, find_movement(movement)).reps)


def test_a_trunk_that_looks_short_at_the_bottom_takes_no_squat_away() -> None:
    made = film("front squat", sets=(4,), camera=SIDE, noise=0.002)
    turn_s = made.reps[2].turn_s

    def shorten(part: np.ndarray) -> None:
        part[:, HIPS, 1] -= 0.5 * (part[:, HIPS, 1] - part[:, SHOULDERS, 1])

    assert _count(_misread(made, turn_s - 0.4, turn_s + 0.4, shorten), "front squat") == 4


@pytest.mark.parametrize("movement", ["front squat", "thruster"])
def test_a_body_read_too_tall_after_a_repetition_takes_it_not_away(movement: str) -> None:
    made = film(movement, sets=(3,), camera=SIDE, noise=0.002)
    end_s = made.reps[-1].end_s

    def raise_trunk(part: np.ndarray) -> None:
        part[:, [*HIPS, *SHOULDERS], 1] -= 0.15 * STATURE_PX

    assert _count(_misread(made, end_s - 0.15, end_s + 0.6, raise_trunk), movement) == 3


def test_hands_that_jitter_overhead_do_not_make_two_presses_of_one() -> None:
    made = film("strict press", sets=(4,), camera=SIDE, noise=0.002, cycle_s=2.6)
    turn_s = made.reps[1].turn_s

    def lower(part: np.ndarray) -> None:
        part[:, WRISTS, 1] += 0.14 * STATURE_PX

    assert _count(_misread(made, turn_s - 0.1, turn_s + 0.12, lower), "strict press") == 4


def test_feet_hidden_behind_a_plate_take_no_deadlift_away() -> None:
    made = film("deadlift", sets=(4,), camera=SIDE, noise=0.002)
    turn_s = made.reps[1].turn_s

    def slip(part: np.ndarray) -> None:
        part[:, ANKLES, 1] -= 0.2 * STATURE_PX

    assert _count(_misread(made, turn_s - 0.1, turn_s + 1.5, slip), "deadlift") == 4


def test_a_bend_with_hanging_hands_between_two_sets_is_no_repetition() -> None:
    made = film("thruster", sets=(2, 2), camera=Camera(view_deg=30), rest_s=10.0, noise=0.002)
    middle_s = (made.breaks[0][0] + made.breaks[0][1]) / 2
    still = int(np.argmin(np.abs(made.track.time_s - middle_s)))
    raised = made.track.image_px[still, SHOULDERS, 1].mean()

    def bend_and_wipe(part: np.ndarray) -> None:
        share = np.linspace(0.0, 1.0, len(part))
        part[:, [*HIPS, *SHOULDERS], 1] += (0.14 * STATURE_PX * np.sin(np.pi * share) ** 2)[:, None]
        later = share > 0.35
        part[np.ix_(later, WRISTS, [1])] = raised

    track = _misread(made, middle_s - 0.6, middle_s + 0.6, bend_and_wipe)
    assert _count(track, "thruster") == 4


def test_feet_that_come_down_late_make_no_kip_of_a_strict_pull_up() -> None:
    script = Script(standing()).hold(1.0)
    for posture, seconds in EXERCISES["pull-up"].into:
        script.move(posture, seconds)
    script.hold(0.6)
    ends_s = []
    for _ in range(4):
        script.move(hanging(1.0), 1.1).move(hanging(), 1.1)
        ends_s.append(script.now_s)
        script.hold(1.0)
    track = script.play(SIDE, noise=0.002)
    image = track.image_px.copy()
    late_s = 0.6
    for point in (*ANKLES, *HEELS):
        image[:, point, 1] = np.interp(track.time_s - late_s, track.time_s, image[:, point, 1])
    reps = find_reps(replace(track, image_px=image), find_movement("pull-up")).reps
    assert len(reps) == 4
    # Half of the still moment in the hang belongs to the repetition before it.
    for rep, end_s in zip(reps[:-1], ends_s, strict=False):
        assert rep.end_s > end_s + 0.2
