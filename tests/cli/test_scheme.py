from msgspec.structs import replace

from cli.scheme import scheme_sentences
from counting.workout.types import Block, Station
from tests.followed import TWO_STATIONS


def test_the_scheme_tells_scoring_cap_loads_rounds_and_rest() -> None:
    deadlifts = Station(movement="deadlift", reps=3, load=60, load_unit="kg")
    push_ups = Station(movement="push-up", reps=[4, 3])
    press = Station(movement="strict press", reps=1)
    workout = replace(
        TWO_STATIONS,
        time_cap_s=120,
        blocks=[
            Block(stations=[deadlifts, push_ups], rounds=2, rest_after_s=10),
            Block(stations=[press]),
        ],
    )
    assert scheme_sentences(workout) == [
        "for time, time cap 2:00",
        "2 rounds of 3 deadlifts at 60 kg and 4-3 push-ups, rest 10 s; then 1 strict press",
    ]


def test_of_many_blocks_the_first_are_told() -> None:
    block = Block(stations=[Station(movement="pull-up", reps=5)])
    assert scheme_sentences(replace(TWO_STATIONS, blocks=[block] * 9))[1].endswith("3 more blocks")
