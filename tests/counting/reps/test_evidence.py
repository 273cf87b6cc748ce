"""Hands on a bar are told from hands that let go of it, squats from hops."""

from dataclasses import replace

import numpy as np
import pytest

from counting.movements.loader import find_movement
from counting.reps.evidence import from_the_knees, hands_fit
from counting.signals.types import Signals

RATE_HZ = 30.0
BAR = 0.9
MUSCLE_UP = find_movement("bar muscle-up")


def one_cycle(over_the_bar: float) -> Signals:
    """A second in the hang, two with the hands this far over the bar's height, one in the hang."""
    time_s = np.arange(0.0, 4.0, 1.0 / RATE_HZ)
    away = (time_s > 0.8) & (time_s < 3.2)
    hanging = np.where(away, 1.2, 0.6)
    still = np.zeros_like(time_s)
    return Signals(
        time_s=time_s,
        rate_hz=RATE_HZ,
        stature_px=400.0,
        hip=hanging - 0.3,
        shoulder=hanging,
        head=hanging + 0.1,
        elbow=hanging,
        wrist=np.where(away, BAR + over_the_bar, BAR),
        knee=still,
        ankle=still,
        hip_x=still,
        ankle_x=still,
        leg_share=still + 1.0,
        size=still + 1.0,
        ankle_gap=still,
        wrist_higher=np.where(away, BAR + over_the_bar, BAR),
        knee_lower=still,
        wrist_lead=still,
        knee_lead=still,
        wrist_spread=still,
        ankle_spread=still,
        wrist_seen=still + 1.0,
        observed=still == 0.0,
    )


@pytest.mark.parametrize(
    ("over_the_bar", "fit"),
    [(0.0, True), (0.25, True), (0.4, False), (-0.1, True), (-0.2, False)],
)
def test_hands_may_be_on_top_of_the_bar_but_not_far_below_it(
    over_the_bar: float, fit: bool
) -> None:
    signals = one_cycle(over_the_bar)
    assert (
        hands_fit(signals, MUSCLE_UP, 0, signals.time_s.size // 2, signals.time_s.size - 1) == fit
    )


@pytest.mark.parametrize(("low_s", "fit"), [(0.2, True), (1.0, False)])
def test_hands_misread_for_a_moment_where_a_pull_ends_are_still_on_the_bar(
    low_s: float, fit: bool
) -> None:
    signals = one_cycle(0.0)
    end = round(3.4 * RATE_HZ)
    since_s = signals.time_s - signals.time_s[end]
    low = (since_s > -0.15) & (since_s < low_s - 0.15)
    misread = replace(signals, wrist=np.where(low, signals.shoulder - 0.3, signals.wrist))
    assert hands_fit(misread, MUSCLE_UP, 0, signals.time_s.size // 2, end) == fit


@pytest.mark.parametrize(
    ("hips", "feet", "squat"),
    [(0.30, 0.0, True), (0.27, 0.09, True), (0.08, 0.0, True), (0.08, 0.04, False)],
)
def test_feet_that_seem_to_go_down_make_no_hop_of_a_deep_squat(
    hips: float, feet: float, squat: bool
) -> None:
    signals = one_cycle(0.0)
    dip = (signals.time_s > 1.8) & (signals.time_s < 2.2)
    dipping = replace(
        signals,
        hip=np.where(dip, 0.5 - hips, 0.5),
        shoulder=np.where(dip, 0.8 - hips, 0.8),
        ankle=np.where(dip, -feet, 0.0),
    )
    assert from_the_knees(dipping, 0, signals.time_s.size // 2, signals.time_s.size - 1) == squat


@pytest.mark.parametrize(("below", "fit"), [(0.0, True), (0.15, True), (0.25, False)])
def test_hands_at_the_shoulders_may_hang_a_fifth_of_a_stature_below_them(
    below: float, fit: bool
) -> None:
    signals = one_cycle(0.0)
    standing = np.ones_like(signals.time_s)
    held = replace(signals, shoulder=standing, wrist=standing - below)
    middle, last = signals.time_s.size // 2, signals.time_s.size - 1
    assert hands_fit(held, find_movement("front squat"), 0, middle, last) == fit
