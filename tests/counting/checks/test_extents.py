"""Sides that a standard asks to alternate: a repeated one is for an eye, never a no-rep."""

from counting.checks.extents import side_notes, side_readings
from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.reps.types import Rep, SideSeen

LUNGE = find_movement("walking lunge")
RISK = Risk(0.95, 0.05)


def lunges(*sides: str | None, rest_after: int = 0) -> list[Rep]:
    reps = []
    for place, side in enumerate(sides):
        start_s = 2.0 * place + (9.0 if rest_after and place >= rest_after else 0.0)
        times = (start_s, start_s + 1.0, start_s + 2.0)
        seen = None if side is None else SideSeen(side, 0.2)
        reps.append(Rep(place + 1, LUNGE.name, 0, 0, 0, *times, side=seen))
    return reps


def test_alternating_sides_are_met_and_a_repeated_one_is_too_close():
    readings = side_readings(lunges("left", "right", "right", "left"), LUNGE, RISK)
    assert [one and one.verdict for one in readings] == [None, "met", "too close", "met"]
    again = readings[2]
    assert again is not None
    assert again.reason == "the right side again, as it seems"
    assert again.low <= again.limit <= again.high


def test_after_a_rest_and_beside_a_side_that_was_not_seen_nothing_is_asked():
    readings = side_readings(lunges("left", "left", rest_after=1), LUNGE, RISK)
    assert readings == [None, None]
    assert side_readings(lunges("left", None, "left"), LUNGE, RISK) == [None, None, None]


def test_where_either_side_may_work_sides_are_told_and_not_asked_for():
    either = find_movement("single-arm dumbbell snatch")
    reps = lunges("left", "left", "right", None)
    readings = side_readings(reps, either, RISK)
    assert readings == [None] * 4
    assert list(side_notes(reps, either, readings)) == [
        "sides, as seen: left 2, not seen 1, right 1"
    ]


def test_notes_name_the_reps_that_repeat_a_side():
    reps = lunges("left", "right", "right")
    notes = list(side_notes(reps, LUNGE, side_readings(reps, LUNGE, RISK)))
    assert notes[1].endswith("for a person to call: 3")
