"""Every shipped movement is counted as it is done, from its file alone.

The figure moves as each movement is taught (common practice, no source); what it holds is known.
"""

import re
from pathlib import Path

import pytest
from synthetic.figure import Camera
from synthetic.films import film, standing
from synthetic.moves import MOVES, STEP, lunged, snatched
from synthetic.script import Script

from counting.checks.coverage import judged_views
from counting.movements.loader import built_in_movements, find_movement
from counting.movements.types import Movement
from counting.timeline import find_reps

VIEWS = (20.0, 45.0, 80.0)
TOGETHER = [m.name for m in built_in_movements() if m.name != "rope skip"]


def test_the_figure_does_every_movement():
    assert set(MOVES) == {movement.name for movement in built_in_movements()}


@pytest.mark.parametrize("place", range(len(TOGETHER)), ids=TOGETHER)
def test_two_sets_are_counted_exactly(place: int) -> None:
    movement = find_movement(TOGETHER[place])
    assert movement.load is not None
    done = film(
        movement.name,
        sets=(3, 2),
        cycle_s=movement.load.cycle_s,
        exercises=MOVES,
        camera=Camera(VIEWS[place % 3], distance=3.4, height=0.7),
        noise=0.004,
    )
    found = find_reps(done.track, movement)
    assert [(own.first_rep, own.last_rep) for own in found.sets] == [(1, 3), (4, 5)]
    for rep, true in zip(found.reps, done.reps, strict=True):
        assert rep.start_s < true.turn_s < rep.end_s


@pytest.mark.parametrize("view_deg", VIEWS)
@pytest.mark.parametrize("name", ["box jump over", "walking lunge"])
def test_who_moves_towards_the_camera_is_counted_all_the_same(name: str, view_deg: float) -> None:
    camera = Camera(view_deg, distance=3.4, height=0.7)
    done = film(name, cycle_s=2.2, exercises=MOVES, camera=camera, noise=0.004)
    assert len(find_reps(done.track, find_movement(name)).reps) == 5


@pytest.mark.parametrize("view_deg", VIEWS)
@pytest.mark.parametrize("skip_s", [0.4, 0.5, 0.7])
def test_rope_skips_are_counted_by_the_jumps(skip_s: float, view_deg: float) -> None:
    camera = Camera(view_deg, distance=3.4, height=0.7)
    done = film("rope skip", (14, 10), skip_s, exercises=MOVES, camera=camera, noise=0.006)
    found = find_reps(done.track, find_movement("rope skip"))
    assert [(own.first_rep, own.last_rep) for own in found.sets] == [(1, 14), (15, 24)]


def test_the_side_of_each_lunge_is_told():
    sides = ["left", "right", "right", "left"]
    script = Script(standing()).hold(1.0)
    for place, side in enumerate(sides):
        script.move(lunged(place * STEP, side), 1.0).move(standing((place + 1) * STEP), 1.0)
    track = script.hold(1.0).play(Camera(60.0, distance=3.4), noise=0.004)
    found = find_reps(track, find_movement("walking lunge")).reps
    # The leg in front works; the knee that goes down is the other one's.
    other = {"left": "right", "right": "left"}
    assert [other[rep.side.name] for rep in found if rep.side] == sides


def test_the_side_of_each_one_armed_lift_is_told_and_of_a_lift_with_both_hands_nothing():
    sides = ["left", "left", "right"]
    script = Script(standing()).hold(1.0)
    for side in sides:
        script.move(snatched(side, 0.0), 0.9).hold(0.2).move(snatched(side, 1.0), 0.9).hold(0.2)
        script.move(snatched(side, 0.0), 0.9).hold(0.1)
    track = script.move(standing(), 0.9).hold(1.0).play(Camera(40.0), noise=0.004)
    found = find_reps(track, find_movement("single-arm dumbbell snatch")).reps
    assert [rep.side.name for rep in found if rep.side] == sides
    done = film("power snatch", cycle_s=3.0, exercises=MOVES, noise=0.004)
    assert all(
        rep.side is None for rep in find_reps(done.track, find_movement("power snatch")).reps
    )


@pytest.mark.parametrize("movement", built_in_movements(), ids=lambda movement: movement.name)
def test_all_that_belongs_to_a_movement_is_in_its_file(movement: Movement) -> None:
    assert movement.recognised is not None
    assert movement.load is not None
    judged = any(judged_views(check, movement) for check in movement.checks)
    assert judged or movement.by_eye
    assert judged or movement.filming


@pytest.mark.parametrize(
    ("name", "thing"),
    [
        ("swing overhead", "weight"),
        ("swing to the eyes", "weight"),
        ("goblet squat", "weight"),
        ("ground-to-overhead", "weight"),
        ("sumo deadlift high pull", "weight"),
        ("single-arm dumbbell snatch", "dumbbell"),
        ("ring muscle-up", "rings"),
    ],
)
def test_what_is_asked_of_a_thing_that_nobody_looks_for_is_left_to_an_eye(name, thing) -> None:
    movement = find_movement(name)
    assert any(thing in words for words in movement.by_eye)
    assert not movement.objects


def test_no_module_knows_a_movements_name() -> None:
    """But examples in help texts, and athletes that are simulated for measurements."""
    names = "|".join(re.escape(movement.name) for movement in built_in_movements())
    known = re.compile(rf"[\"'](?:{names})s?[\"']")
    root = Path(__file__).parents[3]
    found = {
        str(file.relative_to(root))
        for package in ("cli", "counting", "vision")
        for file in (root / package).rglob("*.py")
        if known.search(file.read_text("utf-8"))
    }
    assert {file for file in found if not file.startswith("counting/pacing/measure/")} == set()
