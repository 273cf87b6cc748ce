"""A film that shows another movement than the one named ends the audit, unless that is insisted."""

from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from cli.audit import assess
from counting.movements.loader import find_movement
from counting.workout.likeness import Likeness


def squats():
    script = Script(standing())
    script.hold(0.6)
    for _ in range(3):
        script.move(squat(1.0), 0.8).hold(0.2).move(standing(), 0.8).hold(0.3)
    return play_in_metres(script, Camera(view_deg=20.0), rate_hz=12.0, noise=0.001)


def test_the_right_name_raises_no_doubt():
    assert assess._another_movement(squats(), find_movement("air squat")) is None


def test_a_wrong_name_is_told_with_what_the_film_looks_like(monkeypatch):
    seen = Likeness({"air squat": 0.98, "deadlift": 0.00001}, {"air squat": 9.0, "deadlift": 300.0})
    monkeypatch.setattr("counting.workout.likeness.film_likeness", lambda _: seen)
    assert assess._another_movement(squats(), find_movement("deadlift")) == (
        "this does not look like the deadlift (like the air squat: 98 %)"
    )
