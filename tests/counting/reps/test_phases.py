"""Repetitions found as sequences of phases: none is invented, none dropped, short ones are told.

Films are of a figure whose motion is known; the motions follow how each movement is taught (common
practice, no source).
"""

from dataclasses import replace

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import (
    crouched,
    hanging,
    lifted,
    overhead,
    planked,
    racked,
    squat,
    standing,
    swung,
)
from synthetic.moves import on_the_back
from synthetic.script import Script, with_gap

from counting.movements.loader import find_movement, parse_movement
from counting.timeline import find_reps

VIEW = Camera()


def seen(script, movement, **played):
    return find_reps(script.play(VIEW, noise=0.004, **played), find_movement(movement))


def cleans(*depths, rest_s=0.15):
    """Squat cleans from the floor; ``depths`` are how low each is caught, None for standing."""
    script = Script(standing()).hold(0.8).move(lifted(0.0), 0.9).hold(0.3)
    borders = []
    for depth in depths:
        begin_s = script.now_s
        script.move(lifted(0.97), 0.7).move(racked(depth or 0.0), 0.45).hold(0.1)
        script.move(racked(0.0), 0.7).hold(0.3).move(lifted(0.97), 0.4).move(lifted(0.0), 0.6)
        borders.append((begin_s, script.now_s))
        script.hold(rest_s)
    return script.move(standing(), 0.8).hold(0.8), borders


def test_a_squat_before_the_turn_to_standing_is_one_repetition_with_it():
    script, borders = cleans(1.0, 0.9, 1.0)
    found = seen(script, "squat clean").reps
    assert len(found) == 3
    for rep, (begin_s, end_s) in zip(found, borders, strict=True):
        assert rep.start_s == pytest.approx(begin_s, abs=0.25)
        assert rep.end_s == pytest.approx(end_s, abs=0.25)
        assert [phase.name for phase in rep.phases] == ["bottom", "rack"]
        assert begin_s + 1.0 < rep.turn_s < begin_s + 1.5


def test_a_phase_that_was_left_out_makes_an_attempt_that_lacks_it():
    script, _ = cleans(1.0, None, 1.0)
    found = seen(script, "squat clean").reps
    assert len(found) == 3
    bottom = found[1].phases[0]
    assert (bottom.name, bottom.first_s) == ("bottom", None)
    (hips,) = bottom.extents
    assert (hips.measure, hips.at_least) == ("hips above feet", False)
    assert hips.value > hips.asked + 0.05
    assert found[0].phases[0].first_s is not None


def swings(*heights):
    script = Script(standing()).hold(0.6).move(swung(0.0), 0.8)
    for height in heights:
        script.move(swung(height), 0.75).hold(0.05).move(swung(0.0), 0.75).hold(0.05)
    return script.move(standing(), 0.8).hold(0.8)


def test_a_short_swing_is_listed_and_told_and_not_dropped():
    script = swings(1.85, 1.85, 1.05, 1.85)
    found = seen(script, "swing overhead").reps
    assert len(found) == 4
    reached = [rep.phases[0].extents[0] for rep in found]
    assert all(extent.at_least and extent.measure == "hands above shoulders" for extent in reached)
    assert reached[2].value < reached[2].asked - 0.1
    assert all(extent.value > extent.asked for k, extent in enumerate(reached) if k != 2)


@pytest.mark.parametrize("pace", [0.6, 1.0, 2.2])
def test_durations_follow_the_athletes_own_rhythm(pace):
    script = Script(racked(0.0)).hold(0.6)
    for _ in range(5):
        script.move(overhead(), 0.8 * pace).hold(0.1).move(racked(0.0), 0.8 * pace).hold(0.2 * pace)
    script.hold(0.6)
    assert len(seen(script, "push press").reps) == 5


def test_what_is_done_between_sets_is_no_attempt():
    script = Script(standing()).hold(1.0)
    for _ in range(2):
        script.move(racked(), 0.6).hold(0.3)
        for _ in range(3):
            script.move(overhead(), 0.8).hold(0.1).move(racked(), 0.8).hold(0.2)
        # the bar goes down, a drink is lifted to the mouth, the bar comes up again
        script.move(lifted(0.97), 0.5).move(lifted(0.0), 0.8).move(standing(), 0.8).hold(1.5)
        script.move(squat(0.9), 0.8).move(standing(), 0.8).hold(1.0)
        script.move(lifted(0.0), 0.9).move(lifted(0.97), 0.7)
    found = seen(script, "push press")
    assert len(found.reps) == 6
    assert [(own.first_rep, own.last_rep) for own in found.sets] == [(1, 3), (4, 6)]


def test_getting_up_for_good_is_no_repetition():
    """From lying on the floor through sitting to standing: the sit-up's phases, but never back."""
    lying = replace(planked(0.0), lean_deg=88.0)
    script = Script(standing()).hold(0.8).move(crouched(), 0.7).move(planked(1.0), 0.5)
    for _ in range(3):
        script.move(lying, 0.7).hold(0.1).move(planked(1.0), 0.7).hold(0.1)
    script.move(crouched(), 0.5).move(standing(), 0.8).hold(3.0)
    push_ups = find_movement("hand-release push-up")
    assert len(find_reps(script.play(VIEW, noise=0.004), push_ups).reps) == 3
    burpees = seen(script, "burpee over the bar").reps
    assert len(burpees) == 1


def test_feet_up_to_the_bar_are_counted_and_how_near_they_came_is_told():
    def raised(share):
        body = hanging(0.0, swing_deg=18.0 * share)
        hip, wrist = body.hip, body.wrist
        return replace(
            body,
            ankle=(
                hip[0] + share * (wrist[0] + 0.06 - hip[0]),
                hip[1] - 0.48 + share * (wrist[1] - 0.05 - hip[1] + 0.48),
            ),
        )

    script = Script(hanging()).hold(0.8)
    for share in (1.0, 1.0, 0.75, 1.0):
        script.move(raised(share), 0.7).hold(0.05).move(raised(0.0), 0.7).hold(0.15)
    script.hold(1.0)
    found = seen(script, "toes-to-bar").reps
    assert len(found) == 4
    values = [rep.phases[0].extents[0].value for rep in found]
    assert min(values[0], values[1], values[3]) > -0.15
    assert values[2] < min(values[0], values[1], values[3]) - 0.1


def test_a_gap_in_sight_is_bridged_and_an_empty_film_holds_nothing():
    script = swings(1.85, 1.85, 1.85)
    track = with_gap(script.play(VIEW, noise=0.004), 2.4, 2.8)
    assert len(find_reps(track, find_movement("swing overhead")).reps) == 3
    unseen = replace(track, image_px=np.full_like(track.image_px, np.nan))
    unseen = replace(unseen, visibility=np.zeros_like(track.visibility))
    assert find_reps(unseen, find_movement("swing overhead")).reps == ()


OWN = b"""
name = "planked stand-up"
words = "From a plank up to standing with the hands overhead, and back to the plank."
apparatus = "none"
base = "standing"
checks = []
[[phases]]
name = "plank"
words = "hands and feet on the floor"
where = { "shoulders above feet" = { below = 0.42 } }
[[phases]]
name = "reach"
words = "standing, hands overhead"
part = "turn"
where = { "shoulders above feet" = { above = 0.6 }, "hands above shoulders" = { above = 0.0 } }
reach = { "hands above shoulders" = { above = 0.15 } }
"""


def test_a_newcomers_movement_is_counted_from_its_file_alone():
    script = Script(standing()).hold(0.8).move(crouched(), 0.7).move(planked(), 0.4).hold(0.3)
    for _ in range(4):
        script.move(crouched(), 0.5).move(overhead(), 0.8).hold(0.2)
        script.move(crouched(), 0.8).move(planked(), 0.5).hold(0.3)
    script.move(crouched(), 0.6).move(standing(), 0.7).hold(1.2)
    found = find_reps(script.play(VIEW, noise=0.004), parse_movement(OWN, "own.toml")).reps
    assert len(found) == 4


def test_who_lies_stands_up_and_sits_down_again_has_done_no_sit_up():
    """Between lying and sitting the hips stay on the floor: both phases say so."""
    lying, sitting = on_the_back(0.0), on_the_back(1.0)
    script = Script(lying).hold(0.8)
    for _ in range(2):
        for _ in range(3):
            script.move(sitting, 0.9).hold(0.1).move(lying, 0.9).hold(0.3)
        script.move(sitting, 0.9).move(standing(), 0.9).hold(2.0)
        script.move(sitting, 0.9).move(lying, 0.9).hold(0.5)
    found = find_reps(script.play(Camera(view_deg=90.0), noise=0.004), find_movement("sit-up"))
    assert len(found.reps) == 6
