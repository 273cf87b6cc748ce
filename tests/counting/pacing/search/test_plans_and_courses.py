"""Ways of breaking work up, and workouts as pacing reads them."""

import pytest

from counting.pacing.model.loads import (
    PacingError,
    known_groups,
    known_loads,
    load_of,
    one_rep_maximum_kg,
    unbroken_at,
)
from counting.pacing.search.course import LONGEST_WORKOUT_S, course_of
from counting.pacing.search.plan import Stint, even_sets, fitted_sets, plural, set_words
from counting.workout.types import Block, Station, TieBreak, Workout


class TestSets:
    @pytest.mark.parametrize(
        ("sets", "words"),
        [
            ((10,), "10 unbroken"),
            ((1,), "1"),
            ((6, 4), "6+4"),
            ((1, 1, 1), "3 singles"),
            ((4, 4, 4, 3, 3), "3 × 4 + 2 × 3"),
        ],
    )
    def test_words(self, sets, words):
        assert set_words(sets) == words

    def test_sets_and_rests_must_go_together(self):
        with pytest.raises(ValueError, match="need 1 rests"):
            Stint((3, 2), ())

    def test_even_and_fitted_sets(self):
        assert even_sets(10, 4) == (3, 3, 2, 2)
        assert fitted_sets((4, 3), 10) == (4, 3, 3)


class TestLoads:
    def test_epley_joins_reps_and_the_one_rep_maximum(self):
        # Epley w (1 + r/30): 100 kg for 10 and 20 reps give 133.3 and 166.7 kg; the formula gives
        # 103.3 for a single, which is the maximum itself, so ratios to it are compared.
        single = one_rep_maximum_kg(1.0, 100.0)
        assert single == pytest.approx(100.0)
        for reps, epley in ((10, 133.333), (20, 166.667)):
            assert one_rep_maximum_kg(reps, 100.0) == pytest.approx(epley / 1.03333, rel=0.003)

    def test_fewer_reps_go_with_more_weight_and_the_way_back_is_the_same(self):
        heavier = unbroken_at(20.0, 43.0, 60.0)
        assert heavier == pytest.approx(30 * (43 * (1 + 20 / 30) / 60 - 1), rel=0.02)
        assert unbroken_at(heavier, 60.0, 43.0) == pytest.approx(20.0)
        assert unbroken_at(25.0, 43.0, 100.0) < 1.0

    def test_every_movement_names_known_groups_and_its_main_one_fully(self):
        for load in known_loads().values():
            assert set(load.loads) <= set(known_groups())
            assert load.loads[load.main] == 1.0
            assert all(0 < share <= 1 for share in load.loads.values())

    def test_an_unknown_movement_is_named_with_what_is_known(self):
        with pytest.raises(PacingError, match=r"'ring row'.*bar muscle-up"):
            load_of("ring row")


def workout(*blocks, **more):
    settings = {"scoring": "for time", "missing_reps": "stop the count", **more}
    return Workout(name="boathouse", blocks=list(blocks), **settings)


class TestCourses:
    def test_rounds_rests_and_tie_break(self):
        course = course_of(
            workout(
                Block(
                    stations=[
                        Station(movement="deadlift", reps=3),
                        Station(movement="push-up", reps=[4, 3]),
                    ],
                    rounds=2,
                    rest_after_s=10.0,
                ),
                Block(stations=[Station(movement="pull-up", reps=3)]),
                time_cap_s=120.0,
                tie_break=TieBreak(block=1),
            )
        )
        assert [station.reps for station in course.stations] == [3, 4, 3, 3, 3]
        assert course.stations[-1].fixed_rest_s == 10.0
        assert course.tie_break_rep == 13
        assert course.finishing
        assert course.cap_s == 120.0

    def test_rounds_until_time_is_up_are_written_out_beyond_reach(self):
        course = course_of(
            workout(
                Block(stations=[Station(movement="pull-up", reps=5)], rounds="until time is up"),
                scoring="as many reps as possible",
                time_cap_s=300.0,
            )
        )
        assert course.reps * load_of("pull-up").cycle_s > 300.0
        assert not course.finishing

    def test_a_round_of_fixed_intervals_begins_and_ends_with_its_interval(self):
        course = course_of(
            workout(
                Block(stations=[Station(movement="burpee", reps=5)], rounds=3, interval_s=60.0),
                scoring="fixed interval",
            )
        )
        assert [station.not_before_s for station in course.stations] == [0.0, 60.0, 120.0]
        assert [station.deadline_s for station in course.stations] == [60.0, 120.0, 180.0]
        assert course.cap_s == 180.0
        assert not course.finishing

    def test_two_windows_with_a_rest_between_end_after_both(self):
        window = Block(
            stations=[Station(movement="burpee", reps=80)], interval_s=180.0, rest_after_s=60.0
        )
        last = Block(stations=[Station(movement="pull-up", reps=80)], interval_s=180.0)
        course = course_of(workout(window, last, scoring="fixed interval"))
        assert [station.not_before_s for station in course.stations] == [0.0, 240.0]
        assert [station.deadline_s for station in course.stations] == [180.0, 420.0]
        assert course.cap_s == 420.0

    def test_loads_are_read_in_kilograms(self):
        # 1 lb = 0.45359237 kg exactly (international avoirdupois pound).
        stations = [
            Station(movement="thruster", reps=5, load=100.0, load_unit="lb"),
            Station(movement="deadlift", reps=5, load=60.0, load_unit="kg"),
        ]
        course = course_of(workout(Block(stations=stations)))
        assert course.at_kg == {"thruster": pytest.approx(45.359237), "deadlift": 60.0}

    def test_without_a_cap_the_clock_still_ends(self):
        course = course_of(workout(Block(stations=[Station(movement="burpee", reps=5)])))
        assert course.cap_s == LONGEST_WORKOUT_S

    def test_a_one_set_maximum_has_no_pacing(self):
        with pytest.raises(PacingError, match="one set"):
            course_of(
                workout(Block(stations=[Station(movement="pull-up")]), scoring="one-set maximum")
            )


@pytest.mark.parametrize(
    ("one", "many"),
    [
        ("thruster", "thrusters"),
        ("strict press", "strict presses"),
        ("power snatch", "power snatches"),
        ("overhead squat", "overhead squats"),
        ("burpee over the bar", "burpees over the bar"),
        ("swing to the eyes", "swings to the eyes"),
        ("chest-to-bar pull-up", "chest-to-bar pull-ups"),
        ("toes-to-bar", "toes-to-bar"),
        ("500 m row", "500 m row"),
    ],
)
def test_many_of_a_movement_are_named_as_people_do(one, many):
    assert plural(one) == many
    assert plural(one, 1) == one
