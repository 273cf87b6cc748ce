"""A record with a workout: places, flags, score and splits agree, and can be made anew."""

import json

import msgspec
import pytest

from counting.record.files import parse_record, record_json
from counting.record.scored import NoWorkoutError, workout_part
from counting.record.types import AthletePart
from counting.workout.record import WorkoutPart
from counting.workout.types import Block, Penalties, Station, Workout
from counting.workout.whole import scored_again, with_workout
from tests.followed import followed
from tests.records import bare_record

from .attempts import (
    CLEAN,
    COUPLET,
    MUSCLE_UPS,
    PULL_UPS,
    THRUSTERS,
    ZERO,
    done,
    rep_parts,
)


def test_a_clean_attempt_is_finished_without_a_flag() -> None:
    found, part = done(*CLEAN)
    # last muscle-up complete 3.5 s after 64 s
    assert part.score.likely.finished
    assert part.score.likely.time_s == pytest.approx(67.5)
    assert part.flags == []
    assert part.score.tie_break is not None
    assert part.score.tie_break.time_s == pytest.approx(33.5)
    assert [(line.block, line.round, line.station, line.counted) for line in part.stations] == [
        (1, 1, 1, 3),
        (1, 1, 2, 2),
        (1, 2, 1, 3),
        (1, 2, 2, 2),
        (2, 1, 1, 2),
    ]
    assert found.reps[3].station == 2
    assert found.start_s == 5.0


def test_the_splits_add_up_to_the_clock_of_the_score() -> None:
    _, part = done(*CLEAN)
    whole = part.splits[0]
    assert whole.end_s == pytest.approx(part.score.likely.time_s)
    stations = [row for row in part.splits if row.level == "station"]
    assert sum(row.end_s - row.start_s for row in stations) == pytest.approx(whole.end_s)
    assert stations[-1].rest_s == pytest.approx(30.0)


def flags_of(part: WorkoutPart) -> list[tuple[str, float]]:
    return [(flag.kind, round(flag.at_s - 5.0, 2)) for flag in part.flags]


def test_moving_on_too_early_is_flagged_and_deducted() -> None:
    _, part = done(
        (THRUSTERS, "thruster", "ggn", 2.0),
        *CLEAN[1:],
    )
    assert flags_of(part) == [("reps missing", 8.0)]
    assert (part.score.likely.finished, part.score.likely.reps) == (False, 11)
    assert part.score.missing_reps == 1


def test_an_open_call_makes_it_a_perhaps() -> None:
    _, part = done((THRUSTERS, "thruster", "gg?", 2.0), *CLEAN[1:])
    assert flags_of(part) == [("reps may be missing", 8.0)]
    assert part.score.likely.finished
    assert not part.score.worst.finished


def test_a_rep_too_many_is_flagged() -> None:
    _, part = done((THRUSTERS, "thruster", "gggg", 2.0), *CLEAN[1:])
    assert flags_of(part) == [("extra rep", 8.0)]


def test_made_up_reps_are_no_flag() -> None:
    found, part = done((THRUSTERS, "thruster", "gngg", 2.0), *CLEAN[1:])
    assert part.flags == []
    assert {rep.round for rep in found.reps[:4]} == {1}
    assert part.stations[0].no_rep == 1


def test_the_wrong_order_is_flagged_where_it_begins() -> None:
    _, part = done(
        (PULL_UPS, "pull-up", "gg", 2.0), (THRUSTERS, "thruster", "ggg", 10.0), *CLEAN[2:]
    )
    assert flags_of(part) == [("wrong order", 2.0)]


def test_a_station_left_out_is_flagged_at_the_next_one() -> None:
    _, part = done(CLEAN[0], *CLEAN[2:])
    assert flags_of(part) == [("skipped station", 20.0)]
    assert part.score.likely.reps == 10


def test_a_movement_off_the_script_is_flagged() -> None:
    _, part = done(CLEAN[0], (None, "burpee", "g", 9.0), *CLEAN[1:])
    assert flags_of(part) == [("off the script", 9.0)]
    assert part.score.likely.reps == 12


def test_a_short_rest_is_flagged_with_what_was_rested_and_priced() -> None:
    early = (*CLEAN[:4], (MUSCLE_UPS, "bar muscle-up", "gg", 60.0))
    _, part = done(*early)
    # block 1 complete at 33.5 s, so the rest was 26.5 s of 30 s
    assert flags_of(part) == [("short rest", 60.0)]
    assert "26.5 s of 30 s" in part.flags[0].words
    priced = msgspec.structs.replace(COUPLET, penalties=Penalties(short_rest_s=10.0))
    assert done(*early, workout=priced)[1].score.likely.time_s == pytest.approx(73.5)


def test_a_rest_short_by_less_than_a_frame_can_show_is_no_flag() -> None:
    _, part = done(*CLEAN[:4], (MUSCLE_UPS, "bar muscle-up", "gg", 63.45))
    assert part.flags == []


def test_a_rep_before_the_start_is_flagged() -> None:
    _, part = done((THRUSTERS, "thruster", "ggg", -0.5), *CLEAN[1:])
    assert flags_of(part) == [("early start", -0.5)]


def test_a_blind_stretch_that_could_hide_a_rep_is_flagged() -> None:
    found, _ = done(*CLEAN)
    blind = AthletePart(seen_share=0.9, lost=[(14.0, 14.9), (45.0, 48.5)])
    part = workout_part(scored_again(msgspec.structs.replace(found, athlete=blind)))
    # reps take 2 s: 0.9 s hide none, 3.5 s at most two
    assert flags_of(part) == [("not seen", 40.0)]
    assert "up to 2 reps of pull-up" in part.flags[0].words


def test_rounds_of_one_movement_are_parted_by_what_counts() -> None:
    singles = Workout(
        name="rounds",
        scoring="for time",
        missing_reps="stop the count",
        blocks=[Block(rounds=3, stations=[Station(movement="burpee", reps=2)])],
    )
    found, part = done((0, "burpee", "gngggg", 1.0), workout=singles)
    assert [rep.round for rep in found.reps] == [1, 1, 1, 2, 2, 3]
    assert part.score.likely.reps == 5


def test_an_empty_attempt_has_a_score_of_none() -> None:
    _, part = done()
    assert (part.score.likely.reps, part.splits, part.flags) == (0, [], [])


def test_the_record_survives_its_file_and_is_scored_to_the_same_again() -> None:
    found, part = done((THRUSTERS, "thruster", "g?g", 2.0), *CLEAN[1:])
    read = parse_record(record_json(found).encode(), "audit.json")
    assert json.loads(record_json(read)) == json.loads(record_json(found))
    assert workout_part(scored_again(read)) == part


def test_a_changed_call_changes_the_score() -> None:
    found, part = done((THRUSTERS, "thruster", "gg?", 2.0), *CLEAN[1:])
    reps = list(found.reps)
    reps[2] = msgspec.structs.replace(reps[2], verdict="no-rep", probability_good=0.0)
    again = workout_part(scored_again(msgspec.structs.replace(found, reps=reps)))
    assert part.score.likely.finished
    assert not again.score.likely.finished
    assert [flag.kind for flag in again.flags] == ["reps missing"]


def test_a_record_without_a_workout_says_so() -> None:
    with pytest.raises(NoWorkoutError, match="--workout"):
        scored_again(bare_record([]))


def test_a_record_of_other_reps_is_refused() -> None:
    reps = rep_parts("gg")
    with pytest.raises(ValueError, match="2 reps in the record, 0 followed"):
        with_workout(bare_record(reps), COUPLET, followed([], []), ZERO)


def test_a_rep_too_many_after_time_was_up_is_no_flag() -> None:
    capped = msgspec.structs.replace(COUPLET, time_cap_s=20.0)
    _, part = done(*CLEAN, (MUSCLE_UPS, "bar muscle-up", "g", 90.0), workout=capped)
    assert "extra rep" not in [kind for kind, _ in flags_of(part)]


def test_a_blind_stretch_before_the_first_rep_hides_none() -> None:
    found, _ = done(*CLEAN)
    blind = AthletePart(seen_share=0.9, lost=[(1.0, 6.5)])
    again = scored_again(msgspec.structs.replace(found, athlete=blind))
    assert workout_part(again).flags == []


def test_the_clock_of_an_unfinished_attempt_stops_when_time_is_up_if_that_was_filmed() -> None:
    for cap_s, last_s in ((100.0, 100.0), (500.0, None)):
        capped = msgspec.structs.replace(COUPLET, time_cap_s=cap_s)
        _, part = done(CLEAN[0], workout=capped)
        ends = [line.end_s for line in part.splits]
        assert not part.score.likely.finished
        assert (max(ends) == pytest.approx(last_s)) if last_s else max(ends) < 100.0


def test_a_hundred_burpees_until_time_is_up_are_a_hundred_and_stay_so() -> None:
    singles = Workout(
        name="singles",
        scoring="as many reps as possible",
        missing_reps="deducted",
        time_cap_s=420.0,
        blocks=[Block(rounds="until time is up", stations=[Station(movement="burpee", reps=1)])],
    )
    found, part = done((0, "burpee", "g" * 100, 2.0), workout=singles)
    assert part.score.likely.reps == 100
    assert (part.score.rounds_done, part.flags) == (100, [])
    assert found.reps[-1].round == 100
    assert workout_part(scored_again(found)).score == part.score
