"""The worth of an outcome: whole reps first, then the tie-break, and time where all is done."""

import numpy as np
import pytest

from counting.pacing.search.course import Course, Station
from counting.pacing.search.forecast import Forecast
from counting.pacing.search.utility import Scale, Target, utility

COURSE = Course(
    "ladder", (Station("pull-up", 3, 1, 1, 1), Station("burpee", 3, 2, 1, 1)), 100.0, True, 3
)
SCALE = Scale(finish_s=90.0, tie_break_s=40.0, reps=5.0)


def played(*clocks_s):
    rep_s = np.array(clocks_s, dtype=np.float64)
    nothing = np.full((6, 2), np.nan)
    zeros = np.zeros(len(clocks_s))
    return Forecast(
        rep_s, rep_s, 100.0, nothing, nothing, np.ones(6), zeros, zeros, np.ones(6, bool)
    )


INF = np.inf


def test_one_rep_outweighs_any_tie_break():
    late, early = utility(
        COURSE, played([10, 20, 90, 95, INF, INF], [1, 2, 3, INF, INF, INF]), SCALE
    )
    assert late > early


def test_among_equal_reps_the_earlier_tie_break_is_worth_more_and_less_than_one_rep():
    early, late = utility(
        COURSE, played([10, 20, 30, 95, INF, INF], [10, 20, 50, 95, INF, INF]), SCALE
    )
    assert 0.0 < early - late < 1.0


def test_a_finish_is_worth_more_than_none_and_a_faster_one_more_than_a_slower():
    slow, fast, unfinished = utility(
        COURSE,
        played([10, 20, 30, 50, 70, 99], [10, 20, 30, 50, 70, 80], [1, 2, 3, 4, 5, INF]),
        SCALE,
    )
    assert fast > slow > unfinished


def test_twenty_seconds_of_tie_break_are_worth_more_than_a_fifth_of_a_rep():
    # Eight tie-breaks of ten within 10 %: 21 s of five minutes pass a quarter of the field.
    scale = Scale(finish_s=720.0, tie_break_s=300.0, reps=70.0)
    one, other = utility(
        COURSE, played([1, 2, 289.5, INF, INF, INF], [1, 2, 310.5, INF, INF, INF]), scale
    )
    assert one - other > 0.2


@pytest.mark.parametrize(
    ("target", "reached"), [(Target(reps=5), [1, 0]), (Target(time_s=80.0), [1, 0])]
)
def test_targets(target, reached):
    plays = played([10, 20, 30, 50, 70, 80], [1, 2, 3, 4, INF, INF])
    assert list(target.reached(plays)) == reached
