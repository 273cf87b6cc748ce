"""Invented workouts and athletes for the pacing tests."""

from collections.abc import Callable

import numpy as np
import pytest

from counting.pacing.model.athlete import Athletes
from counting.pacing.model.day import Noise
from counting.pacing.model.known import Known
from counting.pacing.search.best import Table, search
from counting.pacing.search.course import Course, Station
from counting.pacing.search.plan import Plan
from counting.pacing.search.schemes import limits_of


@pytest.fixture
def rounds_of() -> Callable[..., Course]:
    """Rounds of the same stations, as a course for time."""

    def make(parts: list[tuple[str, int]], rounds: int, cap_s: float) -> Course:
        stations = tuple(
            Station(movement, reps, 1, round_number, number)
            for round_number in range(1, rounds + 1)
            for number, (movement, reps) in enumerate(parts, start=1)
        )
        return Course("boathouse rounds", stations, cap_s, finishing=True)

    return make


@pytest.fixture
def ladder() -> Callable[..., Course]:
    """Thrusters and chest-to-bar pull-ups, tie-break, then bar muscle-ups to the cap."""

    def make(
        rounds: int = 4,
        thrusters: int = 9,
        pulls: int = 9,
        muscle_ups: int = 30,
        cap_s: float = 720.0,
        rest_s: float = 0.0,
    ) -> Course:
        stations: list[Station] = []
        for number in range(1, rounds + 1):
            stations.append(Station("thruster", thrusters, 1, number, 1))
            stations.append(Station("chest-to-bar pull-up", pulls, 1, number, 2))
        before = sum(station.reps for station in stations)
        stations.append(Station("bar muscle-up", muscle_ups, 2, 1, 1, fixed_rest_s=rest_s))
        return Course("boathouse ladder", tuple(stations), cap_s, True, before)

    return make


@pytest.fixture(scope="session")
def best_plan() -> Callable[[Course, Athletes], Plan]:
    """The plan advised to one athlete of whom everything is known."""

    def make(course: Course, athlete: Athletes) -> Plan:
        plays = athlete.take(np.zeros(100, dtype=np.int64))
        table = Table(course, plays, limits_of(course, Known(), athlete), Noise(), seed=0)
        search(table)
        return table.equals()[0].plan

    return make
