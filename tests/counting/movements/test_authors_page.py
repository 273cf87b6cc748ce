"""What the page for authors shows can be used as it stands."""

import re
from dataclasses import replace
from pathlib import Path

from synthetic.figure import Camera
from synthetic.films import planked, standing
from synthetic.script import Script

from counting.movements.loader import parse_movement
from counting.timeline import find_reps

PAGE = (Path(__file__).parents[3] / "counting" / "movements" / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


def test_the_pages_movement_is_without_fault_and_counted():
    assert len(BLOCKS) == 5
    wall_walk = parse_movement((BLOCKS[0] + BLOCKS[4].partition("\n\n")[2]).encode(), "page")
    assert wall_walk.load is not None
    lying = planked(0.0)
    upside_down = replace(
        lying, hip=(0.2, 0.6), lean_deg=175.0, wrist=(0.25, 0.02), ankle=(0.1, 1.08)
    )
    script = Script(standing()).hold(0.8).move(planked(), 0.9).move(lying, 0.6).hold(0.6)
    for _ in range(3):
        script.move(planked(), 0.8).move(upside_down, 2.5).hold(0.8)
        script.move(planked(), 2.5).move(lying, 0.8).hold(0.5)
    script.move(planked(), 0.6).move(standing(), 0.9).hold(1.5)
    found = find_reps(script.play(Camera(view_deg=70.0), noise=0.004), wall_walk)
    assert len(found.reps) == 3


def test_the_pages_check_can_be_put_into_a_movement():
    squat = (Path(__file__).parents[3] / "counting/movements/standards/squat_clean.toml").read_text(
        "utf-8"
    )
    without = re.sub(r"\[\[checks\]\].*?\n\n", "", squat, flags=re.DOTALL, count=1)
    assert parse_movement((without + "\n" + BLOCKS[2]).encode(), "page").checks[-1].name == "depth"


def test_the_pages_sides_can_be_put_into_a_movement():
    movement = parse_movement((BLOCKS[0] + BLOCKS[1]).encode(), "page")
    assert movement.sides is not None
    assert movement.sides.done == "alternating"


def test_the_pages_object_can_be_put_into_a_movement():
    movement = parse_movement((BLOCKS[0] + BLOCKS[3]).encode(), "page")
    assert [asked.object for asked in movement.objects] == ["ball"]
