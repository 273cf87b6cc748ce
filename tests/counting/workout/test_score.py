"""The score carries every open call, and says what each would change."""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counting.workout.score import ScoredRep, likely_sheet, score
from counting.workout.types import Block, Penalties, Station, TieBreak, Workout

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


def test_the_tie_break_s_interval_holds_what_lies_between_all_calls_good_and_none() -> None:
    """With both open ones refused it is not reached; with one of them it comes at 30 or 40 s."""
    found = score(pull_ups(10, tie_break=TieBreak(rep=3)), reps("gg??"))[0].tie_break
    assert found is not None
    assert found.time_s == 30.0
    assert found.earliest_s == pytest.approx(29.9)
    assert found.latest_s == pytest.approx(40.1)
    assert found.reached == pytest.approx(1.0 - 0.4**2)


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
    assert "the set with the most good reps counts" in part.counting


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


def couplet(rounds: int | str = 2, **rules: object) -> Workout:
    """Rounds of three thrusters and two pull-ups."""
    return Workout(
        name="couplet",
        scoring=rules.pop("scoring", "for time"),  # type: ignore[arg-type]
        missing_reps=rules.pop("missing_reps", "deducted"),  # type: ignore[arg-type]
        blocks=[
            Block(
                rounds=rounds,  # type: ignore[arg-type]
                stations=[
                    Station(movement="thruster", reps=3),
                    Station(movement="pull-up", reps=2),
                ],
            )
        ],
        **rules,  # type: ignore[arg-type]
    )


def by_station(calls: str) -> list[ScoredRep]:
    """Reps 10 s apart, a word of calls for each run of the script."""
    joined = reps(calls.replace(" ", ""))
    runs_of = [run for run, word in enumerate(calls.split()) for _ in word]
    return [
        ScoredRep(r.number, run, 1, r.clock_s, r.uncertainty_s, r.probability_good, r.undecided)
        for r, run in zip(joined, runs_of, strict=True)
    ]


@pytest.mark.parametrize(
    ("calls", "rounds_done", "in_round", "good", "missing"),
    [
        ("ggg gg ggg gg", 2, 0, 10, 0),
        ("ggg gg gg", 1, 2, 7, 0),
        # one pull-up of the first round is missing: no round is full, seven reps count
        ("ggg gn ggg", 0, 7, 7, 1),
        ("gg", 0, 2, 2, 0),
    ],
)
def test_rounds_reps_and_gaps_of_a_couplet(
    calls: str, rounds_done: int, in_round: int, good: int, missing: int
) -> None:
    part, _ = score(couplet(), by_station(calls))
    assert (part.rounds_done, part.reps_in_round) == (rounds_done, in_round)
    assert (part.good_reps, part.missing_reps, part.reps_asked) == (good, missing, 10)


def test_what_is_asked_has_no_number_where_rounds_or_reps_are_open() -> None:
    endless = couplet("until time is up", scoring="as many reps as possible", time_cap_s=600.0)
    assert score(endless, [])[0].reps_asked is None
    assert score(one_set(), [])[0].reps_asked is None


def test_each_rule_of_counting_is_said() -> None:
    strict = couplet(missing_reps="stop the count")
    assert score(strict, [])[0].counting == "counting stops at the first missing rep"
    assert score(couplet(), [])[0].counting == ("missing reps are deducted, the others count")


def test_penalties_come_on_top_of_the_time() -> None:
    priced = pull_ups(3, penalties=Penalties(no_rep_s=2.0))
    part, _ = score(priced, reps("gngg"), other_penalties_s=3.0)
    # three good reps at 40 s, one no-rep (2 s), and 3 s for something else
    assert (part.penalties_s, part.likely.time_s) == (5.0, 45.0)


def test_the_likely_sheet_is_the_score_s_without_penalties_from_flags() -> None:
    asked = pull_ups(3, penalties=Penalties(no_rep_s=2.0))
    tried = reps("g?ngg", chance=0.5)
    sheet = likely_sheet(asked, tried)
    # an even chance counts: reps 1, 2 and 4
    assert [number for number, _ in sheet.counted] == [1, 2, 4]
    assert sheet.penalties_s == 2.0
    assert score(asked, tried, other_penalties_s=7.0)[1].counted == sheet.counted


def test_an_even_chance_is_likely_good() -> None:
    assert score(pull_ups(9), reps("g?", chance=0.5))[0].likely.reps == 2
    assert score(pull_ups(9), reps("g?", chance=0.49))[0].likely.reps == 1


def test_a_sure_call_that_may_be_wrong_leaves_less_than_certainty_within() -> None:
    """The verdict is good at 97 %: the score says 2, and is right in 97 of 100 such attempts."""
    almost = [*reps("g"), ScoredRep(2, 0, 1, 20.0, 0.05, 0.97, undecided=False)]
    part, _ = score(pull_ups(9), almost)
    assert part.worst == part.best == part.likely
    assert part.within == pytest.approx(0.97)
    assert [(d.reps, round(d.probability, 4)) for d in part.distribution] == [(1, 0.03), (2, 0.97)]


def test_outcomes_rarer_than_one_in_two_thousand_are_left_out() -> None:
    # 0.02² = 0.0004, 2 x 0.02 x 0.98 = 0.0392, 0.98² = 0.9604
    part, _ = score(pull_ups(9), reps("??", chance=0.98))
    assert [(d.reps, round(d.probability, 4)) for d in part.distribution] == [
        (1, 0.0392),
        (2, 0.9604),
    ]


def test_the_clock_is_as_unsure_as_its_most_unsure_rep() -> None:
    sure, unsure = (
        ScoredRep(1, 0, 1, 10.0, 0.05, 1.0, False),
        ScoredRep(2, 0, 1, 20.0, 0.3, 1, False),
    )
    part, _ = score(pull_ups(2), [sure, unsure])
    assert part.time_uncertainty_s == pytest.approx(0.3)
    assert part.likely.time_s == 20.0
    assert (part.best.time_s, part.worst.time_s) == (pytest.approx(19.4), pytest.approx(20.6))
    assert score(pull_ups(2), [])[0].time_uncertainty_s == 0.0


def test_ten_open_calls_are_gone_through_and_more_are_drawn_two_thousand_times() -> None:
    ten, _ = score(pull_ups(40), reps("g" * 15 + "?" * 10))
    # all ten good: 0.6^10
    assert ten.distribution[-1].probability == pytest.approx(0.0060466, abs=1e-7)
    assert ten.within == pytest.approx(1.0, abs=1e-12)
    eleven, _ = score(pull_ups(40), reps("?" * 11))
    drawn = [d.probability * 2000 for d in eleven.distribution]
    assert drawn == pytest.approx([round(times) for times in drawn], abs=1e-6)
    # seven of eleven: 330 x 0.6^7 x 0.4^4 = 0.2365, give or take three standard errors of 0.0095
    seven = next(d.probability for d in eleven.distribution if d.reps == 7)
    assert seven == pytest.approx(0.2365, abs=0.029)


@pytest.mark.parametrize(
    ("early_s", "is_open"),
    [(0.097, True), (0.099, False), (-0.097, True), (-0.099, False), (0.0, True)],
)
def test_a_rep_is_open_within_the_95_percent_interval_of_the_cap(
    early_s: float, is_open: bool
) -> None:
    """1.96 times 0.05 s is 0.098 s."""
    part, _ = score(pull_ups(9, time_cap_s=10.0 + early_s), reps("g"))
    assert bool(part.undecided) == is_open
    assert part.likely.reps == (1 if early_s >= 0 else 0)


@pytest.mark.parametrize(("chance", "is_open"), [(0.05, False), (0.06, True)])
def test_a_sure_no_rep_at_the_cap_is_not_open(chance: float, is_open: bool) -> None:
    rep = ScoredRep(1, 0, 1, 10.0, 0.05, chance, undecided=False)
    part, _ = score(pull_ups(9, time_cap_s=10.0), [rep])
    assert bool(part.undecided) == is_open


def test_a_rep_with_two_reasons_to_be_open_gives_both() -> None:
    part, _ = score(pull_ups(9, time_cap_s=10.0), reps("?"))
    (open_call,) = part.undecided
    assert open_call.why == "too close and complete too near the time cap to tell"
    assert (open_call.if_good.reps, open_call.if_no_rep.reps) == (1, 0)


def test_a_rep_at_no_known_time_is_in_time_and_a_clock_without_error_is_believed() -> None:
    lost = ScoredRep(1, 0, 1, float("-inf"), 0.05, 1.0, undecided=False)
    part, _ = score(pull_ups(9, time_cap_s=10.0), [lost])
    assert (part.likely.reps, part.undecided) == (1, [])
    exact = reps("g", uncertainty_s=0.0)
    assert score(pull_ups(9, time_cap_s=10.001), exact)[0].likely.reps == 1
    assert score(pull_ups(9, time_cap_s=9.999), exact)[0].likely.reps == 0


def test_what_an_open_call_would_change_is_told_without_the_clock_s_spread() -> None:
    part, _ = score(pull_ups(3), reps("gg?g"))
    (open_call,) = part.undecided
    assert (open_call.if_good.time_s, open_call.if_no_rep.time_s) == (30.0, 40.0)


def test_the_tie_break_is_named_by_its_rep_or_its_block() -> None:
    at_rep = score(pull_ups(5, tie_break=TieBreak(rep=2)), reps("ggg"))[0].tie_break
    at_block = score(pull_ups(2, tie_break=TieBreak(block=1)), reps("gg"))[0].tie_break
    assert at_rep is not None
    assert at_block is not None
    assert (at_rep.words, at_rep.time_s) == ("rep 2", 20.0)
    assert (at_block.words, at_block.time_s) == ("end of block 1", 20.0)
    assert at_rep.uncertainty_s == pytest.approx(0.05)


def test_a_tie_break_out_of_reach_has_no_time() -> None:
    found = score(pull_ups(5, tie_break=TieBreak(rep=4)), reps("ggn"))[0].tie_break
    assert found is not None
    assert (found.time_s, found.earliest_s, found.latest_s) == (None, None, None)
    assert found.reached == 0.0
    assert score(pull_ups(5), reps("ggn"))[0].tie_break is None


def test_of_equal_sets_the_first_counts() -> None:
    tried = [
        ScoredRep(number, 0, own_set, 10.0 * number, 0.05, good, undecided=False)
        for number, own_set, good in (
            (1, 1, 0.0),
            (2, 2, 1.0),
            (3, 2, 1.0),
            (4, 3, 1.0),
            (5, 3, 1.0),
        )
    ]
    _, sheet = score(one_set(), tried)
    assert [number for number, _ in sheet.counted] == [2, 3]


@pytest.mark.parametrize("missing", ["deducted", "stop the count"])
@pytest.mark.parametrize(("asked", "tried"), [(1, 100), (3, 500), (1, 1)])
def test_every_good_rep_counts_until_time_is_up(missing: str, asked: int, tried: int) -> None:
    workout = Workout(
        name="the same again",
        scoring="as many reps as possible",
        missing_reps=missing,  # type: ignore[arg-type]
        time_cap_s=10_000.0,
        blocks=[
            Block(rounds="until time is up", stations=[Station(movement="burpee", reps=asked)])
        ],
    )
    many = reps("g" * tried)
    part, sheet = score(workout, many)
    assert (part.likely.reps, part.worst.reps, part.best.reps) == (tried, tried, tried)
    assert (part.rounds_done, part.reps_in_round) == divmod(tried, asked)
    assert sheet.extra == ()
    assert likely_sheet(workout, many) == sheet


def test_rounds_beyond_the_reps_are_there_when_they_were_reached() -> None:
    """Four rounds of which each second station was left out: the fourth is no run too far."""
    workout = Workout(
        name="two by turns",
        scoring="as many reps as possible",
        missing_reps="deducted",
        time_cap_s=1000.0,
        blocks=[
            Block(
                rounds="until time is up",
                stations=[
                    Station(movement="burpee", reps=9),
                    Station(movement="pull-up", reps=9),
                ],
            )
        ],
    )
    tried = [replace(rep, run=2 * number) for number, rep in enumerate(reps("gggg"))]
    part, sheet = score(workout, tried, rounds_reached=4)
    assert part.likely.reps == 4
    assert sum(sheet.missing.values()) == 3 * 8 + 3 * 9


def test_a_faster_finish_is_better_than_a_slower_one_and_any_finish_than_none() -> None:
    """Three of four calls are enough; which of them count decides when the work is done."""
    part, _ = score(pull_ups(3), reps("?ggg?", chance=0.5))
    assert (part.best.finished, part.best.time_s) == (True, pytest.approx(29.9))
    assert (part.worst.finished, part.worst.time_s) == (True, pytest.approx(40.1))
    # without the first, the third good rep is at 40 s; both outcomes lie within
    assert part.within == pytest.approx(1.0)
    part, _ = score(pull_ups(3), reps("?g?n", chance=0.5))
    assert (part.best.finished, part.best.time_s) == (True, pytest.approx(29.9))
    assert (part.worst.finished, part.worst.reps) == (False, 1)


@pytest.mark.parametrize("chance", [0.1, 0.2, 0.45, 0.9])
def test_what_is_certain_has_a_probability_of_one_and_no_more(chance: float) -> None:
    """One rep is asked and surely done; what the five open calls after it are is all the same."""
    asked = pull_ups(1, tie_break=TieBreak(rep=1))
    part, _ = score(asked, reps("g?????", chance=chance))
    (only,) = part.distribution
    assert part.tie_break is not None
    for probability in (part.within, only.probability, part.tie_break.reached):
        assert 1.0 - 1e-12 <= probability <= 1.0


@pytest.mark.parametrize("chance", [0.3, 0.4, 0.8])
def test_what_was_drawn_once_in_two_thousand_is_still_listed(chance: float) -> None:
    part, _ = score(pull_ups(40), reps("?" * 14, chance=chance))
    assert sum(d.probability for d in part.distribution) == pytest.approx(1.0, abs=1e-9)


def test_drawn_shares_are_as_far_from_the_binomial_ones_as_two_thousand_draws_leave_them() -> None:
    """Pearson's chi-square over its degrees of freedom is about 1, by fewer draws larger."""
    squares, free = 0.0, 0
    for count in (11, 12, 13, 14, 15):
        part, _ = score(pull_ups(40), reps("?" * count))
        drawn = {d.reps: d.probability for d in part.distribution}
        for good in range(count + 1):
            share = math.comb(count, good) * 0.6**good * 0.4 ** (count - good)
            if share * 2000 >= 5.0:
                squares += 2000 * (drawn.get(good, 0.0) - share) ** 2 / share
                free += 1
        free -= 1
    assert free > 40
    # give or take three standard deviations, sqrt(2 / 40) each
    assert squares / free == pytest.approx(1.0, abs=0.67)
