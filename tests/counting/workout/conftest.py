"""Attempts written down by hand: reps with their times and calls, no film."""

from collections.abc import Sequence

import pytest

from counting.record.types import RepPart, RepVerdict
from counting.workout.types import Block, Station, Workout

CALLS: dict[str, RepVerdict] = {"g": "good", "n": "no-rep", "?": "too close"}
CHANCES = {"g": 1.0, "n": 0.0, "?": 0.6}


def rep_parts(
    calls: str,
    movement: str = "pull-up",
    *,
    begin_s: float = 0.0,
    cycle_s: float = 2.0,
    first_number: int = 1,
    set_number: int = 1,
    place: tuple[int, int, int] | None = (1, 1, 1),
) -> list[RepPart]:
    """Reps back to back; ``calls`` holds g (good), n (no-rep) or ? (too close) for each."""
    found = []
    for index, call in enumerate(calls):
        start_s = begin_s + index * cycle_s
        found.append(
            RepPart(
                number=first_number + index,
                set=set_number,
                movement=movement,
                start_s=start_s,
                turn_s=start_s + 0.5 * cycle_s,
                counted_s=None if call == "n" else start_s + 0.75 * cycle_s,
                end_s=start_s + cycle_s,
                verdict=CALLS[call],
                probability_good=CHANCES[call],
                checks=[],
                block=place[0] if place else None,
                round=place[1] if place else None,
                station=place[2] if place else None,
            )
        )
    return found


def attempt(*parts: Sequence[RepPart]) -> list[RepPart]:
    """Put stretches of reps behind each other and number them."""
    import msgspec

    reps = [rep for part in parts for rep in part]
    return [msgspec.structs.replace(rep, number=number) for number, rep in enumerate(reps, start=1)]


@pytest.fixture
def couplet() -> Workout:
    """Two rounds of 3 thrusters and 2 pull-ups, then after a minute's rest 2 muscle-ups."""
    return Workout(
        name="couplet and a rest",
        scoring="for time",
        missing_reps="stop the count",
        blocks=[
            Block(
                rounds=2,
                rest_after_s=60.0,
                stations=[
                    Station(movement="thruster", reps=3),
                    Station(movement="pull-up", reps=2),
                ],
            ),
            Block(stations=[Station(movement="bar muscle-up", reps=2)]),
        ],
    )
