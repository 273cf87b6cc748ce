"""What is known of the athlete's height, and what lengths make of it."""

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.body.evidence import STATURE_M
from counting.checks.judge import judge
from counting.checks.stature import ASSUMED, by_plates, given
from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.timeline import find_reps

SQUAT = find_movement("air squat")


@pytest.fixture(scope="module")
def filmed():
    script = Script(standing())
    for _ in range(3):
        script.move(squat(1.0), 1.0).move(standing(), 1.0)
    track = play_in_metres(script, Camera(view_deg=60.0), rate_hz=20.0, noise=0.003)
    return track, find_reps(track, SQUAT).reps


def read(judged, unit):
    return [
        check
        for verdict in judged.verdicts
        for check in verdict.checks
        if check.unit == unit and check.value is not None
    ]


def test_lengths_follow_a_height_that_is_told_and_angles_do_not(filmed):
    track, reps = filmed
    plain = judge(track, reps, SQUAT, Risk())
    told = judge(track, reps, SQUAT, Risk(), stature_of=lambda _: given(1.1 * STATURE_M))
    assert plain.stature_source == "assumed"
    assert (told.stature_source, told.stature_m) == ("given", pytest.approx(1.1 * STATURE_M))
    assert told.camera_distance_m == pytest.approx(1.1 * plain.camera_distance_m)
    assert read(plain, "deg") == read(told, "deg")
    lengths = [(a.value, b.value) for a, b in zip(read(plain, "cm"), read(told, "cm"), strict=True)]
    assert lengths
    for before, after in lengths:
        assert after == pytest.approx(1.1 * before, abs=0.5)


def test_a_height_that_is_known_makes_lengths_surer(filmed):
    track, reps = filmed
    plain = judge(track, reps, SQUAT, Risk())
    told = judge(track, reps, SQUAT, Risk(), stature_of=lambda _: given(STATURE_M))
    for before, after in zip(read(plain, "cm"), read(told, "cm"), strict=True):
        assert after.uncertainty < before.uncertainty


def test_plates_and_what_is_known_weigh_by_the_inverse_squares_of_their_errors():
    """Inverse-variance weighting of two independent estimates: textbook, from memory."""
    found = by_plates(ASSUMED, 1.1, ASSUMED.spread)
    assert found.scale == pytest.approx(np.sqrt(1.1))
    assert found.spread == pytest.approx(ASSUMED.spread / np.sqrt(2))
    sure = by_plates(given(1.9), 1.9 / STATURE_M, 0.02)
    assert sure.height_m == pytest.approx(1.9)
    assert sure.source == "plates"


def test_a_height_that_is_told_is_off_by_a_centimetre_and_a_half():
    """Shoes, rounding and flattery: common practice, no source."""
    assert given(2.0).u_m == pytest.approx(0.015)
