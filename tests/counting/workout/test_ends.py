"""The end of a station against every combination of calls, each put on the judge's sheet."""

import itertools
import math
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from counting.workout.ends import EndTimes, end_times, range_of
from counting.workout.sheet import CalledRep, fill_sheet
from counting.workout.types import Block, Station, Workout, runs, script

CHANCES = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=7)


def on_the_sheet(chances: list[float], asked: int | None) -> Counter[float | None]:
    """When the last rep that counts was complete, over all calls; reps are 10 s apart."""
    scoring = "for time" if asked is not None else "one-set maximum"
    workout = Workout(
        name="one station",
        scoring=scoring,
        missing_reps="deducted",
        blocks=[Block(stations=[Station(movement="pull-up", reps=asked)])],
    )
    slots = script(workout)
    found: Counter[float | None] = Counter()
    for calls in itertools.product((False, True), repeat=len(chances)):
        called = [CalledRep(n, 0, 10.0 * n, good) for n, good in enumerate(calls, start=1)]
        sheet = fill_sheet(workout, slots, runs(workout, slots), called)
        last_s = 10.0 * sheet.counted[-1][0] if sheet.counted else None
        p = math.prod(c if good else 1.0 - c for c, good in zip(chances, calls, strict=True))
        found[last_s] += p  # type: ignore[assignment]
    return found


@given(CHANCES, st.none() | st.integers(1, 8))
def test_chances_are_those_of_all_combinations_on_the_sheet(
    chances: list[float], asked: int | None
) -> None:
    found = end_times([(10.0 * n, p) for n, p in enumerate(chances, start=1)], asked)
    known = on_the_sheet(chances, asked)
    assert found.never == pytest.approx(known[None], abs=1e-12)
    for time_s, chance in zip(found.times_s, found.chances, strict=True):
        assert chance == pytest.approx(known[time_s], abs=1e-12)


@given(CHANCES, st.integers(1, 8))
def test_work_that_is_not_done_ends_otherwise(chances: list[float], asked: int) -> None:
    reps = [(10.0 * n, p) for n, p in enumerate(chances, start=1)]
    found = end_times(reps, asked, 100.0)
    assert sum(found.chances) == pytest.approx(1.0)
    assert found.never == 0.0
    fewer = sum(
        math.prod(c if good else 1.0 - c for c, good in zip(chances, calls, strict=True))
        for calls in itertools.product((False, True), repeat=len(chances))
        if sum(calls) < asked
    )
    assert found.chances[-1] == pytest.approx(fewer, abs=1e-12)


def test_a_range_leaves_a_twentieth_out_on_each_side() -> None:
    weighted = [(1.0, 0.04), (2.0, 0.02), (3.0, 0.89), (4.0, 0.045), (5.0, 0.005)]
    assert range_of(weighted) == (2.0, 3.0)
    assert range_of([(1.0, 0.6), (2.0, 9.4)]) == (1.0, 2.0)
    assert range_of([(1.0, 0.0)]) is None


def test_of_equally_likely_ends_the_later_is_told_and_none_where_most_likely_nothing_counts() -> (
    None
):
    assert EndTimes((1.0, 2.0), (0.5, 0.5), 0.0).likely_s == 2.0
    assert EndTimes((1.0, 2.0), (0.2, 0.2), 0.6).likely_s is None
    assert EndTimes().likely_s is None


def test_what_is_told_lies_in_its_range() -> None:
    assert EndTimes((1.0, 2.0), (0.5, 0.5), 0.0).range_about(3.0) == (1.0, 3.0)
    assert EndTimes((1.0, 2.0), (1.0, 0.0), 0.0).range_about(1.0) is None
