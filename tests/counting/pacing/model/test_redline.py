"""Where the rhythm of an attempt broke."""

import numpy as np
import pytest

from counting.pacing.card.words import redline_words
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.redline import change_point, find_redline


def attempt_with(sets, movement="chest-to-bar pull-up"):
    """Reps of given sets: each set as (reps, seconds per rep, rest after)."""
    reps, clock_s = [], 0.0
    for number, (count, rep_s, rest_s) in enumerate(sets, start=1):
        for _ in range(count):
            place = (1, 1 + (number - 1) // 2, 1)
            reps.append(SeenRep(movement, clock_s, clock_s + rep_s, number, False, place))
            clock_s += rep_s
        clock_s += rest_s
    return Attempt(tuple(reps), 0.0)


EVEN = [(5, 1.7, 6.0)] * 10
BROKEN = [(6, 1.7, 6.0)] * 6 + [(3, 2.6, 25.0)] * 6


def test_an_even_attempt_has_no_redline():
    assert find_redline(attempt_with(EVEN)) is None


@pytest.mark.slow
def test_the_set_after_which_the_rhythm_broke_is_found():
    found = find_redline(attempt_with(BROKEN))
    assert found is not None
    assert found.set_number in (7, 8)
    assert found.growth > 2.0
    assert "rhythm broke" in redline_words(found)
    assert (found.size_before, found.size_after) == (6, 3)
    assert "too long" in redline_words(found)


def test_a_few_sets_say_nothing():
    assert find_redline(attempt_with(EVEN[:3])) is None


def test_noise_alone_seldom_makes_a_redline():
    random = np.random.default_rng(0)
    false = 0
    for _ in range(100):
        sets = [(5, 1.7 * np.exp(0.06 * random.standard_normal()), 6.0) for _ in range(12)]
        place, chance = change_point(np.array([rep_s for _, rep_s, _ in sets]))
        assert 1 <= place < 12
        false += chance < 0.05
    assert false <= 12


def test_four_of_each_have_the_probability_of_all_orders():
    # Of the 70 ways to put four ones among eight places, one alone is as clear: p = 1/70.
    place, chance = change_point(np.repeat([0.0, 1.0], 4))
    assert place == 4
    assert chance == pytest.approx(1 / 70, abs=0.012)


@pytest.mark.slow
def test_a_break_after_a_few_sets_is_found_though_most_sets_come_after_it():
    # What an athlete does who goes all out for two rounds: everything after is broken up.
    early = [(9, 1.8, 10.0)] * 4
    late = [(2, 2.4, 16.0), (1, 2.6, 20.0), (3, 2.5, 12.0)] * 6
    found = find_redline(attempt_with(early + late))
    assert found is not None
    assert found.set_number == 5


@pytest.mark.slow
def test_a_movement_that_only_comes_late_does_not_hide_the_break():
    before = attempt_with([(9, 1.8, 10.0)] * 4 + [(2, 2.4, 16.0)] * 8).reps
    start_s = before[-1].end_s + 20.0
    after = tuple(
        SeenRep(
            "bar muscle-up", start_s + 12.0 * i, start_s + 12.0 * i + 3, 20 + i, False, (2, 1, 1)
        )
        for i in range(6)
    )
    found = find_redline(Attempt((*before, *after), 0.0))
    assert found is not None
    assert found.movement == "chest-to-bar pull-up"
    assert found.set_number == 5


def test_a_fall_is_no_redline():
    assert change_point(np.arange(12, 0, -1).astype(float))[1] > 0.9
