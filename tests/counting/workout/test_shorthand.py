"""Short forms of a workout file, and what they are short for."""

import pytest

from counting.pacing.model.loads import known_loads
from counting.workout.file import WorkoutError, parse_workout

HEAD = 'name = "boathouse"\nmissing_reps = "deducted"\n'


def read(text, scoring="for time", cap_s=None):
    cap = "" if cap_s is None else f"time_cap_s = {cap_s}\n"
    return parse_workout(f'{HEAD}scoring = "{scoring}"\n{cap}{text}', "w.toml", known_loads())


def block(keys="", *stations):
    parts = [f"[[blocks]]\n{keys}"]
    parts += [f"[[blocks.stations]]\n{station}" for station in stations]
    return "\n".join(parts) + "\n"


GOOD = (
    HEAD + 'scoring = "for time"\n[[blocks]]\n[[blocks.stations]]\nmovement = "burpee"\nreps = 5\n'
)

THRUSTERS = 'movement = "thruster"\nreps = '
PULL_UPS = 'movement = "pull-up"\nreps = '


def test_twenty_one_fifteen_nine_is_three_rounds():
    (rounds,) = read(block("", THRUSTERS + '"21-15-9"', PULL_UPS + '"21-15-9"')).blocks
    assert rounds.rounds == 3
    assert [station.reps for station in rounds.stations] == [[21, 15, 9]] * 2


def test_an_endless_ladder_goes_further_than_anybody_in_the_time():
    ladder = block("", THRUSTERS + '"3, 6, 9, ..."', PULL_UPS + '"3, 6, 9, ..."')
    (rounds,) = read(ladder, "as many reps as possible", 300).blocks
    reps = rounds.stations[0].reps
    assert reps[:4] == [3, 6, 9, 12]
    assert sum(reps) >= 300
    assert rounds.rounds == len(reps)


def test_rests_between_rounds_are_rounds_with_a_rest_and_the_tie_break_keeps_its_place():
    text = "[tie_break]\nblock = 1\n"
    text += block("rounds = 3\nrest_between_s = 60\nrest_after_s = 90", THRUSTERS + "10")
    workout = read(text + block("", PULL_UPS + "20"))
    assert [part.rest_after_s for part in workout.blocks] == [60.0, 60.0, 90.0, 0.0]
    assert workout.tie_break.block == 3


def test_loads_by_round():
    text = block("", THRUSTERS + '5\nload = [40, 50, 60]\nload_unit = "kg"')
    assert [part.stations[0].load for part in read(text).blocks] == [40.0, 50.0, 60.0]


def test_odd_and_even_minutes():
    text = block("rounds = 6\ninterval_s = 60\nalternate = true", THRUSTERS + "8", PULL_UPS + "6")
    workout = read(text, "fixed interval")
    assert [part.stations[0].movement for part in workout.blocks] == ["thruster", "pull-up"] * 3
    assert all(part.interval_s == 60.0 for part in workout.blocks)


def test_windows_with_a_clock_of_their_own_and_a_cash_out_in_what_is_left():
    text = block("time_cap_s = 180\nrest_after_s = 60", THRUSTERS + "5", PULL_UPS + "5")
    text += block("", PULL_UPS + '"max"')
    workout = read(text, "as many reps as possible", 420)
    assert workout.scoring == "fixed interval"
    assert [part.interval_s for part in workout.blocks] == [180.0, 180.0]
    first, last = workout.blocks
    assert [station.movement for station in first.stations[:3]] == [
        "thruster",
        "pull-up",
        "thruster",
    ]
    assert last.stations[0].reps == 180


def test_reps_of_each_side_count_twice():
    (part,) = read(block("", THRUSTERS + "10\neach_side = true")).blocks
    assert part.stations[0].reps == 20


def test_plain_files_mean_what_they_meant():
    (part,) = read(block("rounds = 2\nrest_after_s = 0", THRUSTERS + "[10, 8]")).blocks
    assert (part.rounds, part.stations[0].reps) == (2, [10, 8])


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        (block("rouns = 3", THRUSTERS + "5"), 5, "unknown key 'rouns'; did you mean 'rounds'"),
        (block("xyz = 3", THRUSTERS + "5"), 5, "known here: stations, rounds, rest_after_s"),
        (block("", 'movement = "pull-ups"\nreps = 5'), 7, "did you mean 'pull-up'"),
        (block("rounds = [3]", THRUSTERS + "5"), 5, "has to be a whole number or text in quotes"),
        (block("", THRUSTERS + '"many"'), 8, 'write a number, "21-15-9"'),
        (block("", THRUSTERS + '"3, 6, ..."'), 8, "needs a time_cap_s"),
        (block("", THRUSTERS + '"max"'), 4, "needs a clock"),
        (block("alternate = true", THRUSTERS + "5"), 4, "needs interval_s"),
        (block("time_cap_s = 60", THRUSTERS + "5"), 3, "as many reps as possible"),
        (block("", 'movement = "row"\nreps = 5'), 7, "needs distance_m, calories or hold_s"),
        (block("", 'movement = "row"\ncalories = 5\nhold_s = 9'), 6, "one of reps, distance_m"),
        (block("", 'movement = "row"\ncalories = 5'), 4, "no station has reps"),
        (block("", THRUSTERS + "5\ntakes_s = 9"), 9, "takes_s belongs to distance_m"),
        (
            "[penalty_reps]\nafter = 'break'\nmovement = 'burpees'\nreps = 3\n"
            + block("", THRUSTERS + "5"),
            6,
            "did you mean 'burpee'",
        ),
        (
            "[penalty_reps]\nafter = 'brake'\nmovement = 'burpee'\nreps = 3\n"
            + block("", THRUSTERS + "5"),
            5,
            "did you mean 'break'",
        ),
    ],
)
def test_an_error_names_line_key_and_remedy(text, line, words):
    with pytest.raises(WorkoutError) as told:
        read(text)
    assert f"w.toml, line {line}: " in str(told.value)
    assert words in str(told.value)


def test_a_maximum_load_needs_the_load_of_every_attempt():
    with pytest.raises(WorkoutError, match="load of every attempt"):
        read(block("", THRUSTERS + "1"), "maximum load")


def test_what_a_variant_cannot_change_is_named():
    text = block("", THRUSTERS + "5") + "[variants.light]\nthrusters = { load = 30 }\n"
    whole = f'{HEAD}scoring = "for time"\n{text}'
    with pytest.raises(
        WorkoutError, match=r"line 10: the workout has no 'thrusters'; did you mean"
    ):
        parse_workout(whole, "w.toml", known_loads(), "light")
    with pytest.raises(WorkoutError, match="no variant 'lighter'; did you mean 'light'"):
        parse_workout(whole, "w.toml", known_loads(), "lighter")
    with pytest.raises(WorkoutError, match="no variant 'light'; it has none"):
        parse_workout(GOOD, "w.toml", known_loads(), "light")


def test_a_ladder_ends_at_a_thousand_reps_a_round():
    ladder = block("", THRUSTERS + '"900, 950, ..."')
    (rounds,) = read(ladder, "as many reps as possible", 7200).blocks
    assert rounds.stations[0].reps == [900, 950, 1000]


@pytest.mark.parametrize(("stations", "refused"), [(40, False), (41, True)])
def test_a_block_has_forty_stations_at_most(stations, refused):
    text = block("", *[THRUSTERS + "1"] * stations)
    if not refused:
        assert len(read(text).blocks[0].stations) == stations
        return
    with pytest.raises(WorkoutError, match="at most 40 entries"):
        read(text)


@pytest.mark.parametrize(("rounds", "refused"), [(100, False), (101, True)])
def test_a_hundred_rounds_may_have_numbers_of_reps_of_their_own(rounds, refused):
    text = block("", f"{THRUSTERS}{[1] * rounds}")
    if not refused:
        assert read(text).blocks[0].rounds == rounds
        return
    with pytest.raises(WorkoutError, match="at most 100 entries"):
        read(text)
