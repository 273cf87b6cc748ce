"""The score carries every open call, and says what each would change."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counting.workout.score import ScoredRep, score
from counting.workout.types import Block, Station, TieBreak, Workout

STEP_S = 10.0


def reps(
    calls: str, run: int = 0, chance: float = 0.6, uncertainty_s: float = 0.05
) -> list[ScoredRep]:
    """Reps 10 s apart, good (g), no-rep (n) or open (?)."""
    return [
        ScoredRep(
            number=number,
            run=run,
            set=1,
            clock_s=number * STEP_S,
            uncertainty_s=uncertainty_s,
            probability_good={"g": 1.0, "n": 0.0, "?": chance}[call],
            undecided=call == "?",
        )
        for number, call in enumerate(calls, start=1)
    ]


def pull_ups(count: int, **rules: object) -> Workout:
    return Workout(
        name="pull-ups",
        scoring=rules.pop("scoring", "for time"),  # type: ignore[arg-type]
        missing_reps="deducted",
        blocks=[Block(stations=[Station(movement="pull-up", reps=count)])],
        **rules,  # type: ignore[arg-type]
    )


def test_without_an_open_call_the_score_is_one_value() -> None:
    part, sheet = score(pull_ups(10), reps("ggngg"))
    assert part.likely == part.worst == part.best
    assert part.likely.reps == sheet.reps == 4
    assert part.within == pytest.approx(1.0)
    assert part.undecided == []


def test_open_calls_widen_the_score_by_one_each() -> None:
    part, _ = score(pull_ups(10), reps("g?n?g"))
    assert (part.worst.reps, part.likely.reps, part.best.reps) == (2, 4, 4)
    assert [(d.reps, round(d.probability, 4)) for d in part.distribution] == [
        (2, 0.16),
        (3, 0.48),
        (4, 0.36),
    ]
    assert part.within == pytest.approx(1.0)


def test_each_open_call_says_what_it_would_change() -> None:
    part, _ = score(pull_ups(10), reps("g?ng"))
    (open_call,) = part.undecided
    assert open_call.rep == 2
    assert (open_call.if_good.reps, open_call.if_no_rep.reps) == (3, 2)
    assert "too close" in open_call.why


def test_an_open_last_rep_decides_whether_there_is_a_time_at_all() -> None:
    part, _ = score(pull_ups(3), reps("gg?"))
    assert part.likely.finished
    assert part.likely.time_s == 30.0
    assert not part.worst.finished
    assert part.undecided[0].if_no_rep.reps == 2


def test_an_open_rep_that_was_made_up_moves_the_finish() -> None:
    part, _ = score(pull_ups(3), reps("g?gg"))
    assert part.likely.time_s == 30.0
    # 95 % of the clock, 2 x 0.05 s, on either side
    assert part.best.time_s == pytest.approx(29.9)
    assert part.worst.time_s == pytest.approx(40.1)


def test_an_open_rep_of_little_chance_is_likely_no_rep_but_kept_in_the_interval() -> None:
    part, _ = score(pull_ups(10), reps("g?g", chance=0.2))
    assert (part.worst.reps, part.likely.reps, part.best.reps) == (2, 2, 3)


def test_a_rep_at_the_time_cap_is_open_for_the_clock_alone() -> None:
    capped = pull_ups(10, time_cap_s=30.05)
    part, _ = score(capped, reps("ggg", uncertainty_s=0.05))
    # 0.05 s before the cap is one standard uncertainty: Phi(1) = 0.8413
    assert [(d.reps, round(d.probability, 4)) for d in part.distribution] == [
        (2, 0.1587),
        (3, 0.8413),
    ]
    (open_call,) = part.undecided
    assert "time cap" in open_call.why
    assert part.worst.reps == 2


def test_the_tie_break_has_an_interval_of_its_own() -> None:
    part, _ = score(pull_ups(10, tie_break=TieBreak(rep=2)), reps("g?gg"))
    assert part.tie_break is not None
    assert part.tie_break.time_s == 20.0
    assert part.tie_break.earliest_s == pytest.approx(19.9)
    assert part.tie_break.latest_s == pytest.approx(30.1)
    assert part.tie_break.reached == pytest.approx(1.0)


def test_a_tie_break_that_hangs_on_an_open_call_says_how_sure_it_is() -> None:
    part, _ = score(pull_ups(10, tie_break=TieBreak(rep=2)), reps("g?"))
    assert part.tie_break is not None
    assert part.tie_break.reached == pytest.approx(0.6)


def test_a_one_set_maximum_is_the_best_set() -> None:
    asked = Workout(
        name="max",
        scoring="one-set maximum",
        missing_reps="deducted",
        blocks=[Block(stations=[Station(movement="pull-up")])],
    )
    both = [*reps("gg"), *reps("gggn")]
    sets = [1, 1, 2, 2, 2, 2]
    part, sheet = score(
        asked,
        [
            ScoredRep(n, 0, own, n * STEP_S, 0.05, rep.probability_good, False)
            for n, (rep, own) in enumerate(zip(both, sets, strict=True), start=1)
        ],
    )
    assert part.likely.reps == 3
    assert [number for number, _ in sheet.counted] == [3, 4, 5]


def test_rounds_and_reps_are_counted_out() -> None:
    asked = Workout(
        name="rounds",
        scoring="as many reps as possible",
        missing_reps="deducted",
        time_cap_s=100.0,
        blocks=[Block(rounds="until time is up", stations=[Station(movement="pull-up", reps=3)])],
    )
    part, _ = score(asked, reps("ggggngg"))
    assert (part.rounds_done, part.reps_in_round, part.likely.reps) == (2, 0, 6)
    assert part.reps_asked is None


def test_no_rep_at_all_is_a_score_of_none() -> None:
    part, _ = score(pull_ups(3), [])
    assert (part.likely.reps, part.likely.finished, part.within) == (0, False, 1.0)


@settings(deadline=None, max_examples=40)
@given(st.text(alphabet="gn?", max_size=7))
def test_the_interval_holds_every_way_the_open_calls_can_go(calls: str) -> None:
    part, _ = score(pull_ups(5), reps(calls))
    for way in itertools.product("gn", repeat=calls.count("?")):
        called = iter(way)
        definite = "".join(next(called) if c == "?" else c for c in calls)
        outcome = score(pull_ups(5), reps(definite))[0].likely
        assert part.worst.reps <= outcome.reps <= part.best.reps
        if outcome.finished:
            assert part.best.finished
    assert sum(d.probability for d in part.distribution) == pytest.approx(1.0, abs=0.01)


@settings(deadline=None, max_examples=10)
@given(st.text(alphabet="gn?", min_size=11, max_size=30))
def test_many_open_calls_are_sampled_to_the_same_answer_every_time(calls: str) -> None:
    first, second = (score(pull_ups(40), reps(calls))[0] for _ in range(2))
    assert first == second
    assert first.best.reps - first.worst.reps == calls.count("?")


def one_set() -> Workout:
    return Workout(
        name="one set",
        scoring="one-set maximum",
        missing_reps="deducted",
        blocks=[Block(stations=[Station(movement="pull-up")])],
    )


def test_a_one_set_maximum_without_a_good_rep_is_none() -> None:
    part, sheet = score(one_set(), reps("nn"))
    assert (part.likely.reps, sheet.reps) == (0, 0)
    assert "the set with most good reps counts" in part.counting


def test_a_fixed_interval_counts_good_reps_within_it() -> None:
    asked = Workout(
        name="every minute",
        scoring="fixed interval",
        missing_reps="deducted",
        blocks=[Block(interval_s=60.0, stations=[Station(movement="pull-up", reps=3)])],
    )
    part, _ = score(asked, reps("gng"))
    assert part.likely.reps == 2
    assert part.counting == "good reps count within their own interval"
