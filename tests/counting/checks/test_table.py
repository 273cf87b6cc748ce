"""The calibration table: combining clues, looking contexts up, file and back."""

import json

import msgspec
import numpy as np
import pytest
from counting.decision.reliability import Reliability

from counting.checks.table import (
    LARGEST_FACTOR,
    CalibrationTable,
    common_error_factor,
    covered,
    entry_name,
    error_factor,
    packaged_table,
    parse_table,
    view_name,
    write_table,
)
from counting.movements.loader import built_in_movements, find_movement

WELL_SEEN = np.ones((1, 2))


def combined(entry, clues, factors=WELL_SEEN, view_deg=90.0):
    return entry.combine(np.array(clues, float), np.asarray(factors, float), view_deg)


def test_the_clue_that_says_more_weighs_more(depth):
    """Slopes 1 and 0.5 at equal noise: weights 1 / 1.25 and 0.5 / 1.25, so that the slope is 1."""
    assert combined(depth, [[1.0, 10.0]]).value == pytest.approx([0.8])
    assert combined(depth, [[0.0, 11.0]]).value == pytest.approx([0.4])


def test_clues_on_their_lines_give_the_value_back(depth):
    for view_deg, level in ((90.0, [0.0, 10.0]), (0.0, [5.0, 10.0])):
        clues = np.array([level]) + np.array([1.0, 0.5]) * -7.0
        values = combined(depth, clues, view_deg=view_deg)
        assert values.value == pytest.approx([-7.0])
        assert values.own_factor == pytest.approx([1.0])
        assert values.common_factor == pytest.approx(1.0)


def test_a_clue_that_is_hidden_leaves_the_reading_to_the_others(depth):
    """Information adds up: 1 + 0.25 with both, 0.25 with the second alone, so errors grow by 5."""
    values = combined(depth, [[99.0, 6.5]], [[np.nan, 1.0]])
    assert values.value == pytest.approx([-7.0])
    assert values.own_factor == pytest.approx([np.sqrt(5.0)])
    assert values.common_factor == pytest.approx(np.sqrt(5.0))


def test_a_clue_of_three_times_the_error_weighs_a_ninth(depth):
    values = combined(depth, [[1.0, 10.0]], [[3.0, 1.0]])
    assert values.own_factor == pytest.approx([np.sqrt(1.25 / (1 / 9 + 0.25))])


def test_reps_differ_by_the_one_clue_and_lie_where_the_other_puts_them(calibration):
    """The first clue is exact from rep to rep but its level is unknown; the second knows that."""
    entry = calibration(
        slope=(1.0, 1.0),
        level=(0.0, 0.0),
        own_side=((1e-6, 0.0), (0.0, 1.0)),
        common_side=((1e6, 0.0), (0.0, 1e-6)),
    )
    clues = [[100.0, 1.0], [104.0, 0.0], [100.0, -1.0]]
    value = combined(entry, clues, np.ones((3, 2))).value
    assert value - value[0] == pytest.approx([0.0, 4.0, 0.0], abs=1e-3)
    assert np.median(value - np.array(clues)[:, 1]) == pytest.approx(0.0, abs=1.1)


def test_a_clue_that_does_not_change_with_the_quantity_is_no_reading(calibration):
    entry = calibration(slope=(1.0, 0.0))
    assert np.isnan(combined(entry, [[99.0, 6.5]], [[np.nan, 1.0]]).value).all()


def test_where_every_clue_is_lost_nothing_is_read(depth):
    values = combined(depth, [[1.0, 2.0]], np.full((1, 2), LARGEST_FACTOR))
    assert np.isnan(values.value).all()
    assert np.isinf(values.own_factor).all()


DEPTH = next(c for c in find_movement("air squat").checks if c.name == "depth")


def test_habits_hold_where_the_standard_asks_for_what_they_were_learnt_at(depth):
    assert depth.for_check(DEPTH) is depth
    higher = msgspec.structs.replace(DEPTH, limit=2.0)
    assert depth.for_check(higher) is depth


@pytest.mark.parametrize("changes", [{"limit": 20.0}, {"relation": "at least"}])
def test_a_standard_that_asks_for_something_else_knows_no_habits(depth, changes):
    other = msgspec.structs.replace(DEPTH, **changes)
    known = depth.for_check(other)
    assert known.typical == other.limit
    assert known.typical_spread > 10 * depth.rep_spread
    assert known.met_share == 0.5
    assert known.within == depth.within


@pytest.mark.parametrize(
    ("view_deg", "name"),
    [
        (0.0, "front"),
        (21.9, "front"),
        (45.0, "oblique"),
        (90.0, "side"),
        (130.0, None),
        (180, None),
    ],
)
def test_names_of_views(view_deg, name):
    assert view_name(view_deg) == name


def test_a_view_is_covered_by_films_from_it_or_beside_it(calibration):
    entry = calibration(films={"front": 3, "oblique": 0, "side": 0})
    assert [covered(entry, view) for view in ("front", "oblique", "side")] == [True, True, False]


def test_a_view_in_which_the_value_does_not_respond_is_not_covered(calibration):
    entry = calibration(response={"front": 0.9, "oblique": 0.8, "side": 0.1})
    assert [covered(entry, view) for view in ("front", "oblique", "side")] == [True, True, False]


def test_errors_grow_where_the_body_fits_badly():
    own = error_factor(np.array([0.2, 0.65, 0.9, 1.2]))
    assert own[:2] == pytest.approx([1.0, 1.0])
    assert np.all(np.diff(own[1:]) > 1)
    common = common_error_factor(np.array([1.0, 3.0, 7.0]))
    assert common == pytest.approx([1.0, 1.0, 2.0])


def test_on_the_bar_start_and_turn_are_contexts_of_their_own():
    assert entry_name("elbow angle", "hanging", "start") != entry_name(
        "elbow angle", "hanging", "turn"
    )
    assert entry_name("knee angle", "standing", "turn") == entry_name(
        "knee angle", "standing", "finish"
    )


def test_a_table_written_is_read_back_equal(depth, tmp_path):
    table = CalibrationTable({"depth": depth}, 0.3, "two films", Reliability(0.5, 1.1))
    write_table(table, tmp_path / "table.json")
    assert parse_table(json.loads((tmp_path / "table.json").read_text())) == table


def test_the_packaged_table_knows_every_check_of_every_built_in_movement():
    table = packaged_table()
    for movement in built_in_movements():
        for check in movement.checks:
            entry = table.find(check.quantity, movement.base, check.phase)
            assert entry is not None, (movement.name, check.name)
            seen = np.ones((1, len(entry.slope)))
            for view_deg in (0.0, 45.0, 90.0):
                assert np.isfinite(entry.combine(seen, seen, view_deg).value).all()
            assert min(*entry.between.values(), *entry.within.values()) > 0


def test_a_rep_read_from_other_clues_than_the_rest_is_less_sure(make_calibration):
    entry = make_calibration(common_side=((4.0, 0.0), (0.0, 9.0)))
    clues = np.array([[-4.0, 8.0]] * 3)
    alike = entry.combine(clues, np.ones_like(clues), 90.0)
    assert alike.own_factor == pytest.approx(1.0)
    clues[0, 0] = np.nan
    unlike = entry.combine(clues, np.ones_like(clues), 90.0)
    # seen by the second clue alone: its own error is 2, that of both together 0.89
    assert unlike.own_factor[0] > 2.0 / 0.8944
    assert unlike.own_factor[1] > 1.0
