"""Both feet on the box, or one beside it."""

from dataclasses import replace

import numpy as np
import pytest

from counting.decision.conformance import Risk
from counting.movements.loader import known_movements
from counting.objects.box import box_top, feet_above_box, soles
from counting.objects.readings import Measured, Unseen, reading
from counting.reps.types import PhaseSeen, Rep
from vision.pose.landmarks import LANDMARK_COUNT, Landmark
from vision.track import PoseTrack

STATURE_M, STATURE_PX = 1.73, 346.0
FLOOR_PX, BOX_PX = 1000.0, 120.0
"""Two pixels a centimetre; a box of 60 cm."""
REP_S, RATE_HZ = 2.4, 30.0


def jumped(second_foot_cm: list[float], noise_px: float = 1.5) -> tuple[PoseTrack, list[Rep]]:
    """Reps onto a box: how high the second foot gets over its top, centimetres."""
    time_s = np.arange(round(REP_S * RATE_HZ * len(second_foot_cm))) / RATE_HZ
    since_s = time_s % REP_S
    up = np.clip((since_s - 0.6) / 0.3, 0, 1) * np.clip((2.1 - since_s) / 0.3, 0, 1)
    short_px = -2.0 * np.array(second_foot_cm)[(time_s // REP_S).astype(int)]
    points = np.full((len(time_s), LANDMARK_COUNT, 2), np.nan)
    rng = np.random.default_rng(4)
    for side, x, below in (("LEFT", 340.0, 0.0), ("RIGHT", 380.0, 1.0)):
        lift = up * (BOX_PX - below * short_px)
        for name, height in (
            ("SHOULDER", 0.818), ("HIP", 0.53), ("KNEE", 0.285), ("ANKLE", 0.039),
            ("HEEL", 0.0), ("FOOT_INDEX", 0.0),
        ):  # fmt: skip
            points[:, Landmark[f"{side}_{name}"], 0] = x
            points[:, Landmark[f"{side}_{name}"], 1] = FLOOR_PX - height * STATURE_PX - lift
    empty = PoseTrack.unobserved(time_s, 720, 1280)
    points += rng.normal(0, noise_px, points.shape)
    track = replace(empty, image_px=points, visibility=np.ones_like(empty.visibility))
    reps = [
        Rep(
            k + 1,
            "box jump",
            0,
            0,
            0,
            REP_S * k,
            REP_S * k + 1.3,
            REP_S * (k + 1),
            (PhaseSeen("on the box", REP_S * k + 0.75, REP_S * k + 1.95),),
        )
        for k in range(len(second_foot_cm))
    ]
    return track, reps


def verdicts(second_foot_cm: list[float]) -> list[str]:
    check = known_movements(())["box jump"].objects[0]
    track, reps = jumped(second_foot_cm)
    found = feet_above_box(soles(track, reps), reps, track, STATURE_M, seen=True)
    return [reading(check, one, Risk()).verdict for one in found]


def test_both_feet_on_the_box_stand_and_one_beside_it_does_not() -> None:
    assert verdicts([0.0, 0.0, -25.0, 0.0, -50.0]) == ["met", "met", "not met", "met", "not met"]


def test_a_foot_little_below_the_other_is_left_to_a_person() -> None:
    """By the error of its height, 2.2 % of stature: 6.3 cm about the 10 asked, 95 % of one side."""
    told = verdicts([0.0, -3.0, -6.0, -10.0, -15.0, -18.0, 0.0])
    assert told[1:-1] == ["met", "too close", "too close", "too close", "not met"]


def test_the_lower_foot_is_measured_from_where_feet_rest() -> None:
    track, reps = jumped([0.0, -30.0, 0.0], noise_px=0.0)
    stands = soles(track, reps)
    found = feet_above_box(stands, reps, track, STATURE_M, seen=True)
    values = [one.value for one in found if isinstance(one, Measured)]
    assert values == pytest.approx([0.0, -30.0, 0.0], abs=1.0)
    top = box_top(stands)
    assert top is not None
    assert top[1] == pytest.approx(FLOOR_PX - BOX_PX, abs=1.0)


def test_a_foot_that_only_passes_by_does_not_stand() -> None:
    track, reps = jumped([0.0, -40.0, 0.0], noise_px=0.0)
    points = track.image_px.copy()
    rows = np.flatnonzero(np.abs(track.time_s - 3.7) < 0.04)
    for name in ("RIGHT_HEEL", "RIGHT_FOOT_INDEX"):
        points[rows, Landmark[name], 1] = FLOOR_PX - BOX_PX
    track = replace(track, image_px=points)
    found = feet_above_box(soles(track, reps), reps, track, STATURE_M, seen=True)
    assert isinstance(found[1], Measured)
    assert found[1].value < -35.0


def test_without_a_box_in_the_picture_nothing_is_judged() -> None:
    track, reps = jumped([0.0, -40.0])
    found = feet_above_box(soles(track, reps), reps, track, STATURE_M, seen=False)
    assert found == [Unseen("the box was not seen")] * 2


def test_feet_that_were_not_seen_are_not_judged() -> None:
    track, reps = jumped([0.0, 0.0])
    points = track.image_px.copy()
    points[track.time_s > REP_S] = np.nan
    hidden = replace(track, image_px=points)
    found = feet_above_box(soles(hidden, reps), reps, hidden, STATURE_M, seen=True)
    assert found[1] == Unseen("the feet were not seen on the box")
