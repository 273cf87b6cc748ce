"""The calibration table: combining features, looking contexts up, file and back."""

import numpy as np
import pytest

from counting.checks.coverage import why_not_judged
from counting.checks.table import (
    LARGEST_FACTOR,
    CalibrationTable,
    Provenance,
    Shown,
    covered,
    entry_name,
    error_factor,
    error_growth,
    load_table,
    packaged_table,
    view_name,
    write_table,
)
from counting.movements.loader import built_in_movements

WELL_SEEN = np.ones((1, 2))


def combined(entry, features, factors=WELL_SEEN, view_deg=90.0):
    return entry.combine(np.array(features, float), np.asarray(factors, float), view_deg)


def test_features_at_their_centre_give_the_level(depth):
    assert combined(depth, [[0.0, 10.0]]).value == pytest.approx([-2.0])


def test_each_view_has_a_level_and_weights_of_its_own(calibration):
    weight = {"front": (1.25, 0.0), "oblique": (1.0, 0.0), "side": (0.75, 0.0)}
    entry = calibration(weight=weight, level={"front": 0.0, "oblique": -2.0, "side": -4.0})
    assert combined(entry, [[2.0, 10.0]], view_deg=60.0).value == pytest.approx([0.0])
    assert combined(entry, [[2.0, 10.0]], view_deg=0.0).value == pytest.approx([2.5])
    assert combined(entry, [[2.0, 10.0]], view_deg=90.0).value == pytest.approx([-2.5])


def test_a_hidden_feature_is_what_the_others_make_likely(depth):
    """Conditional normal distribution: mean 4/4 times 2, variance 16 - 4 * 4 / 4."""
    values = combined(depth, [[np.nan, 12.0]])
    assert values.value == pytest.approx([-2.0 + 2.0])
    assert values.shared_unsure == pytest.approx(np.sqrt(12.0))
    assert values.own_unsure == pytest.approx([0.0])


def test_a_feature_seen_badly_says_less(depth):
    """Its noise of 1 grows to 5: 24 more, so that 16 / 40 of what it says is believed."""
    alone = depth.completed(np.array([[10.0, np.nan]]), np.array([[5.0, 1.0]]))[0]
    assert alone[0, 0] == pytest.approx(4.0)


def test_a_feature_hidden_in_one_rep_makes_that_rep_unsure(depth):
    values = combined(depth, [[0.0, 10.0], [0.0, 10.0], [np.nan, 10.0]], np.ones((3, 2)))
    assert values.shared_unsure == pytest.approx(0.0, abs=1e-6)
    assert values.own_unsure == pytest.approx([0.0, 0.0, np.sqrt(12.0)], abs=1e-6)


def test_features_that_do_not_go_together_make_a_reading_unsure(depth):
    together = combined(depth, [[2.0, 10.5]])
    apart = combined(depth, [[6.5, 7.5]])
    assert together.shared_growth < 1.0
    assert apart.shared_growth > 3.0
    assert np.all(np.diff(error_growth(np.array([0.0, 0.6, 1.0, 2.0, 9.0]))) >= 0)


def test_features_that_no_body_shows_are_no_reading(depth):
    values = combined(depth, [[0.0, 10.0], [4.0, 16.0], [0.0, 22.0]], np.ones((3, 2)))
    odd = depth.completed(np.array([[4.0, 16.0], [0.0, 22.0]]), np.ones((2, 2)))[2]
    assert odd[0] < 2.2 < odd[1]
    assert np.isfinite(values.value).tolist() == [True, True, False]


def test_where_every_feature_is_lost_nothing_is_read(depth):
    values = combined(depth, [[1.0, 2.0]], np.full((1, 2), LARGEST_FACTOR))
    assert np.isnan(values.value).all()


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


def test_a_view_is_covered_by_films_from_it(calibration):
    """Not by those from beside it: of bodies judged so 3 % of what was sure was wrong."""
    entry = calibration(films={"front": 3, "oblique": 0, "side": 0})
    assert [covered(entry, view) for view in ("front", "oblique", "side")] == [True, False, False]


def test_what_is_looked_up_has_films_of_the_views_that_enough_films_show(calibration):
    shown = Shown({"front": 3, "oblique": 2, "side": 0}, 4, lowest=0.0, highest=0.0)
    entry = calibration(films={"front": 8, "oblique": 8, "side": 8})
    table = CalibrationTable(
        {"knee angle / standing": entry},
        Provenance("made"),
        {"knee angle / standing / turn": shown},
    )
    found = table.find("knee angle", "standing", "turn")
    assert found.films == {"front": 8, "oblique": 0, "side": 0}


def test_a_view_in_which_the_value_does_not_respond_is_not_covered(calibration):
    entry = calibration(response={"front": 0.9, "oblique": 0.8, "side": 0.1})
    assert [covered(entry, view) for view in ("front", "oblique", "side")] == [True, True, False]


def test_errors_grow_where_the_body_fits_badly():
    own = error_factor(np.array([0.2, 0.65, 0.9, 1.2]))
    assert own[:2] == pytest.approx([1.0, 1.0])
    assert np.all(np.diff(own[1:]) > 1)


def test_on_the_bar_start_and_turn_are_contexts_of_their_own():
    assert entry_name("elbow angle", "hanging", "start") != entry_name(
        "elbow angle", "hanging", "turn"
    )
    assert entry_name("knee angle", "standing", "turn") == entry_name(
        "knee angle", "standing", "finish"
    )


def test_a_table_written_is_read_back_equal(depth, tmp_path):
    made_from = Provenance("two films", "9", "0123", {"jetty": "ab", "quay": "cd"})
    shown = {"depth / standing / turn": Shown({"side": 4}, 3, lowest=-1.0, highest=2.0)}
    table = CalibrationTable({"depth": depth}, made_from, shown)
    write_table(table, tmp_path / "table.json")
    assert load_table(tmp_path / "table.json") == table


def test_the_packaged_table_knows_every_check_that_built_in_movements_are_judged_by():
    table = packaged_table()
    for movement in built_in_movements():
        for check in movement.checks:
            if why_not_judged(check, movement) is not None:
                continue
            entry = table.find(check.quantity, movement.base, movement.part_of(check))
            assert entry is not None, (movement.name, check.name)
            seen = np.array([entry.centre])
            for view_deg in (0.0, 45.0, 90.0):
                assert np.isfinite(entry.combine(seen, np.ones_like(seen), view_deg).value).all()
            assert min(*entry.between.values(), *entry.within.values()) > 0
