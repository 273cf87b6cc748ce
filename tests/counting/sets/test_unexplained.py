"""Stretches in which reps may be hidden, on a signal whose every second is known."""

from dataclasses import replace

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.movements.loader import find_movement
from counting.sets.unexplained import unexplained_stretches
from counting.timeline import find_reps

SQUAT = find_movement("air squat")


@pytest.fixture(scope="module")
def timeline():
    """Six squats, back to back."""
    script = Script(standing())
    script.hold(1.0)
    for _ in range(6):
        script.move(squat(1.0), 0.8).hold(0.2).move(standing(), 0.8).hold(0.3)
    script.hold(1.0)
    track = play_in_metres(script, Camera(view_deg=30.0), rate_hz=15.0, noise=0.001)
    found = find_reps(track, SQUAT)
    assert len(found.reps) == 6
    return found


def test_a_film_whose_every_rep_was_found_hides_none(timeline):
    assert unexplained_stretches(timeline.signals, timeline.driver, timeline.reps) == ()


def test_a_rep_that_was_not_made_one_is_told(timeline):
    reps = [rep for rep in timeline.reps if rep.number != 3]
    (stretch,) = unexplained_stretches(timeline.signals, timeline.driver, reps)
    missed = timeline.reps[2]
    assert stretch.why == "moved"
    assert stretch.most == 1
    assert stretch.start_s <= missed.turn_s <= stretch.end_s


def test_where_the_body_was_not_read_there_may_be_as_many_as_fit(timeline):
    first, last = timeline.reps[1].start_s, timeline.reps[3].end_s
    time_s = timeline.signals.time_s
    driver = np.where((time_s > first) & (time_s < last), np.nan, timeline.driver)
    reps = [rep for rep in timeline.reps if rep.number not in (2, 3, 4)]
    (stretch,) = unexplained_stretches(timeline.signals, driver, reps)
    assert stretch.why == "not read"
    assert stretch.most == 3


def test_going_up_to_the_bar_once_is_no_rep_but_going_twice_may_be(timeline):
    later = list(timeline.reps[1:])
    assert unexplained_stretches(timeline.signals, timeline.driver, later) == ()
    (stretch,) = unexplained_stretches(timeline.signals, timeline.driver, later[1:])
    assert stretch.most == 2
    assert stretch.end_s <= timeline.reps[2].start_s


def test_a_film_without_reps_is_unexplained_only_where_nothing_was_read(timeline):
    assert unexplained_stretches(timeline.signals, timeline.driver, []) == ()
    empty = replace(timeline.signals, time_s=np.zeros(0))
    assert unexplained_stretches(empty, np.zeros(0), []) == ()
