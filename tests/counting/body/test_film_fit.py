"""Windows are fitted on as many cores as there are."""

import threading

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.body import film_fit
from counting.body.motion import find_body


def test_the_fit_is_the_same_for_any_number_of_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    script = Script(standing())
    for depth in (1.0, 0.9, 0.8):
        script.hold(0.5).move(squat(depth), 0.8).hold(0.2).move(standing(), 0.8)
    track = play_in_metres(script, Camera(view_deg=30.0), rate_hz=10.0, noise=0.003)
    monkeypatch.setattr(film_fit, "_WINDOW", 8)
    monkeypatch.setattr(film_fit, "_AT_ONCE", 8)
    at_work = set()
    fit_windows = film_fit._fit_windows

    def watched(*given):
        at_work.add(threading.get_ident())
        return fit_windows(*given)

    monkeypatch.setattr(film_fit, "_fit_windows", watched)
    found = []
    for cores in (1, 4):
        at_work.clear()
        monkeypatch.setattr(film_fit, "core_count", lambda cores=cores: cores)
        found.append(find_body(track, np.arange(track.frames), "standing").fitted())
        assert len(at_work) <= cores
    assert len(at_work) > 1
    one, four = found
    assert np.array_equal(one.joints_m, four.joints_m)
    assert np.array_equal(one.joint_misfit, four.joint_misfit)
