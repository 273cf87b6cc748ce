"""Movements that are described by phases are told apart in a workout like those with a cycle."""

from collections import Counter

from synthetic.figure import Camera
from synthetic.films import lifted, overhead, racked, squat, standing, swung
from synthetic.script import Script

from counting.movements.loader import known_movements
from counting.timeline import find_reps
from counting.workout.alignment import follow
from counting.workout.file import parse_workout

WORKOUT = """
name = "four stations"
scoring = "for time"
missing_reps = "deducted"
time_cap_s = 600
[[blocks]]
[[blocks.stations]]
movement = "swing overhead"
reps = 5
[[blocks.stations]]
movement = "squat clean"
reps = 3
[[blocks.stations]]
movement = "air squat"
reps = 5
[[blocks.stations]]
movement = "overhead squat"
reps = 4
"""


def test_each_rep_is_placed_at_its_station():
    script = Script(standing()).hold(2.0).move(swung(0.0), 0.8)
    for _ in range(5):
        script.move(swung(1.85), 0.75).hold(0.05).move(swung(0.0), 0.75).hold(0.05)
    script.move(standing(), 0.8).hold(4.0).move(lifted(0.0), 0.9).hold(0.3)
    for _ in range(3):
        script.move(lifted(0.97), 0.7).move(racked(1.0), 0.45).hold(0.1)
        script.move(racked(0.0), 0.7).hold(0.3).move(lifted(0.97), 0.4).move(lifted(0.0), 0.6)
        script.hold(0.15)
    script.move(standing(), 0.8).hold(4.0)
    for _ in range(5):
        script.move(squat(1.0), 0.8).move(standing(), 0.8).hold(0.15)
    script.hold(3.0).move(lifted(0.0), 0.9).move(lifted(0.97), 0.7).move(racked(), 0.5).hold(0.6)
    script.move(overhead(), 0.6).hold(0.4)
    for _ in range(4):
        script.move(overhead(1.0), 1.0).move(overhead(), 1.0).hold(0.2)
    script.move(racked(), 0.6).move(lifted(0.97), 0.5).move(lifted(0.0), 0.8)
    script.move(standing(), 0.8).hold(2.0)
    movements = known_movements()
    followed = follow(
        script.play(Camera(), noise=0.004),
        parse_workout(WORKOUT, "own", movements),
        movements,
        lambda track, movement: find_reps(track, movement).reps,
    )
    assert Counter((item.rep.movement, item.run) for item in followed.reps) == {
        ("swing overhead", 0): 5,
        ("squat clean", 1): 3,
        ("air squat", 2): 5,
        ("overhead squat", 3): 4,
    }
