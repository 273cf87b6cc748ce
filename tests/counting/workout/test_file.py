"""A workout file is read whole or refused with the line that is wrong."""

import contextlib
from pathlib import Path

import jsonschema
import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counting.movements.key_lines import key_lines, line_of
from counting.movements.loader import built_in_movements
from counting.workout.beyond_film import with_own_limits
from counting.workout.file import (
    LARGEST_FILE_BYTES,
    WorkoutError,
    load_workout,
    parse_workout,
)
from counting.workout.shorthand import WorkoutFile
from counting.workout.types import LONGEST_SCRIPT, Workout, script
from tests.schemas import made_of, shipped_in, without_descriptions

KNOWN = [movement.name for movement in built_in_movements()]
SAMPLES = Path(__file__).parents[3] / "sample_clips"

GOOD = """\
name = "Two rounds"            # line 1
scoring = "for time"
missing_reps = "stop the count"
time_cap_s = 240

[[blocks]]                     # line 6
rounds = 2
rest_after_s = 10

[[blocks.stations]]            # line 10
movement = "deadlift"
reps = 3

[[blocks.stations]]            # line 14
movement = "push-up"
reps = [4, 5]

[[blocks]]                     # line 18
[[blocks.stations]]
movement = "pull-up"
reps = 6
"""


def parse(text: str) -> Workout:
    return parse_workout(text, "w.toml", KNOWN)


def test_a_whole_file_becomes_the_script_in_order() -> None:
    lines = [
        (slot.block, slot.round, slot.station, slot.movement, slot.reps)
        for slot in script(parse(GOOD))
    ]
    assert lines == [
        (1, 1, 1, "deadlift", 3),
        (1, 1, 2, "push-up", 4),
        (1, 2, 1, "deadlift", 3),
        (1, 2, 2, "push-up", 5),
        (2, 1, 1, "pull-up", 6),
    ]


@pytest.mark.parametrize(
    ("change", "to", "line", "words"),
    [
        ("time_cap_s = 240", "time_cap_s = = 240", 4, "not valid TOML"),
        ("time_cap_s = 240", "time_cap = 240", 4, "unknown key 'time_cap'"),
        ("time_cap_s = 240", "time_cap_s = -1", 4, "time_cap_s has to be above 0"),
        ("time_cap_s = 240", "time_cap_s = 'soon'", 4, "time_cap_s has to be a number, not text"),
        ("time_cap_s = 240", "[tie_break]\nblock = 3", 5, "only 2 blocks"),
        ("time_cap_s = 240", "[tie_break]\nrep = 22", 5, "only 21 reps"),
        ("time_cap_s = 240", "[tie_break]\nrep = 2\nblock = 1", 4, "either block or rep"),
        ("rounds = 2", "rounds = 0", 7, "blocks.rounds has to be at least 1"),
        ("rounds = 2", "rounds = 'until time is up'", 6, "as many reps as possible"),
        ("rounds = 2", "interval_s = 60", 7, "fixed interval"),
        ('movement = "deadlift"', 'movement = "deadlifts"', 11, "did you mean 'deadlift'?"),
        ("reps = 3\n", "", 10, "lacks the key 'reps'"),
        ("reps = 3", "repetitions = 3", 12, "unknown key 'repetitions'"),
        ("reps = 3", "reps = 3\nload = 60", 10, "load and load_unit belong together"),
        ("reps = 3", "reps = 3\nlimits = { depth = nan }", 13, "no number"),
        ("reps = [4, 5]", "reps = [4]", 16, "1 numbers of reps for rounds = 2"),
        ("reps = 6", "reps = 6\n[[blocks]]", 22, "lacks the key 'stations'"),
        ('missing_reps = "stop the count"\n', "", 1, "decides the score"),
        ('scoring = "for time"', 'scoring = "for fun"', 2, "scoring"),
        ('scoring = "for time"', 'scoring = "fixed interval"', 6, "needs interval_s"),
        ('scoring = "for time"', 'scoring = "one-set maximum"', 2, "one station"),
        ("time_cap_s = 240", "[penalties]\nno_rep_s = -5", 5, "penalties.no_rep_s"),
        ("rounds = 2\n", "rounds = 2\ninterval_s = 60\n", 8, 'belongs to scoring = "fixed'),
        ('movement = "deadlift"', 'movement = "xyz"', 11, "known here: air squat"),
    ],
)
def test_an_error_names_the_line_that_is_wrong(change: str, to: str, line: int, words: str) -> None:
    assert change in GOOD
    with pytest.raises(WorkoutError) as caught:
        parse(GOOD.replace(change, to, 1))
    assert f"w.toml, line {line}:" in str(caught.value)
    assert words in str(caught.value)


def test_as_many_reps_as_possible_needs_a_time_at_which_it_is_up() -> None:
    with pytest.raises(WorkoutError, match=r"line 2: .*time_cap_s"):
        parse(
            GOOD.replace("for time", "as many reps as possible").replace("time_cap_s = 240\n", "")
        )


def test_a_rest_needs_a_block_after_it() -> None:
    text = GOOD + "\n[[blocks]]\nrest_after_s = 5\n[[blocks.stations]]\n"
    with pytest.raises(WorkoutError, match="line 24: no block follows"):
        parse(text + 'movement = "burpee"\nreps = 1\n')


def test_what_is_no_file_or_no_text_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(WorkoutError, match=r"none\.toml: cannot be read"):
        load_workout(tmp_path / "none.toml", KNOWN)
    (tmp_path / "bytes.toml").write_bytes(b'name = "a"\nwords = "\xff"\n')
    with pytest.raises(WorkoutError, match="line 2: not UTF-8"):
        load_workout(tmp_path / "bytes.toml", KNOWN)


def test_a_file_of_up_to_200_kb_is_read(tmp_path: Path) -> None:
    assert LARGEST_FILE_BYTES == 200_000
    path = tmp_path / "large.toml"
    path.write_text(GOOD.ljust(200_000), encoding="utf-8")
    assert load_workout(path, KNOWN) == parse(GOOD)
    path.write_text(GOOD.ljust(200_001), encoding="utf-8")
    with pytest.raises(WorkoutError, match="larger than 200,000 bytes"):
        load_workout(path, KNOWN)


@pytest.mark.parametrize(("text", "line"), [("a = [", 1), ('a = 1\nb = """\n', 2)])
def test_what_is_not_finished_is_told_with_the_last_line(text: str, line: int) -> None:
    with pytest.raises(WorkoutError) as refused:
        parse(text)
    assert str(refused.value).startswith(f"w.toml, line {line}: not valid TOML (")


def test_the_fault_in_the_toml_is_told_in_the_words_of_its_reader_without_the_column() -> None:
    with pytest.raises(WorkoutError) as refused:
        parse("a = 1\nb = =\n")
    assert str(refused.value) == "w.toml, line 2: not valid TOML (invalid value)"


@pytest.mark.parametrize("sample", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_the_sample_workouts_load_and_follow_the_schema(sample: Path) -> None:
    workout = load_workout(sample, KNOWN)
    jsonschema.validate(msgspec.to_builtins(workout), shipped_in("counting.workout"))


def test_one_sample_has_two_blocks_a_fixed_rest_and_a_tie_break_after_the_first() -> None:
    workout = load_workout(SAMPLES / "boathouse_two_blocks.toml", KNOWN)
    assert len(workout.blocks) == 2
    assert workout.blocks[0].rest_after_s > 0
    assert workout.tie_break is not None
    assert workout.tie_break.block == 1


def test_the_shipped_schema_is_the_types_own() -> None:
    assert without_descriptions(shipped_in("counting.workout")) == without_descriptions(
        made_of(WorkoutFile)
    )
    jsonschema.Draft202012Validator.check_schema(shipped_in("counting.workout"))


def test_lines_are_found_past_strings_comments_and_nested_arrays() -> None:
    text = '''\
"a key" = """
[[not.a.table]]
x = 1
"""
b.c = [
  1, # ] not the end
  2,
]
[[t]]
d = "[[neither]]"
[[t]]
e = { f = 1 }
'''
    lines = key_lines(text)
    assert lines == {
        ("a key",): 1,
        ("b", "c"): 5,
        ("t", 0): 9,
        ("t", 0, "d"): 10,
        ("t", 1): 11,
        ("t", 1, "e"): 12,
    }
    assert line_of(("t", 1, "e", "f"), lines) == 12
    assert line_of(("nowhere",), lines) == 1


@settings(deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_a_workout_or_a_workout_error(text: str) -> None:
    with contextlib.suppress(WorkoutError):
        assert parse(text).blocks


@settings(deadline=None)
@given(
    st.integers(0, len(GOOD) - 1),
    st.sampled_from(["", '"', "[", "]", "=", "\n", "nan", "9" * 30, "{", "#", "'''"]),
)
def test_a_damaged_file_is_refused_or_still_a_workout(at: int, damage: str) -> None:
    try:
        workout = parse(GOOD[:at] + damage + GOOD[at + 1 :])
    except WorkoutError:
        return
    assert len(script(workout)) >= 1


stations = st.builds(
    lambda movement, reps: {"movement": movement, "reps": reps},
    st.sampled_from(KNOWN),
    st.integers(1, 50),
)
blocks = st.builds(
    lambda rounds, members: {"rounds": rounds, "stations": members},
    st.integers(1, 5),
    st.lists(stations, min_size=1, max_size=4),
)


@settings(deadline=None)
@given(st.lists(blocks, min_size=1, max_size=3))
def test_a_workout_survives_being_written_as_toml(members: list[dict[str, object]]) -> None:
    lines = ['name = "x"', 'scoring = "for time"', 'missing_reps = "deducted"']
    for block in members:
        lines += ["[[blocks]]", f"rounds = {block['rounds']}"]
        for station in block["stations"]:  # type: ignore[attr-defined]
            lines += ["[[blocks.stations]]"]
            lines += [f'movement = "{station["movement"]}"', f"reps = {station['reps']}"]
    workout = parse("\n".join(lines))
    wanted = msgspec.convert(
        {"name": "x", "scoring": "for time", "missing_reps": "deducted", "blocks": members},
        Workout,
    )
    assert workout == wanted
    assert len(script(workout)) == sum(
        block["rounds"] * len(block["stations"])  # type: ignore[operator, arg-type]
        for block in members
    )


def test_the_documented_example_loads_with_its_own_limits() -> None:
    text = (SAMPLES.parent / "counting" / "workout" / "workout_files.md").read_text(
        encoding="utf-8"
    )
    example = text.split("```toml\n")[1].split("```")[0]
    movements = {movement.name: movement for movement in built_in_movements()}
    limited = with_own_limits(parse(example), movements)
    limits = {check.name: check.limit for check in limited["chest-to-bar pull-up"].checks}
    assert limits["contact"] == 3.0
    assert limits["hang"] == 165.0
    assert limited["thruster"] == movements["thruster"]


def test_a_limit_of_a_check_that_the_standard_lacks_is_refused() -> None:
    movements = {movement.name: movement for movement in built_in_movements()}
    workout = parse(GOOD.replace("reps = 3", "reps = 3\nlimits = { depths = 2 }"))
    with pytest.raises(WorkoutError, match="'deadlift' has no check 'depths'"):
        with_own_limits(workout, movements)


def test_stations_of_one_movement_share_their_limits() -> None:
    text = GOOD + "\n[[blocks]]\n[[blocks.stations]]\n"
    text += 'movement = "deadlift"\nreps = 1\nlimits = { hips = 150 }\n'
    with pytest.raises(WorkoutError, match=r"line 24: all stations of 'deadlift'"):
        parse(text)


def test_a_rest_after_the_last_block_is_refused() -> None:
    with pytest.raises(WorkoutError, match="line 19: no block follows this rest"):
        parse(
            GOOD.replace(
                "[[blocks]]                     # line 18\n", "[[blocks]]\nrest_after_s = 5\n"
            )
        )


ENDLESS = """\
name = "Until time is up"
scoring = "as many reps as possible"
missing_reps = "deducted"
time_cap_s = 240

[[blocks]]
rounds = "until time is up"
[[blocks.stations]]
movement = "burpee"
reps = 5
"""


def test_only_the_last_block_can_be_endless() -> None:
    again = ENDLESS[ENDLESS.index("[[blocks]]") :]
    with pytest.raises(WorkoutError, match="line 7: only the last block can repeat"):
        parse(ENDLESS + again)


def test_a_script_without_measure_is_refused() -> None:
    block = (
        "[[blocks]]\nrounds = 100\n" + "[[blocks.stations]]\nmovement = 'burpee'\nreps = 1\n" * 20
    )
    with pytest.raises(WorkoutError, match=r"\d+ stations over all rounds; at most \d+"):
        parse(ENDLESS.partition("[[blocks]]")[0] + block * 20)


def test_the_longest_script_counts_an_endless_round_once() -> None:
    station = "[[blocks.stations]]\nmovement = 'burpee'\nreps = 1\n"
    fixed = f"[[blocks]]\nrounds = 100\n{station * 19}[[blocks]]\nrounds = 9\n{station * 11}"
    head, _, endless = ENDLESS.partition("[[blocks]]")
    longest = f"{head}{fixed}[[blocks]]{endless}"
    assert LONGEST_SCRIPT == 100 * 19 + 9 * 11 + 1
    assert len(parse(longest).blocks) == 3
    with pytest.raises(WorkoutError, match="2001 stations over all rounds; at most 2000"):
        parse(longest + station)


def test_penalties_in_seconds_need_a_score_in_seconds() -> None:
    with pytest.raises(
        WorkoutError, match=r'line 5: penalties in seconds need scoring = "for time"'
    ):
        parse(ENDLESS.replace("\n\n", "\n[penalties]\nno_rep_s = 5\n\n", 1))


def test_an_endless_block_has_no_end_for_a_tie_break_but_any_rep_may_hold_it() -> None:
    with pytest.raises(WorkoutError, match=r"line 6: a block that repeats .* has no end"):
        parse(ENDLESS.replace("\n\n", "\n[tie_break]\nblock = 1\n\n", 1))
    tie_break = parse(ENDLESS.replace("\n\n", "\n[tie_break]\nrep = 77\n\n", 1)).tie_break
    assert tie_break is not None
    assert tie_break.rep == 77
    assert parse(GOOD.replace("time_cap_s = 240", "[tie_break]\nrep = 21")).tie_break is not None


def test_a_tie_break_is_read_in_the_blocks_that_end_before_the_endless_one() -> None:
    head, _, endless = ENDLESS.partition("[[blocks]]")
    fixed = "[[blocks]]\n[[blocks.stations]]\nmovement = 'pull-up'\nreps = 6\n"
    for where in ("block = 1", "rep = 6", "rep = 500"):
        whole = f"{head}[tie_break]\n{where}\n{fixed}[[blocks]]{endless}"
        assert parse(whole).tie_break is not None
    with pytest.raises(WorkoutError, match="a block that repeats"):
        parse(f"{head}[tie_break]\nblock = 2\n{fixed}[[blocks]]{endless}")


def test_a_one_set_maximum_asks_for_no_number_of_reps() -> None:
    text = ENDLESS.replace("as many reps as possible", "one-set maximum")
    text = text.replace('"until time is up"', "1", 1)
    with pytest.raises(WorkoutError, match="line 10: a one-set maximum asks for no number"):
        parse(text)
    alone = text.replace("reps = 5\n", "")
    assert parse(alone).scoring == "one-set maximum"
    for more in (
        alone.replace("rounds = 1", "rounds = 2"),
        alone + "[[blocks.stations]]\nmovement = 'burpee'\n",
    ):
        with pytest.raises(WorkoutError, match="one block of one round of one station"):
            parse(more)


def test_a_file_nested_too_deeply_is_refused() -> None:
    with pytest.raises(WorkoutError, match="nested too deeply"):
        parse("a = " + "[" * 50_000)


def test_lines_of_quoted_keys_and_of_tables_in_arrays_are_found() -> None:
    text = '"a=b" = 1\n[[t]]\n[t.inner]\nx = 1\n[[t]]\n[t.inner]\nx = 2\n'
    assert key_lines(text) == {
        ("a=b",): 1,
        ("t", 0): 2,
        ("t", 0, "inner"): 3,
        ("t", 0, "inner", "x"): 4,
        ("t", 1): 5,
        ("t", 1, "inner"): 6,
        ("t", 1, "inner", "x"): 7,
    }


def test_a_workout_asks_for_doubles_by_the_limit_of_the_rope() -> None:
    movements = {movement.name: movement for movement in built_in_movements()}
    workout = parse(
        """
name = "Rain on the jetty"
scoring = "for time"
missing_reps = "deducted"
[[blocks]]
[[blocks.stations]]
movement = "rope skip"
reps = 30
limits = { rope = 2 }
"""
    )
    limited = with_own_limits(workout, movements)["rope skip"]
    assert [asked.limit for asked in limited.objects] == [2.0]
    assert [asked.limit for asked in movements["rope skip"].objects] == [1.0]
