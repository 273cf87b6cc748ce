"""Figures of phases stand as the standards say."""

import pytest

from cli.charts.phases import NOT_DRAWN, _joints, pose_of
from counting.movements.loader import built_in_movements, find_movement

PHASES = [
    pytest.param(phase, movement.base, id=f"{movement.name}, {phase.name}")
    for movement in built_in_movements()
    for phase in movement.phases
]


@pytest.mark.parametrize(("phase", "base"), PHASES)
def test_a_figure_holds_to_the_ranges_of_its_phase(phase, base):
    pose = pose_of(phase, base)
    for measure, span in phase.where.items():
        if measure in NOT_DRAWN:
            continue
        upper, lower = _joints(measure)
        if lower is None:
            continue
        apart = pose[upper] - pose[lower]
        assert span.above is None or apart > span.above - 0.02, measure
        assert span.below is None or apart < span.below + 0.02, measure


def test_a_phase_far_from_the_base_is_drawn_as_a_plank_or_a_hang():
    down = find_movement("burpee over the bar").phases[1]
    prone = pose_of(down, "standing")
    assert prone["shoulder"] - prone["ankle"] < 0.3
    assert prone["hip"] - prone["ankle"] < 0.2
    hang = pose_of(find_movement("ring muscle-up").phases[0], "supported")
    assert hang["wrist"] - hang["shoulder"] > 0.25
    bent = pose_of(find_movement("power clean").phases[0], "standing")
    assert bent["hip"] > 0.3
