"""Every second of the clock has one kind, and all of them add up to it."""

import csv
import io
import itertools

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counting.record.scored import NoWorkoutError
from counting.record.types import PausePart, RepPart
from counting.workout.placing import place_of
from counting.workout.record import SplitPart
from counting.workout.splits import rows_csv, splits, splits_csv, visits_of
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
    # half a second to lower the last thruster, 5 s to the bar, 4 s of work, 8 s off it, 3.5 s more
    assert (pull_ups.transition_s, pull_ups.work_s, pull_ups.break_s) == (5.0, 8.0, 8.0)
    assert pull_ups.end_s == 28.5
    # the rest that is ordered, then 4 s too many
    assert (muscle_ups.rest_s, muscle_ups.transition_s, muscle_ups.work_s) == (60.0, 4.0, 3.5)
    assert muscle_ups.cycle_s == 2.0
    whole = row(rows, "workout")
    assert whole.end_s == 96.0
    assert whole.work_to_rest == pytest.approx(17.0 / 79.0)
    assert [part.level for part in rows] == (
        ["workout", "block", "block", "round", "round"] + ["station"] * 3 + ["set"] * 4
    )


@pytest.mark.parametrize(
    ("calls", "ends"),
    [
        # Reps complete at 7, 9, 11 and 13 s of the clock; an open one counts in 6 of 10 cases.
        ("gggg", (None, None)),
        ("gggn", (None, None)),
        ("ggg?", (11.0, 13.0)),
        ("gg?n", (9.0, 11.0)),
        ("g??g", (None, None)),
        # The second is the last that counts in 0.16 of all cases, the third in 0.24.
        ("?g??", (9.0, 13.0)),
        # Of four open ones the first is it in 4 cases of 100: hardly.
        ("????", (9.0, 13.0)),
        ("nnn?", (None, None)),
    ],
)
def test_an_end_that_hangs_on_an_open_call_has_a_range(
    calls: str, ends: tuple[float | None, float | None]
) -> None:
    reps = rep_parts(calls, "pull-up", begin_s=10.5, place=(1, 1, 2))
    rows = splits(COUPLET, reps, [], 5.0)
    for level in ("station", "round", "block", "workout"):
        line = row(rows, level)
        assert (line.earliest_end_s, line.latest_end_s) == ends
    assert row(rows, "set").earliest_end_s is None


@pytest.mark.parametrize(
    ("calls", "clock_stops_s", "end_s", "ends"),
    [
        # Three of four are enough; whether the third counts decides which. Complete at 7, 9, 11
        # and 13 s of the clock.
        ("gg?g", None, 11.0, (11.0, 13.0)),
        # The clock of the most likely calls stops at the third: the fourth may still be the last.
        ("gg?g", 11.0, 11.0, (11.0, 13.0)),
        # Surely good are three, and the fourth is too many.
        ("gggg", 11.0, 11.0, (None, None)),
        # The second counts in 6 of 10 cases, else the fourth is the third.
        ("g?gg", 11.0, 11.0, (11.0, 13.0)),
    ],
)
def test_a_station_ends_with_the_good_rep_that_completes_it(
    calls: str,
    clock_stops_s: float | None,
    end_s: float,
    ends: tuple[float | None, float | None],
) -> None:
    three = Workout(
        name="three pull-ups",
        scoring="for time",
        missing_reps="stop the count",
        blocks=[Block(stations=[Station(movement="pull-up", reps=3)])],
    )
    reps = rep_parts(calls, "pull-up", begin_s=10.5)
    stop_s = None if clock_stops_s is None else 5.0 + clock_stops_s
    line = row(splits(three, reps, [], 5.0, stop_s), "station")
    assert (line.end_s, line.earliest_end_s, line.latest_end_s) == (end_s, *ends)


def test_where_the_last_station_is_not_surely_done_its_end_may_be_the_cap() -> None:
    two = msgspec.structs.replace(THREE_BLOCKS, blocks=[THREE_BLOCKS.blocks[2]], time_cap_s=30.0)
    reps = rep_parts("?", "burpee", begin_s=10.0)
    line = row(splits(two, reps, [], 0.0, 11.5), "station")
    assert (line.end_s, line.earliest_end_s, line.latest_end_s) == (11.5, 11.5, 30.0)


def test_where_rounds_follow_until_the_bell_the_last_station_ends_with_it_and_no_doubt() -> None:
    endless = Workout(
        name="until the bell",
        scoring="as many reps as possible",
        missing_reps="deducted",
        time_cap_s=20.0,
        blocks=[Block(rounds="until time is up", stations=[Station(movement="pull-up", reps=3)])],
    )
    line = row(splits(endless, rep_parts("g??"), [], 0.0, 20.0), "station")
    assert (line.end_s, line.earliest_end_s, line.latest_end_s) == (20.0, None, None)


def test_a_rep_placed_on_the_next_round_of_one_movement_may_still_complete_this_one() -> None:
    """Two rounds of two: whether the second counts decides whether the third ends round 1."""
    rounds = Workout(
        name="two rounds",
        scoring="for time",
        missing_reps="stop the count",
        blocks=[Block(rounds=2, stations=[Station(movement="pull-up", reps=2)])],
    )
    reps = attempt(
        rep_parts("g?", begin_s=0.0, place=(1, 1, 1)),
        rep_parts("ggg", begin_s=4.0, place=(1, 2, 1)),
    )
    first, second = (row(splits(rounds, reps, [], 0.0), "station", n) for n in range(2))
    # Complete at 1.5, 3.5, 5.5, 7.5 and 9.5 s.
    assert (first.end_s, first.earliest_end_s, first.latest_end_s) == (3.5, 3.5, 5.5)
    assert (second.end_s, second.earliest_end_s, second.latest_end_s) == (7.5, 7.5, 9.5)


def test_what_is_complete_after_time_is_up_ends_nothing() -> None:
    reps = rep_parts("g??", "pull-up", begin_s=10.5, place=(1, 1, 2))
    capped = msgspec.structs.replace(COUPLET, time_cap_s=10.0)
    line = row(splits(capped, reps, [], 5.0), "station")
    assert (line.earliest_end_s, line.latest_end_s) == (7.0, 9.0)


def test_no_reps_after_the_last_good_one_are_work_and_not_the_way_to_the_next_station() -> None:
    reps = attempt(
        rep_parts("ggnn", "thruster", begin_s=7.0, set_number=1, place=(1, 1, 1)),
        rep_parts("g", "pull-up", begin_s=20.0, set_number=2, place=(1, 1, 2)),
    )
    thrusters, pull_ups = (row(splits(COUPLET, reps, [], 5.0), "station", n) for n in range(2))
    # Complete at 5.5 s of the clock, two more tries until 10 s, 5 s to the bar.
    assert thrusters.end_s == 5.5
    assert (pull_ups.work_s, pull_ups.transition_s) == (4.5 + 1.5, 5.0)


def test_a_rep_complete_after_the_bell_is_not_among_the_reps() -> None:
    reps = rep_parts("gggg", "pull-up", begin_s=10.5, place=(1, 1, 2))
    capped = msgspec.structs.replace(COUPLET, time_cap_s=10.0)
    rows = splits(capped, reps, [], 5.0)
    for level in ("workout", "station", "set"):
        assert (row(rows, level).reps, row(rows, level).good) == (2, 2)
    assert row(rows, "workout").end_s <= 10.0


def test_stations_and_sets_name_their_movement_and_wholes_none() -> None:
    rows = splits(COUPLET, by_hand(), [], 5.0, 101.0)
    named = {level: [p.movement for p in rows if p.level == level] for level in ("station", "set")}
    assert named["station"] == ["thruster", "pull-up", "bar muscle-up"]
    assert named["set"] == ["thruster", "pull-up", "pull-up", "bar muscle-up"]
    assert {p.movement for p in rows if p.level in ("workout", "block", "round")} == {None}


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
    assert (pull_ups.work_s, pull_ups.transition_s) == (4.0, 2.0)


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
    assert read[0]["end_s"] == "96.00"
    assert (read[0]["reps"], read[0]["set"], read[-1]["set"]) == ("9", "", "4")
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


THREE_BLOCKS = Workout(
    name="three blocks",
    scoring="for time",
    missing_reps="deducted",
    blocks=[
        Block(rounds=2, rest_after_s=30.0, stations=[Station(movement="thruster", reps=1)]),
        Block(rest_after_s=40.0, stations=[Station(movement="pull-up", reps=1)]),
        Block(stations=[Station(movement="burpee", reps=1)]),
    ],
)

FOUR_THRUSTERS = msgspec.structs.replace(
    THREE_BLOCKS, blocks=[Block(stations=[Station(movement="thruster", reps=4)])]
)


def one_each(*placed: tuple[float, tuple[int, int, int] | None]) -> list[RepPart]:
    """A rep of 2 s at each time and place, each a set of its own; it is complete after 1.5 s."""
    stretches = [
        rep_parts("g", begin_s=begin_s, set_number=number, place=place)
        for number, (begin_s, place) in enumerate(placed, start=1)
    ]
    return attempt(*stretches)


def test_the_rest_of_a_block_follows_its_last_round_and_no_other() -> None:
    reps = one_each((0.0, (1, 1, 1)), (10.0, (1, 2, 1)), (60.0, (2, 1, 1)), (120.0, (3, 1, 1)))
    stations = [part for part in splits(THREE_BLOCKS, reps, [], 0.0) if part.level == "station"]
    assert [part.rest_s for part in stations] == [0.0, 0.0, 30.0, 40.0]
    # complete at 1.5, 11.5, 61.5 and 121.5 s, half a second more of work; the rest is transition
    assert [part.transition_s for part in stations] == [0.0, 8.0, 18.5, 18.5]


def test_whoever_skips_a_block_had_both_rests() -> None:
    reps = one_each((0.0, (1, 2, 1)), (100.0, (3, 1, 1)))
    last = row(splits(THREE_BLOCKS, reps, [], 0.0), "station", 1)
    assert (last.rest_s, last.transition_s) == (70.0, 28.5)


def test_going_back_a_block_is_no_rest() -> None:
    reps = one_each((0.0, (2, 1, 1)), (100.0, (1, 1, 1)))
    assert row(splits(THREE_BLOCKS, reps, [], 0.0), "station", 1).rest_s == 0.0


def test_rounds_of_a_block_share_one_row_of_it() -> None:
    reps = one_each((0.0, (1, 1, 1)), (10.0, (1, 2, 1)), (60.0, (2, 1, 1)))
    rows = splits(THREE_BLOCKS, reps, [], 0.0)
    named = [(p.level, p.block, p.round, p.station) for p in rows if p.level != "set"]
    assert named == [
        ("workout", None, None, None),
        ("block", 1, None, None),
        ("block", 2, None, None),
        ("round", 1, 1, None),
        ("round", 1, 2, None),
        ("round", 2, 1, None),
        ("station", 1, 1, 1),
        ("station", 1, 2, 1),
        ("station", 2, 1, 1),
    ]


def test_reps_off_the_script_are_in_the_whole_and_in_no_block() -> None:
    reps = one_each((0.0, (1, 1, 1)), (10.0, None))
    rows = splits(THREE_BLOCKS, reps, [], 0.0)
    assert [(p.level, p.reps) for p in rows] == [
        ("workout", 2),
        ("block", 1),
        ("round", 1),
        ("station", 1),
        ("station", 1),
        ("set", 1),
        ("set", 1),
    ]
    assert row(rows, "station", 1).block is None


@pytest.mark.parametrize("unknown", ["block", "round", "station"])
def test_a_place_known_in_part_is_none(unknown: str) -> None:
    (rep,) = one_each((0.0, (1, 2, 3)))
    assert place_of(rep) == (1, 2, 3)
    assert place_of(msgspec.structs.replace(rep, **{unknown: None})) is None


def test_what_was_over_at_the_start_and_what_begins_at_the_end_is_not_the_workout_s() -> None:
    reps = one_each((3.0, (1, 1, 1)), (5.0, (1, 1, 1)), (7.0, (1, 1, 1)))
    (visit,) = visits_of(None, reps, [], 5.0, 7.0)
    assert [rep.number for rep in visit.reps] == [2]
    assert (visit.start_s, visit.end_s) == (5.0, 7.0)


def test_the_rows_of_sets_lie_within_their_station() -> None:
    """The second set is cut off by the cap at 7 s; the first begins before the clock does."""
    reps = [
        *rep_parts("gg", begin_s=-1.0, set_number=1),
        *rep_parts("gg", begin_s=5.0, set_number=2),
    ]
    capped = msgspec.structs.replace(FOUR_THRUSTERS, time_cap_s=7.0)
    rows = splits(capped, attempt(reps), [], 0.0)
    sets = [(p.start_s, p.end_s, p.work_s, p.reps) for p in rows if p.level == "set"]
    assert sets == [(0.0, 3.0, 3.0, 2), (5.0, 6.5, 1.5, 1)]
    whole = row(rows, "workout")
    assert (whole.end_s, whole.work_s, whole.break_s, whole.reps) == (6.5, 4.5, 2.0, 3)


def test_a_rep_as_likely_good_as_not_is_counted_as_good_in_the_splits() -> None:
    reps = [
        msgspec.structs.replace(rep, probability_good=chance)
        for rep, chance in zip(rep_parts("???"), (0.5, 0.49, 0.51), strict=True)
    ]
    assert row(splits(THREE_BLOCKS, attempt(reps), [], 0.0), "workout").good == 2


def test_cycle_times_are_means_between_turns_of_one_set() -> None:
    reps = attempt(
        rep_parts("ggg", begin_s=0.0, cycle_s=2.0, set_number=1),
        rep_parts("gg", begin_s=20.0, cycle_s=3.0, set_number=2),
    )
    rows = splits(THREE_BLOCKS, reps, [], 0.0)
    # turns at 1, 3, 5 and at 21.5, 24.5 s: steps of 2, 2 and 3 s, the break between sets is none
    assert row(rows, "workout").cycle_s == pytest.approx(7.0 / 3.0)
    assert [row(rows, "set", n).cycle_s for n in (0, 1)] == [2.0, 3.0]
    single = splits(THREE_BLOCKS, one_each((0.0, (1, 1, 1))), [], 0.0)
    assert row(single, "workout").cycle_s is None


def test_work_alone_has_no_ratio_of_work_to_rest() -> None:
    rows = splits(FOUR_THRUSTERS, rep_parts("gg"), [], 0.0)
    # 3.5 s, until the second rep is complete
    assert (row(rows, "workout").work_s, row(rows, "workout").work_to_rest) == (3.5, None)


@pytest.mark.parametrize(("probability", "ends_s"), [(0.8, 7.5), (0.2, 5.5)])
def test_a_station_ends_with_the_last_rep_that_most_likely_counts(
    probability: float, ends_s: float
) -> None:
    """The third thruster is open: complete at 12.5 s of the film, the second at 10.5 s."""
    first, second, third, *others = by_hand()
    third = msgspec.structs.replace(third, verdict="too close", probability_good=probability)
    rows = splits(COUPLET, [first, second, third, *others], [], 5.0, 101.0)
    assert row(rows, "station").end_s == ends_s
    assert row(rows, "station", 1).start_s == ends_s
