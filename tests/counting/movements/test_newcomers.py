"""Files for movements that are not shipped, written from the authors' page alone, hold.

How the movements go is common practice, no source.
"""

from dataclasses import replace

import pytest
from synthetic.figure import ANKLE, TRUNK, Camera, Posture
from synthetic.films import crouched, lifted, overhead, planked, standing
from synthetic.moves import feet, hands, inverted
from synthetic.script import Script

from counting.movements.loader import parse_movement
from counting.timeline import find_reps

VIEWS = [30.0, 55.0, 85.0]

DEVILS_PRESS = b"""
name = "devil's press"
words = "A burpee with the hands on two dumbbells, which then swing overhead in one motion."
apparatus = "none"
base = "standing"
by_eye = ["the dumbbells do not stop at the shoulders"]
checks = []

[[phases]]
name = "over the dumbbells"
words = "standing over the dumbbells"
where = { "shoulders above feet" = { above = 0.45 }, "hands above shoulders" = { below = -0.1 } }
usual_s = 0.6

[[phases]]
name = "down"
words = "the chest on the floor"
where = { "shoulders above feet" = { below = 0.3 } }
usual_s = 0.8

[[phases]]
name = "overhead"
words = "standing tall, both dumbbells overhead"
part = "turn"
where = { "shoulders above feet" = { above = 0.6 }, "hands above shoulders" = { above = 0.05 } }
reach = { "hands above shoulders" = { above = 0.2 } }
usual_s = 0.6
"""

BEAR_CRAWL = b"""
name = "bear crawl step"
words = "On hands and feet, the hips low: each step of a hand is counted."
apparatus = "none"
base = "floor"
filming = "From the side."
checks = []

[sides]
done = "alternating"
told_by = "higher hand"

[[phases]]
name = "both hands down"
words = "both hands on the floor"
where = { "higher hand above lower hand" = { below = 0.04 }, "hands above feet" = { below = 0.2 } }
usual_s = 0.3

[[phases]]
name = "step"
words = "one hand is in the air"
part = "turn"
where = { "higher hand above lower hand" = { above = 0.06 }, "hands above feet" = { below = 0.2 } }
usual_s = 0.3
"""

WALL_WALK = b"""
name = "wall walk"
words = "From lying before the wall up into a handstand against it, and back down."
apparatus = "none"
base = "inverted"
by_eye = ["the hands are within the line at the top"]
checks = []

[[phases]]
name = "lying"
words = "lying before the wall"
where = { "feet above hips" = { below = 0.15 }, "shoulders above feet" = { below = 0.35 } }
usual_s = 1.5

[[phases]]
name = "handstand"
words = "upside down, the feet up the wall"
part = "turn"
where = { "feet above hips" = { above = 0.25 } }
reach = { "feet above hips" = { above = 0.35 } }
usual_s = 1.5
"""


def reps(file: bytes, script: Script, view_deg: float):
    movement = parse_movement(file, "own.toml")
    return find_reps(script.play(Camera(view_deg, distance=3.6), noise=0.004), movement).reps


def pressed_over(script: Script, height: float = 0.99) -> Script:
    script.move(crouched(), 0.5).move(planked(), 0.3).move(planked(0.0), 0.4).hold(0.15)
    script.move(planked(), 0.4).move(crouched(), 0.4).move(lifted(0.3), 0.4)
    return script.move(overhead(reach=height), 0.7).hold(0.2).move(lifted(0.6), 0.6)


@pytest.mark.parametrize("view_deg", VIEWS)
def test_devils_presses_are_counted_and_a_short_one_is_told(view_deg: float) -> None:
    script = Script(standing()).hold(0.8).move(lifted(0.6), 0.6)
    for height in (0.99, 0.99, 0.35, 0.99):
        pressed_over(script, height)
    found = reps(DEVILS_PRESS, script.move(standing(), 0.6).hold(2.0), view_deg)
    assert len(found) == 4
    reached = [rep.phases[1].extents[0] for rep in found]
    assert reached[2].value < reached[2].asked - 0.05
    assert all(reached[k].value > reached[k].asked for k in (0, 1, 3))


def crawled(y: float, ahead: str | None = None, lift: float = 0.0) -> Posture:
    """On hands and feet at ``y``; the hand that steps is ``lift`` above the floor."""
    body = Posture((y - 0.05, 0.4), 100.0, (0.0, 0.0), (y - 0.3, ANKLE), elbow_side=-1.0)
    shoulder_y = y - 0.05 + TRUNK
    front, back = (shoulder_y + 0.14, 0.02), (shoulder_y - 0.06, 0.02)
    stepping = (shoulder_y + 0.04, 0.02 + lift)
    if lift:
        near = (shoulder_y + 0.04, 0.02)
        left, right = (stepping, near) if ahead == "left" else (near, stepping)
    else:
        left, right = (front, back) if ahead == "left" else (back, front)
    return hands(feet(body, (y - 0.25, ANKLE), (y - 0.35, ANKLE)), left, right)


def crawl(sides: list[str]) -> Script:
    script = Script(standing()).hold(0.8).move(crawled(0.0, "right"), 1.0).hold(0.4)
    for place, side in enumerate(sides):
        script.move(crawled(0.1 * place + 0.05, side, 0.12), 0.25)
        script.move(crawled(0.1 * place + 0.1, side), 0.25).hold(0.15)
    return script.move(standing(0.1 * len(sides)), 1.0).hold(2.0)


@pytest.mark.parametrize("view_deg", VIEWS)
def test_a_bear_crawls_steps_are_counted_with_their_sides(view_deg: float) -> None:
    sides = ["left", "right"] * 4
    found = reps(BEAR_CRAWL, crawl(sides), view_deg)
    assert [rep.side.name for rep in found if rep.side] == sides


@pytest.mark.parametrize("view_deg", VIEWS)
def test_wall_walks_are_counted_and_one_halfway_up_is_told(view_deg: float) -> None:
    lying = planked(0.0)
    script = Script(standing()).hold(0.8).move(planked(), 0.9).move(lying, 0.6).hold(0.6)
    half = replace(planked(), hip=(0.0, 0.55), lean_deg=140.0, ankle=(-0.1, 0.84))
    for top in (inverted(1.0), half, inverted(1.0)):
        script.move(planked(), 0.8).move(top, 2.5).hold(0.8)
        script.move(planked(), 2.5).move(lying, 0.8).hold(0.5)
    found = reps(WALL_WALK, script.move(planked(), 0.6).move(standing(), 0.9).hold(1.5), view_deg)
    assert len(found) == 3
    reached = [rep.phases[0].extents[0] for rep in found]
    assert reached[1].value < reached[1].asked
    assert all(reached[k].value > reached[k].asked + 0.05 for k in (0, 2))
