"""Who comes nearer looks larger, and no one grows faster than by walking."""

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script, track_of

from counting.signals.apparent import apparent_size, in_apparent_size
from counting.signals.extraction import signals_of


def coming_nearer(script, growth):
    """The figure's film in which its picture grows about the middle by ``growth`` of the time."""
    still = script.play(Camera(view_deg=90))
    centre = np.array([still.width_px, still.height_px]) / 2
    larger = (still.image_px - centre) * growth(still.time_s)[:, None, None] + centre
    return track_of(still.time_s, larger, Camera(view_deg=90))


def walked(time_s):
    """Three seconds of standing, then a walk of four seconds: half as large again."""
    return np.clip(1.0 + (time_s - 3.0) / 8.0, 1.0, 1.5)


def test_the_size_follows_who_walks_towards_the_camera():
    track = coming_nearer(Script(standing()).hold(10.0), walked)
    signals = signals_of(track)
    size = apparent_size(track, signals)
    grown = size / size[0]
    assert grown == pytest.approx(walked(signals.time_s), abs=0.08)
    assert grown[-1] == pytest.approx(1.5, abs=0.02)


def test_a_squat_in_place_changes_no_size():
    script = Script(standing()).hold(2.0)
    for _ in range(4):
        script.move(squat(1.0), 0.8).move(standing(), 0.8).hold(0.4)
    track = coming_nearer(script.hold(2.0), np.ones_like)
    size = apparent_size(track, signals_of(track))
    assert np.ptp(size) < 0.06


def test_nobody_leaps_nearer_faster_than_a_walk_three_metres_away():
    """At 1 m/s three metres away: by a third in a second."""
    track = coming_nearer(
        Script(standing()).hold(10.0), lambda time_s: np.where(time_s < 5.0, 1.0, 1.5)
    )
    signals = signals_of(track)
    size = np.log(apparent_size(track, signals))
    second = round(signals.rate_hz)
    fastest = (size[second:] - size[:-second]).max()
    assert fastest == pytest.approx(0.3, abs=0.02)


def test_heights_over_the_size_stay_those_of_the_body():
    script = Script(standing()).hold(10.0)
    plain = signals_of(coming_nearer(script, walked))
    steady = in_apparent_size(coming_nearer(script, walked), plain)
    assert np.ptp(steady.shoulder) < 0.4 * np.ptp(plain.shoulder)
