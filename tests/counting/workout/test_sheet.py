"""Judge's sheets worked out by hand: every rule of a workout file, applied to definite calls."""

import pytest

from counting.workout.sheet import CalledRep, Sheet, fill_sheet, interval_windows
from counting.workout.types import (
    Block,
    Penalties,
    Station,
    TieBreak,
    Workout,
    runs,
    script,
)


def workout(
    *blocks: Block,
    scoring: str = "for time",
    missing_reps: str = "stop the count",
    **rules: object,
) -> Workout:
    return Workout(
        name="by hand",
        scoring=scoring,  # type: ignore[arg-type]
        missing_reps=missing_reps,  # type: ignore[arg-type]
        blocks=list(blocks),
        **rules,  # type: ignore[arg-type]
    )


def rounds_of(rounds: int, *stations: tuple[str, int], **keys: float) -> Block:
    return Block(
        rounds=rounds,
        stations=[Station(movement=movement, reps=reps) for movement, reps in stations],
        **keys,  # type: ignore[arg-type]
    )


def sheet(asked: Workout, calls: str, step_s: float = 10.0, **keys: float) -> Sheet:
    """Fill the sheet of reps ``step_s`` apart; ``calls`` like ``"0gg 1gn"``: run, then its calls.

    A capital letter of the run's calls is a good rep, too.
    """
    slots = script(asked, 20)
    reps: list[CalledRep] = []
    for part in calls.split():
        run = None if part[0] == "x" else int(part[0])
        for call in part[1:]:
            number = len(reps) + 1
            reps.append(CalledRep(number, run, number * step_s, call == "g"))
    return fill_sheet(asked, slots, runs(asked, slots), reps, **keys)


COUPLET = rounds_of(2, ("thruster", 3), ("pull-up", 2))


def test_all_good_and_in_order_finishes_at_the_last_rep() -> None:
    result = sheet(workout(COUPLET), "0ggg 1gg 2ggg 3gg")
    assert (result.reps, result.finished, result.time_s) == (10, True, 100.0)
    assert result.missing == {}
    assert result.extra == ()


def test_a_no_rep_that_is_made_up_costs_its_time_only() -> None:
    result = sheet(workout(COUPLET), "0gngg 1gg 2ggg 3gg")
    assert (result.reps, result.finished, result.time_s) == (10, True, 110.0)


def test_nothing_counts_after_a_rep_that_was_not_made_up() -> None:
    result = sheet(workout(COUPLET), "0ggg 1gn 2ggg 3gg")
    assert (result.reps, result.finished, result.time_s) == (4, False, None)
    assert result.missing[1] == 1


def test_coming_back_to_make_up_the_rep_lets_the_count_go_on() -> None:
    result = sheet(workout(COUPLET), "0ggg 1gn 2ggg 1g 2ggg 3gg")
    assert (result.reps, result.finished) == (10, True)
    assert result.extra == (6, 7, 8)


def test_where_missing_reps_are_deducted_the_rest_counts() -> None:
    result = sheet(workout(COUPLET, missing_reps="deducted"), "0ggg 1gn 2ggg 3gg")
    assert (result.reps, result.finished) == (9, False)
    assert result.missing == {1: 1}


def test_a_price_on_missing_reps_makes_it_a_time_again() -> None:
    priced = workout(
        COUPLET, missing_reps="deducted", penalties=Penalties(missing_rep_s=5.0, no_rep_s=1.0)
    )
    result = sheet(priced, "0ggg 1gn 2ggg 3gg")
    # 10 reps tried, the last at 100 s; one missing (5 s), one no-rep (1 s)
    assert (result.finished, result.clock_s, result.time_s) == (True, 100.0, 106.0)


def test_a_price_does_not_pay_for_work_that_was_never_reached() -> None:
    priced = workout(COUPLET, missing_reps="deducted", penalties=Penalties(missing_rep_s=5.0))
    result = sheet(priced, "0ggg 1gg 2gg")
    assert (result.reps, result.finished) == (7, False)


def test_reps_beyond_what_is_asked_do_not_count() -> None:
    result = sheet(workout(COUPLET), "0ggggg 1gg 2ggg 3gg")
    assert (result.reps, result.extra) == (10, (4, 5))
    assert result.time_s == 120.0


def test_the_cap_falls_in_the_middle_of_a_round() -> None:
    result = sheet(workout(COUPLET, time_cap_s=75.0), "0ggg 1gg 2ggg 3gg")
    assert (result.reps, result.finished, result.time_s) == (7, False, None)


def test_a_rep_on_the_cap_itself_counts() -> None:
    assert sheet(workout(COUPLET, time_cap_s=70.0), "0ggg 1gg 2ggg 3gg").reps == 7


def test_rounds_until_time_is_up_go_on_without_end() -> None:
    endless = Block(
        rounds="until time is up",
        stations=[Station(movement="air squat", reps=2), Station(movement="push-up", reps=1)],
    )
    asked = workout(endless, scoring="as many reps as possible", time_cap_s=95.0)
    result = sheet(asked, "0gg 1g 2gg 3g 4gg 5g")
    assert (result.reps, result.finished) == (9, False)


def test_the_wrong_station_first_does_not_count_until_it_is_due() -> None:
    result = sheet(workout(COUPLET), "1gg 0ggg 1gg 2ggg 3gg")
    assert (result.reps, result.extra, result.finished) == (10, (1, 2), True)


def test_reps_off_the_script_never_count() -> None:
    result = sheet(workout(COUPLET), "0ggg xgg 1gg 2ggg 3gg")
    assert (result.reps, result.finished) == (10, True)


TWO_BLOCKS = (
    rounds_of(1, ("thruster", 3), ("pull-up", 2), rest_after_s=60.0),
    rounds_of(1, ("bar muscle-up", 3)),
)


def test_a_tie_on_reps_is_decided_by_the_clock_at_the_end_of_the_first_block() -> None:
    asked = workout(*TWO_BLOCKS, tie_break=TieBreak(block=1), time_cap_s=200.0)
    slow = sheet(asked, "0gnggg 1gg 2g", step_s=10.0)
    fast = sheet(asked, "0ggg 1gg 2gnn", step_s=10.0)
    assert slow.reps == fast.reps == 6
    # slow: thrusters done with the 4th try (the 5th is extra), pull-ups 6th and 7th
    assert (slow.tie_break_s, fast.tie_break_s) == (70.0, 50.0)


def test_the_tie_break_can_be_a_rep_counted_from_the_beginning() -> None:
    asked = workout(*TWO_BLOCKS, tie_break=TieBreak(rep=4))
    assert sheet(asked, "0gngg 1gg 2g").tie_break_s == 50.0
    assert sheet(asked, "0gg").tie_break_s is None


def test_a_block_left_unfinished_has_no_tie_break_unless_its_gaps_are_deducted() -> None:
    strict = workout(*TWO_BLOCKS, tie_break=TieBreak(block=1))
    lenient = workout(*TWO_BLOCKS, tie_break=TieBreak(block=1), missing_reps="deducted")
    assert sheet(strict, "0ggg 1gn 2ggg").tie_break_s is None
    assert sheet(lenient, "0ggg 1gn 2ggg").tie_break_s == 40.0


def test_a_fixed_interval_counts_only_what_was_done_within_it() -> None:
    every_minute = workout(
        rounds_of(3, ("burpee", 3), interval_s=60.0),
        scoring="fixed interval",
    )
    # 20 s apart: the first round's three fit (20, 40, 60 s), the second's too (80, 100, 120 s);
    # the third round's third rep is never done.
    assert sheet(every_minute, "0ggg 1ggg 2gg", step_s=20.0).reps == 8
    # Round one: good at 20 and 60 s; its third good one comes at 80 s, too late. Round two: good at
    # 100 and 120 s; the third at 140 s is too late.
    assert sheet(every_minute, "0gngg 1ggg", step_s=20.0).reps == 4


def test_rounds_of_one_movement_fill_one_after_another() -> None:
    asked = workout(rounds_of(3, ("burpee", 2)))
    result = sheet(asked, "0ggnggg", step_s=1.0)
    assert [slot for _, slot in result.counted] == [0, 0, 1, 1, 2]


def test_penalties_of_rest_and_start_come_on_top() -> None:
    result = sheet(workout(COUPLET), "0ggg 1gg 2ggg 3gg", other_penalties_s=7.0)
    assert (result.clock_s, result.time_s) == (100.0, 107.0)


def test_an_attempt_without_a_rep_has_an_empty_sheet() -> None:
    result = sheet(workout(COUPLET, tie_break=TieBreak(rep=1)), "")
    assert (result.reps, result.finished, result.tie_break_s) == (0, False, None)


@pytest.mark.parametrize("missing_reps", ["stop the count", "deducted"])
def test_turning_a_no_rep_into_a_good_one_never_costs_a_rep(missing_reps: str) -> None:
    asked = workout(COUPLET, missing_reps=missing_reps)
    base = "gngggnggngg"
    shape = "00001112223"
    for flip in range(len(base)):
        for_ = [c if i != flip else "g" for i, c in enumerate(base)]
        against = [c if i != flip else "n" for i, c in enumerate(base)]
        counts = [
            sheet(asked, " ".join(run + call for run, call in zip(shape, calls, strict=True))).reps
            for calls in (for_, against)
        ]
        assert counts[0] >= counts[1]


DEDUCTED = workout(COUPLET, missing_reps="deducted")
PRICED = workout(COUPLET, missing_reps="deducted", penalties=Penalties(missing_rep_s=5.0))


def test_what_was_not_begun_is_not_missing() -> None:
    assert sheet(DEDUCTED, "").missing == {}
    assert sheet(DEDUCTED, "xgg").missing == {}
    assert sheet(DEDUCTED, "0ggg 1gg 2gg").missing == {}
    assert sheet(DEDUCTED, "0gg 1gg 2g").missing == {0: 1}


def test_without_a_price_a_missing_rep_costs_no_seconds() -> None:
    result = sheet(DEDUCTED, "0ggg 1gn 2ggg 3gg")
    assert (result.missing, result.penalties_s) == ({1: 1}, 0.0)


def test_reps_after_the_end_of_the_work_are_extra() -> None:
    result = sheet(workout(COUPLET), "0ggg 1gg 2ggg 3ggg")
    assert (result.reps, result.extra, result.time_s) == (10, (11,), 100.0)


def test_a_price_does_not_pay_for_the_last_station_left_unfinished() -> None:
    """One pull-up of the first round can be paid for, the last one of all cannot."""
    result = sheet(PRICED, "0ggg 1gn 2ggg 3g")
    assert (result.finished, result.clock_s, result.reps) == (False, None, 8)


def test_a_priced_finish_is_at_the_last_good_rep_not_at_a_try_after_it() -> None:
    result = sheet(PRICED, "0ggg 1gn 2ggg 3ggn")
    assert (result.clock_s, result.time_s) == (100.0, 105.0)


def test_a_tie_break_at_the_very_last_counted_rep_is_reached() -> None:
    asked = workout(COUPLET, tie_break=TieBreak(rep=4))
    assert sheet(asked, "0ggg 1g").tie_break_s == 40.0
    assert sheet(asked, "0ggg").tie_break_s is None


def test_while_the_block_is_still_at_work_its_end_is_no_tie_break() -> None:
    lenient = workout(*TWO_BLOCKS, tie_break=TieBreak(block=1), missing_reps="deducted")
    assert sheet(lenient, "0ggg 1gn").tie_break_s is None


def test_intervals_follow_each_other_with_the_rest_between_blocks() -> None:
    asked = workout(
        rounds_of(2, ("burpee", 3), ("push-up", 3), interval_s=60.0, rest_after_s=30.0),
        rounds_of(1, ("burpee", 3), interval_s=40.0),
        scoring="fixed interval",
    )
    # two stations a round share its minute; 120 s and 30 s of rest later comes the second block
    first, second, third = (0.0, 60.0), (60.0, 120.0), (150.0, 190.0)
    assert interval_windows(asked, script(asked)) == [first, first, second, second, third]


def test_a_rep_at_the_very_begin_or_end_of_its_interval_counts() -> None:
    asked = workout(rounds_of(2, ("burpee", 3), interval_s=60.0), scoring="fixed interval")
    slots = script(asked)
    tried = [(0, 0.0), (0, 60.0), (1, 59.9), (1, 60.0), (1, 120.0), (1, 120.1)]
    reps = [CalledRep(number, run, at, good=True) for number, (run, at) in enumerate(tried, 1)]
    result = fill_sheet(asked, slots, runs(asked, slots), reps)
    assert [number for number, _ in result.counted] == [1, 2, 4, 5]
    assert result.extra == (3, 6)
