"""Thirty-five formats of workouts, each said in a short file: read, scored and planned.

The workouts are invented; that coaches use these formats is common practice, no source.
"""

import re
import tomllib
from itertools import groupby
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import counting.workout
from counting.pacing.model.known import Known
from counting.pacing.model.loads import PacingError, known_loads
from counting.pacing.search.course import course_of
from counting.pacing.search.forecast import forecast
from counting.pacing.search.schemes import SetPattern, limits_of, plan_of
from counting.workout.beyond_film import cannot_be_followed, left_to_judges
from counting.workout.file import load_workout, parse_workout
from counting.workout.sheet import CalledRep, fill_sheet, interval_windows
from counting.workout.types import runs, script
from tests.counting.pacing.athletes import usual_athlete
from tests.schemas import shipped_in

FILES = sorted((Path(__file__).parent / "formats").glob("*.toml"))
NOT_PACED = {"one_set_maximum"}
NOT_FOLLOWED = {"pair_sharing_sets", "relay_by_rounds"}
MOST_LINES = 30

each = pytest.mark.parametrize("file", FILES, ids=lambda path: path.stem)


def read(name, variant=None):
    file = next(path for path in FILES if path.stem == name)
    return load_workout(file, known_loads(), variant)


def by_the_book(workout):
    """Every rep asked for, one a second from its window's begin on, all good."""
    slots = script(workout, 3)
    all_runs = runs(workout, slots)
    windows = interval_windows(workout, slots)
    reps, clock_s = [], 0.0
    for number, run in enumerate(all_runs):
        for index in range(run.first, run.last + 1):
            if index == run.first:
                clock_s = max(clock_s, windows[index][0])
            for _ in range(slots[index].reps or 5):
                clock_s += 1.0
                reps.append(CalledRep(len(reps) + 1, number, clock_s, True))
    return slots, all_runs, reps


def test_there_are_thirty_five_formats():
    assert len(FILES) == 35


@each
def test_a_format_is_said_in_few_lines_that_follow_the_schema(file):
    text = file.read_text(encoding="utf-8")
    assert len(text.strip().splitlines()) <= MOST_LINES
    jsonschema.validate(tomllib.loads(text), shipped_in("counting.workout"))
    assert script(load_workout(file, known_loads()))


@each
def test_a_film_is_followed_or_it_is_said_why_not(file):
    workout = load_workout(file, known_loads())
    reason = cannot_be_followed(workout)
    assert (reason is not None) == (file.stem in NOT_FOLLOWED)
    if reason is not None:
        assert "an audit follows one" in reason
        return
    slots, all_runs, reps = by_the_book(workout)
    sheet = fill_sheet(workout, slots, all_runs, reps)
    assert sheet.reps > 0
    if workout.scoring == "for time":
        assert sheet.finished
        assert sheet.clock_s == reps[-1].clock_s
    in_time = [rep for rep in reps if rep.clock_s <= (workout.time_cap_s or np.inf)]
    if workout.scoring in ("for time", "as many reps as possible"):
        scored = [slots[all_runs[rep.run].first].scored for rep in in_time]
        assert sheet.reps == sum(scored)


@each
def test_a_plan_is_played_to_the_end(file):
    workout = load_workout(file, known_loads())
    if file.stem in NOT_PACED:
        with pytest.raises(PacingError, match="no pacing"):
            course_of(workout)
        return
    course = course_of(workout)
    athlete = usual_athlete(course.movements, "two-phase")
    limits = limits_of(course, Known(), athlete)
    scheme = {kind: SetPattern(limits.unbroken[kind]) for kind in course.kinds}
    played = forecast(athlete, course, plan_of(course, scheme, limits), 0)
    assert played.reps[0] > 0
    assert played.reps[0] <= sum(course.scored_reps)
    done_s = played.rep_s[0][np.isfinite(played.rep_s[0])]
    assert np.all(np.diff(done_s) > 0)


def test_every_example_of_the_page_can_be_planned():
    page = Path(counting.workout.__file__).with_name("workout_files.md")
    examples = re.findall(r"```toml\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)
    assert len(examples) == 5
    for text in examples:
        head = "" if text.startswith("name") else 'name = "x"\nmissing_reps = "deducted"\n'
        workout = parse_workout(head + text, "page", known_loads())
        assert course_of(workout).reps > 0


def test_a_buy_in_that_is_not_scored_has_to_be_done_and_is_no_part_of_the_score():
    workout = read("buy_in_not_scored")
    slots, all_runs, reps = by_the_book(workout)
    assert fill_sheet(workout, slots, all_runs, reps[:30]).reps == 0
    assert fill_sheet(workout, slots, all_runs, reps[:34]).reps == 4
    skipped = [rep for rep in reps if rep.run]
    assert fill_sheet(workout, slots, all_runs, skipped).reps == 0


def test_the_score_of_a_complex_is_the_heaviest_round_done_whole():
    workout = read("complex_for_maximum_load")
    slots, all_runs, reps = by_the_book(workout)
    rounds = [list(own) for _, own in groupby(reps, key=lambda rep: slots[rep.run].block)]
    assert fill_sheet(workout, slots, all_runs, reps).heaviest == 52.5
    assert fill_sheet(workout, slots, all_runs, [*rounds[0], *rounds[1], *rounds[2][:2]]).heaviest
    short = [*rounds[0], *rounds[1][:2], *rounds[2]]
    assert fill_sheet(workout, slots, all_runs, short).heaviest == 50.0
    assert fill_sheet(workout, slots, all_runs, rounds[0][:2]).heaviest == 0.0


def test_two_who_share_sets_rest_while_the_other_works():
    course = course_of(read("pair_sharing_sets"))
    assert [station.reps for station in course.stations] == [30, 30]
    limits = limits_of(course, Known(), usual_athlete(course.movements, "linear"))
    kind = course.kinds[0]
    fives, tens = (limits.least_rest_s(course, kind, size) for size in (5, 10))
    assert fives >= 5 * limits.rep_s[kind]
    assert tens - fives == pytest.approx(5 * limits.rep_s[kind], abs=1.0)


def test_in_a_relay_the_one_who_goes_last_waits_for_the_others_rounds():
    course = course_of(read("relay_by_rounds"))
    assert [station.round for station in course.stations] == [2, 2, 4, 4, 6, 6]
    waits_s = [station.fixed_rest_s for station in course.stations]
    assert min(waits_s[0::2]) > 40.0
    assert waits_s[1::2] == [0.0, 0.0, 0.0]


def test_a_distance_takes_its_time_and_counts_no_reps():
    course = course_of(read("distance"))
    run = course.stations[0]
    assert (run.movement, run.timed_s) == ("400 m run", 120.0)
    assert sum(course.scored_reps) == 45
    assert course_of(read("distance"), engine=1.2).stations[0].timed_s == pytest.approx(100.0)
    assert [slot.movement for slot in script(read("distance"))] == ["thruster"] * 3
    assert any("400 m run" in words for words in left_to_judges(read("distance")))


def test_a_distance_of_no_known_pace_asks_how_long_it_takes(tmp_path):
    file = tmp_path / "sled.toml"
    text = (FILES[0].parent / "distance.toml").read_text(encoding="utf-8")
    file.write_text(text.replace('"run"', '"sled push"'), encoding="utf-8")
    with pytest.raises(PacingError, match=r"400 m sled push takes.*takes_s"):
        course_of(load_workout(file, known_loads()))
    file.write_text(text.replace('"run"', '"sled push"\ntakes_s = 80'), encoding="utf-8")
    assert course_of(load_workout(file, known_loads())).stations[0].timed_s == 80.0


def test_every_break_costs_the_penalty_reps():
    course = course_of(read("reps_as_penalties"))
    limits = limits_of(course, Known(), usual_athlete(course.movements, "linear"))
    (kind,) = course.kinds
    extra_s = limits.least_rest_s(course, kind, 10) - limits.shortest_s[kind]
    assert extra_s == pytest.approx(3 * known_loads()["burpee"].cycle_s)


def test_a_variant_changes_loads_movements_and_reps_and_its_name_is_told():
    workout = read("variants", "scaled")
    stations = workout.blocks[0].stations
    assert workout.name.endswith(", scaled")
    assert [(s.movement, s.reps, s.load) for s in stations] == [
        ("thruster", 15, 30.0),
        ("pull-up", 12, None),
    ]
    assert read("variants").blocks[0].stations[1].movement == "bar muscle-up"
