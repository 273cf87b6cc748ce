"""Legs that bend on the way to the lockout are refused in a strict press, and only there."""

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import overhead, racked
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.checks.coverage import judge_or_count
from counting.checks.phases import phase_rows
from counting.checks.types import RepVerdict
from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.reps.types import Rep
from counting.timeline import find_reps

PRESS = find_movement("strict press")


def presses(*dips: float, view_deg: float) -> tuple[RepVerdict, ...]:
    """Presses that begin with a dip, 0 for straight legs and 1 for a full squat."""
    script = Script(racked()).hold(0.8)
    for dip in dips:
        script.move(racked(dip), 0.3).move(overhead(), 0.6).hold(0.25)
        script.move(racked(), 0.8).hold(0.4)
    track = play_in_metres(script.hold(0.6), Camera(view_deg=view_deg), rate_hz=30.0, noise=0.001)
    return judge_or_count(track, find_reps(track, PRESS).reps, PRESS, Risk()).verdicts


@pytest.mark.parametrize("view_deg", [15.0, 40.0])
def test_a_dip_is_no_strict_press(view_deg: float) -> None:
    found = presses(0.0, 0.15, 0.0, 0.15, view_deg=view_deg)
    legs = [next(check for check in rep.checks if check.name == "legs") for rep in found]
    assert [check.verdict for check in legs] == ["met", "not met", "met", "not met"]
    assert [found[n].verdict for n in (1, 3)] == ["no-rep", "no-rep"]
    assert legs[1].reason is not None
    assert legs[1].reason.startswith("knees bent to")


def test_a_dip_deeper_than_any_that_was_filmed_leaves_no_rep_good() -> None:
    assert "good" not in [rep.verdict for rep in presses(0.5, 0.5, view_deg=40.0)]


def test_a_drive_leads_from_the_start_to_the_turn() -> None:
    legs = next(check for check in PRESS.checks if check.name == "legs")
    time_s = np.arange(0.0, 5.0, 0.1)
    rep = Rep(1, PRESS.name, 10, 20, 30, 1.0, 2.0, 3.0)
    rows = phase_rows(time_s, rep, legs)
    assert time_s[rows[[0, -1]]] == pytest.approx([0.8, 2.0])
