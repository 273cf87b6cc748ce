"""Every second of the clock has one kind, and all of them add up to it."""

import csv
import io
import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counting.record.types import PausePart, RepPart
from counting.workout.record import NoWorkoutError, SplitPart
from counting.workout.splits import rows_csv, splits, splits_csv
from counting.workout.types import Block, Station, Workout
from tests.records import bare_record

from .attempts import CLEAN, attempt, done, rep_parts

COUPLET = Workout(
    name="couplet and a rest",
    scoring="for time",
    missing_reps="stop the count",
    blocks=[
        Block(
            rounds=1,
            rest_after_s=60.0,
            stations=[
                Station(movement="thruster", reps=3),
                Station(movement="pull-up", reps=4),
            ],
        ),
        Block(stations=[Station(movement="bar muscle-up", reps=2)]),
    ],
)


def by_hand() -> list[RepPart]:
    """Clock zero at film 5 s.

    Thrusters 7 to 13 s, complete at 12.5; pull-ups 18 to 22 and 30 to 34, complete at 33.5; a
    minute's rest and 4 s more; muscle-ups 97.5 to 101.5, complete at 101.
    """
    return attempt(
        rep_parts("ggg", "thruster", begin_s=7.0, set_number=1, place=(1, 1, 1)),
        rep_parts("gg", "pull-up", begin_s=18.0, set_number=2, place=(1, 1, 2)),
        rep_parts("gg", "pull-up", begin_s=30.0, set_number=3, place=(1, 1, 2)),
        rep_parts("gg", "bar muscle-up", begin_s=97.5, set_number=4, place=(2, 1, 1)),
    )


def row(rows: list[SplitPart], level: str, number: int = 0) -> SplitPart:
    return [part for part in rows if part.level == level][number]


def test_a_sheet_worked_out_by_hand() -> None:
    rows = splits(COUPLET, by_hand(), [], 5.0, 101.0)
    thrusters, pull_ups, muscle_ups = (row(rows, "station", n) for n in range(3))
    # to the first rep 2 s, then 5.5 s of work until the third is locked out
    assert (thrusters.start_s, thrusters.end_s) == (0.0, 7.5)
    assert (thrusters.transition_s, thrusters.work_s) == (2.0, 5.5)
    # 5.5 s to the bar, 4 s of work, 8 s off the bar, 3.5 s of work
    assert (pull_ups.transition_s, pull_ups.work_s, pull_ups.break_s) == (5.5, 7.5, 8.0)
    assert pull_ups.end_s == 28.5
    # the rest that is ordered, then 4 s too many
    assert (muscle_ups.rest_s, muscle_ups.transition_s, muscle_ups.work_s) == (60.0, 4.0, 3.5)
    assert muscle_ups.cycle_s == 2.0
    whole = row(rows, "workout")
    assert whole.end_s == 96.0
    assert whole.work_to_rest == pytest.approx(16.5 / 79.5)
    assert [part.level for part in rows] == (
        ["workout", "block", "block", "round", "round"] + ["station"] * 3 + ["set"] * 4
    )


def test_a_pause_with_the_bar_in_hand_is_taken_out_of_the_work() -> None:
    pause = PausePart(after_rep=1, start_s=8.8, end_s=9.6, where="in the rack")
    rows = splits(COUPLET, by_hand(), [pause], 5.0, 101.0)
    thrusters = row(rows, "station")
    assert thrusters.pause_s == pytest.approx(0.8)
    assert thrusters.work_s == pytest.approx(4.7)
    assert row(rows, "set").pause_s == pytest.approx(0.8)


def test_no_reps_are_work_but_do_not_end_a_station() -> None:
    reps = attempt(
        rep_parts("ggn", "thruster", begin_s=0.0, set_number=1, place=(1, 1, 1)),
        rep_parts("g", "pull-up", begin_s=8.0, set_number=2, place=(1, 1, 2)),
    )
    rows = splits(COUPLET, reps, [], 0.0)
    thrusters, pull_ups = row(rows, "station", 0), row(rows, "station", 1)
    assert (thrusters.end_s, thrusters.reps, thrusters.good) == (3.5, 3, 2)
    assert pull_ups.transition_s == 4.5


def test_the_cap_cuts_the_clock_off() -> None:
    capped = Workout(
        name="capped",
        scoring="as many reps as possible",
        missing_reps="deducted",
        time_cap_s=25.0,
        blocks=COUPLET.blocks,
    )
    whole = row(splits(capped, by_hand(), [], 5.0, 101.0), "workout")
    assert (whole.end_s, whole.reps) == (25.0, 5)


def test_nothing_done_has_no_splits() -> None:
    assert splits(COUPLET, [], [], 0.0, 10.0) == []


def test_the_csv_holds_every_row() -> None:
    rows = splits(COUPLET, by_hand(), [], 5.0, 101.0)
    read = list(csv.DictReader(io.StringIO(rows_csv(rows))))
    assert len(read) == len(rows)
    assert read[0]["level"] == "workout"
    assert float(read[0]["end_s"]) == 96.0
    assert read[0]["block"] == ""


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["thruster", "pull-up", "bar muscle-up"]),
            st.text(alphabet="gn?", min_size=1, max_size=4),
            st.floats(0.0, 15.0),
        ),
        min_size=1,
        max_size=6,
    ),
    st.floats(0.0, 3.0),
    st.lists(st.tuples(st.floats(0.0, 60.0), st.floats(0.1, 4.0)), max_size=3),
)
def test_the_kinds_add_up_and_the_stations_follow_without_a_gap(
    stretches: list[tuple[str, str, float]],
    zero_s: float,
    waits: list[tuple[float, float]],
) -> None:
    places = {"thruster": (1, 1, 1), "pull-up": (1, 1, 2), "bar muscle-up": (2, 1, 1)}
    at_s, parts = 4.0, []
    for number, (movement, calls, gap_s) in enumerate(stretches, start=1):
        parts.append(
            rep_parts(calls, movement, begin_s=at_s, set_number=number, place=places[movement])
        )
        at_s += 2.0 * len(calls) + gap_s
    pauses = [
        PausePart(after_rep=1, start_s=start_s, end_s=start_s + length_s, where="in the rack")
        for start_s, length_s in waits
    ]
    rows = splits(COUPLET, attempt(*parts), pauses, zero_s)
    for part in rows:
        spent = part.work_s + part.pause_s + part.break_s + part.transition_s + part.rest_s
        assert spent == pytest.approx(part.end_s - part.start_s, abs=1e-9)
    stations = [part for part in rows if part.level == "station"]
    assert stations[0].start_s == pytest.approx(0.0)
    for before, after in itertools.pairwise(stations):
        assert after.start_s == before.end_s
    assert stations[-1].end_s == rows[0].end_s


def test_a_record_s_splits_become_one_table_and_none_without_a_workout() -> None:
    found, part = done(*CLEAN)
    assert splits_csv(found) == rows_csv(part.splits)
    with pytest.raises(NoWorkoutError):
        splits_csv(bare_record([]))
