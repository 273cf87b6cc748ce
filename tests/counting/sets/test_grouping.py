"""Where one set ends and the next begins, at the limits that decide it.

All signals are made up: which reps there are and what hands and feet do between them is known
exactly. The limits are those of `counting.sets.grouping`, in seconds and statures.
"""

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from counting.movements.loader import find_movement
from counting.reps.types import Cycle, Rep
from counting.sets.grouping import Grouped, group
from counting.signals.types import Signals

RATE_HZ = 50.0


def spans(gaps_s: list[float], cycle_s: float) -> list[tuple[float, float]]:
    """When reps begin and end that have these gaps between them."""
    start_s, found = 1.0, []
    for gap_s in [*gaps_s, 0.0]:
        found.append((start_s, start_s + cycle_s))
        start_s += cycle_s + gap_s
    return found


def grouped(
    movement: str, gaps_s: list[float], cycle_s: float = 2.0, **changed: dict[str, Any]
) -> Grouped:
    """Group reps whose last gap has some signals changed, each from so long into it for so long.

    The driver, which swings by 0.5, is a signal of its own, ``driver``.
    """
    times = spans(gaps_s, cycle_s)
    count = round((times[-1][1] + 1.0) * RATE_HZ)
    hands = {"wrist": 1.2, "shoulder": 0.9, "wrist_seen": 1.0}
    values = {
        field.name: np.full(count, hands.get(field.name, 0.0))
        for field in fields(Signals)
        if field.name not in ("rate_hz", "stature_px")
    } | {"driver": np.zeros(count)}
    values["time_s"] = np.arange(count) / RATE_HZ
    for name, change in changed.items():
        first_s = times[-2][1] + change.get("after_s", 0.1)
        inside = slice(round(first_s * RATE_HZ), round((first_s + change["for_s"]) * RATE_HZ))
        values[name][inside] = change["to"]
    driver = values.pop("driver")
    signals = Signals(rate_hz=RATE_HZ, stature_px=300.0, **values)
    signals = replace(signals, observed=np.ones(count, bool))
    cycles = [
        Cycle(*(round(t * RATE_HZ) for t in ((a + b) / 2, a, b)), a, (a + b) / 2, b, 0.5)
        for a, b in times
    ]
    reps = tuple(
        Rep(n, movement, 0, 0, 0, a, (a + b) / 2, b) for n, (a, b) in enumerate(times, start=1)
    )
    return group(signals, find_movement(movement), driver, cycles, reps)


def breaks(found: Grouped) -> list[int]:
    """After which reps a set ends."""
    return [own.last_rep for own in found.sets[:-1]]


class TestRhythm:
    """With nothing to let go of, the athlete's own rhythm says how long a gap may be."""

    @pytest.mark.parametrize(("gap_s", "ends"), [(1.1, []), (1.3, [3])])
    def test_a_wait_of_1_2_s_is_within_anybodys_rhythm(self, gap_s: float, ends: list[int]) -> None:
        assert breaks(grouped("air squat", [0.1, 0.1, gap_s])) == ends

    @pytest.mark.parametrize(("gap_s", "ends"), [(1.7, []), (1.9, [3])])
    def test_three_times_the_usual_gap_is_too(self, gap_s: float, ends: list[int]) -> None:
        assert breaks(grouped("air squat", [0.6, 0.6, gap_s])) == ends

    @pytest.mark.parametrize(("gap_s", "ends"), [(1.9, []), (2.1, [3])])
    def test_and_a_quarter_of_a_slow_cycle(self, gap_s: float, ends: list[int]) -> None:
        assert breaks(grouped("air squat", [0.1, 0.1, gap_s], cycle_s=8.0)) == ends

    def test_a_gap_that_ends_no_set_and_is_longer_than_that_is_a_pause(self) -> None:
        found = grouped("pull-up", [0.1, 0.1, 1.3])
        assert breaks(found) == []
        assert [(pause.after_rep, pause.where) for pause in found.pauses] == [(3, "in the hang")]
        assert grouped("pull-up", [0.1, 0.1, 1.1]).pauses == ()


class TestHands:
    """Hands that leave the bar end a set; a tracker that loses them for a moment does not."""

    @pytest.mark.parametrize(("off_s", "ends"), [(0.2, []), (0.3, [3])])
    def test_off_the_bar_for_a_quarter_of_a_second(self, off_s: float, ends: list[int]) -> None:
        down = {"for_s": off_s, "to": 0.5}
        found = grouped("pull-up", [0.1, 0.1, 1.0], wrist=down, driver={"for_s": 0.8, "to": -0.3})
        assert breaks(found) == ends

    @pytest.mark.parametrize(("drop", "ends"), [(0.08, []), (0.12, [3])])
    def test_and_lower_than_in_the_hang_by_a_tenth_of_stature(
        self, drop: float, ends: list[int]
    ) -> None:
        down = {"for_s": 0.8, "to": 0.5}
        found = grouped("pull-up", [0.1, 0.1, 1.0], wrist=down, driver={"for_s": 0.8, "to": -drop})
        assert breaks(found) == ends

    @pytest.mark.parametrize(("off_s", "ends"), [(1.4, []), (1.6, [3])])
    def test_or_below_the_shoulders_for_a_second_and_a_half(
        self, off_s: float, ends: list[int]
    ) -> None:
        found = grouped("pull-up", [0.1, 0.1, 2.0], wrist={"for_s": off_s, "to": 0.5})
        assert breaks(found) == ends

    @pytest.mark.parametrize(("gap_s", "ends"), [(3.0, []), (3.4, [3])])
    def test_hands_unseen_for_a_cycle_and_a_wait_have_let_go(
        self, gap_s: float, ends: list[int]
    ) -> None:
        unseen = {"after_s": 0.0, "for_s": gap_s, "to": 0.0}
        assert breaks(grouped("pull-up", [0.1, 0.1, gap_s], wrist_seen=unseen)) == ends
        assert breaks(grouped("pull-up", [0.1, 0.1, gap_s])) == []


class TestFeet:
    """From the floor, getting up ends a set, and so does walking away out of sight."""

    @pytest.mark.parametrize(("rise", "ends"), [(0.25, []), (0.35, [3])])
    def test_shoulders_that_rise_above_the_plank_by_six_tenths_of_a_rep(
        self, rise: float, ends: list[int]
    ) -> None:
        found = grouped("push-up", [0.1, 0.1, 1.5], driver={"for_s": 1.0, "to": rise})
        assert breaks(found) == ends

    @pytest.mark.parametrize(("stepped", "ends"), [(0.05, []), (0.07, [3])])
    def test_feet_that_moved_by_six_hundredths_of_stature(
        self, stepped: float, ends: list[int]
    ) -> None:
        moved = {"for_s": 9.0, "to": stepped}
        found = grouped("push-up", [0.1, 0.1, 4.0], ankle_x=moved)
        assert breaks(found) == ends
        assert {gap.kind for gap in found.breaks} <= {"walked off"}


class TestStart:
    """A bar that is held where a movement of phases starts is a pause however long."""

    def ends(self, hands: float, share: float) -> list[int]:
        """Where sets end if hands are so far above the shoulders for a share of a gap of 4 s."""
        held = {"after_s": 0.0, "for_s": share * 4.0 + 0.02, "to": 0.9 + hands}
        upright = {"after_s": -20.0, "for_s": 40.0, "to": 0.5}
        return breaks(grouped("push press", [0.1, 0.1, 4.0], wrist=held, hip=upright))

    @pytest.mark.parametrize(("hands", "ends"), [(0.0, []), (0.12, []), (0.155, [3])])
    def test_the_position_may_be_left_by_a_twentieth_of_stature(
        self, hands: float, ends: list[int]
    ) -> None:
        """The rack asks for hands at most 0.09 statures above the shoulders."""
        assert self.ends(hands, 1.0) == ends

    @pytest.mark.parametrize(("share", "ends"), [(0.93, []), (0.87, [3])])
    def test_and_for_a_tenth_of_the_time(self, share: float, ends: list[int]) -> None:
        assert self.ends(0.0, share) == ends
