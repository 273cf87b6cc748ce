"""Stations of movements that no film of the first ones shows are recognised.

As the figure does them; ``python -m tests.stations`` draws any five of all.
"""

import pytest
from synthetic.figure import Camera

from tests.stations import placed

WORKOUTS = [
    ["power snatch", "knees-to-elbows", "box jump over", "goblet squat", "sit-up"],
    ["clean and jerk", "ring dip", "walking lunge", "push press", "sumo deadlift high pull"],
    ["hang clean", "back squat", "rope skip", "jumping pull-up", "single-arm dumbbell snatch"],
]


@pytest.mark.slow
@pytest.mark.parametrize("names", WORKOUTS, ids=lambda names: names[0])
def test_every_rep_stands_at_its_station(names: list[str]) -> None:
    said = placed(names, Camera(45.0, 3.6, 0.65), seed=3)
    assert [(name, what) for name, what in said if what != "right"] == []
    assert len(said) == 20
