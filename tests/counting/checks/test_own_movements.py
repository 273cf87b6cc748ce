"""Movements that a user wrote are judged like built-in ones."""

from synthetic.figure import Camera
from synthetic.films import overhead, standing, swung
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.checks.judge import judge
from counting.decision.conformance import Risk
from counting.movements.loader import parse_movement
from counting.timeline import find_reps

OVERHEAD_SQUAT = b"""
name = "overhead squat"
words = "A squat with the bar held overhead at arm's length."
apparatus = "barbell"
base = "standing"
[cycle]
driver = "hip height"
turn = "low"
hands = "overhead"
[[checks]]
name = "depth"
words = "hip crease below the top of the knee at the bottom"
quantity = "hip crease above knee top"
phase = "turn"
read = "lowest"
relation = "at most"
limit = 0.0
unit = "cm"
[[checks]]
name = "knees"
words = "knees straight at the end"
quantity = "knee angle"
phase = "finish"
read = "highest"
relation = "at least"
limit = 165.0
unit = "deg"
"""

SWING = b"""
name = "kettlebell swing"
words = "The weight is swung from between the legs to the height of the shoulders."
apparatus = "none"
base = "standing"
[cycle]
driver = "wrist height"
turn = "high"
hands = "free"
[[checks]]
name = "height"
words = "hands at the height of the shoulders or above"
quantity = "wrists above shoulders"
phase = "turn"
read = "highest"
relation = "at least"
limit = -10.0
unit = "cm"
"""


def verdicts(standard, start_position, fars, seconds, view_deg):
    """Judge a film of somebody who goes from the start to each of ``fars`` and back."""
    script = Script(standing())
    script.hold(0.6).move(start_position, 0.9).hold(0.5)
    for far in fars:
        script.move(far, seconds).hold(0.15).move(start_position, seconds).hold(0.25)
    script.hold(0.5).move(standing(), 0.9).hold(0.5)
    track = play_in_metres(script, Camera(view_deg=view_deg), rate_hz=15.0, noise=0.001)
    movement = parse_movement(standard, "own.toml")
    reps = find_reps(track, movement).reps
    assert len(reps) == len(fars)
    return judge(track, reps, movement, Risk()).verdicts


def test_a_shallow_overhead_squat_is_told_from_deep_ones():
    deep, shallow = overhead(1.0), overhead(0.55)
    judged = verdicts(OVERHEAD_SQUAT, overhead(), [deep, deep, shallow, deep], 0.9, view_deg=60.0)
    depth = [v.checks[0] for v in judged]
    assert [c.name for c in judged[0].checks] == ["depth", "knees"]
    assert depth[2].probability_met < 0.05
    assert depth[2].value > max(c.value for i, c in enumerate(depth) if i != 2) + 5.0
    assert all(v.verdict != "no-rep" for i, v in enumerate(judged) if i != 2)


def test_a_low_swing_is_told_from_full_ones():
    full, low = swung(1.0), swung(0.45)
    judged = verdicts(SWING, swung(0.0), [full, full, full, low], 0.7, view_deg=75.0)
    height = [v.checks[0] for v in judged]
    assert height[3].probability_met < 0.05
    assert height[3].value < min(c.value for c in height[:3]) - 10.0
    assert all(v.verdict != "no-rep" for v in judged[:3])
