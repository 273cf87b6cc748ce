"""Ways of breaking work up, and workouts as pacing reads them."""

import pytest

from counting.pacing.model.loads import PacingError, known_groups, known_loads, load_of
from counting.pacing.search.course import LONGEST_WORKOUT_S, course_of
from counting.pacing.search.plan import Stint, even_sets, fitted_sets, set_schemes, set_words
from counting.workout.types import Block, Station, TieBreak, Workout


class TestSets:
    def test_the_ways_a_coach_would_write_down_are_there(self):
        schemes = set_schemes(10)
        for scheme in ((10,), (6, 4), (5, 3, 2), (1,) * 10, (5, 5), (2,) * 5):
            assert scheme in schemes

    @pytest.mark.parametrize("reps", range(1, 31))
    def test_every_way_makes_up_the_reps(self, reps):
        assert all(sum(scheme) == reps and min(scheme) >= 1 for scheme in set_schemes(reps))

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

    def test_fixed_intervals_hold_stations_back(self):
        course = course_of(
            workout(
                Block(stations=[Station(movement="burpee", reps=5)], rounds=3, interval_s=60.0),
                scoring="fixed interval",
            )
        )
        assert [station.not_before_s for station in course.stations] == [0.0, 60.0, 120.0]

    def test_without_a_cap_the_clock_still_ends(self):
        course = course_of(workout(Block(stations=[Station(movement="burpee", reps=5)])))
        assert course.cap_s == LONGEST_WORKOUT_S

    def test_a_one_set_maximum_has_no_pacing(self):
        with pytest.raises(PacingError, match="one set"):
            course_of(
                workout(Block(stations=[Station(movement="pull-up")]), scoring="one-set maximum")
            )
