"""All that is wrong with a standards file is said at once, each with its line."""

from pathlib import Path

import pytest

from counting.movements.faults import parse
from counting.movements.loader import (
    StandardsError,
    built_in_movements,
    known_movements,
    parse_movement,
    standards_digest,
    standards_files,
)

STANDARDS = Path(__file__).parents[3] / "counting" / "movements" / "standards"
CLEAN = (STANDARDS / "squat_clean.toml").read_text(encoding="utf-8")
SQUAT = (STANDARDS / "air_squat.toml").read_text(encoding="utf-8")


def faults(text: str, *changes: tuple[str, str]) -> list[tuple[int, str]]:
    for before, after in changes:
        assert before in text
        text = text.replace(before, after, 1)
    return [(fault.line, fault.words) for fault in parse(text)[1]]


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def test_faults_of_all_kinds_are_found_together_in_file_order():
    found = faults(
        SQUAT,
        ('base = "standing"', 'base = "sitting"'),
        ('driver = "hip height"', 'driver = "mood"'),
        ('turn = "low"', 'turn = "low"\nsmallest_swnig = 0.1'),
        ('read = "lowest"', 'read = "deepest"'),
        ("limit = 165.0", 'limit = "straight"'),
    )
    words = [said for _, said in found]
    assert 'base is "sitting", expected one of: ' in words[0]
    assert words[1].startswith('cycle.driver is "mood", expected one of: hip height')
    assert words[2].endswith('unknown field "smallest_swnig"; did you mean "smallest_swing"?')
    assert words[3] == 'checks[0].read is "deepest", expected one of: highest, lowest'
    assert words[4].startswith("checks[1].limit: expected a number, got words in quotes")
    assert [line for line, _ in found] == sorted(line for line, _ in found)


def test_each_fault_names_its_own_line():
    text = CLEAN.replace('read = "highest"', 'read = "most"', 1)
    ((line, _),) = faults(text)
    assert line == line_of(text, 'read = "most"')
    ((line, said),) = faults("name = 'x'\nwords = [")
    assert line == 2
    assert said.startswith("not TOML")


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ('phase = "bottom"', 'phase = "rack"', "a squat's depth is read where the hips are low"),
        (
            'phase = "bottom"',
            'phase = "top"',
            "expected one of: bottom, drive, finish",
        ),
        ('name = "bottom"', 'name = "floor"', "expected a name of its own"),
        ('name = "bottom"', 'name = "turn"', "none of start, drive, turn, finish"),
        ("{ below = 0.36 }", "{ below = 0.1, above = 0.2 }", "which nothing is"),
        ("{ below = 0.36 }", "{ }", "open on both sides"),
        ("{ below = 0.36 }", "{ below = 7.0 }", "not within 2.5 statures"),
        ("{ below = 0.36 }", "{ below = 0.6 }", "can be true at the same time"),
        ("usual_s = 0.7", "usual_s = 0.0", "expected seconds above 0"),
        ('main = "squat"', 'main = "press"', 'load.main is "press", expected one of'),
        ("[[phases]]", '[cycle]\ndriver = "hip height"\nturn = "low"\n\n[[phases]]', "either by"),
        ("hinged = 8", "hinged = 64", "add up to 153 hundredths"),
        ("limit = 165.0", "limit = 190.0", "190 deg, expected 0 to 180"),
    ],
)
def test_contradictions_of_meaning_are_refused(before, after, says):
    found = faults(CLEAN, (before, after))
    assert any(says in words for _, words in found), found


def test_depth_asked_at_the_standing_turn_of_a_cycle_is_refused():
    lift = SQUAT.replace('turn = "low"', 'turn = "high"')
    assert any("stands tall" in words for _, words in faults(lift))
    finish = SQUAT.replace('phase = "turn"', 'phase = "finish"', 1)
    assert any("stands tall" in words for _, words in faults(finish))


def test_what_is_reached_has_to_be_among_what_is_true():
    swing = (STANDARDS / "swing_overhead.toml").read_text(encoding="utf-8")
    found = faults(swing, ('reach = { "hands above shoulders"', 'reach = { "feet above hips"'))
    assert any("is asked but not in where" in words for _, words in found)


def test_nobody_is_upside_down_in_a_cycle():
    found = faults(SQUAT, ('base = "standing"', 'base = "inverted"'))
    assert any("describe the movement by [[phases]]" in words for _, words in found)


def test_the_error_of_a_use_tells_the_first_fault_and_how_many_more():
    broken = SQUAT.replace('base = "standing"', 'base = "up"').replace('turn = "low"', "turn = 1")
    with pytest.raises(StandardsError, match=r'^own\.toml: base is "up".*\(and 1 more faults\)$'):
        parse_movement(broken.encode(), "own.toml")


def test_every_shipped_standard_is_without_fault_and_names_known_movements():
    names = {movement.name for movement in built_in_movements()}
    assert len(names) >= 30
    for movement in built_in_movements():
        told = movement.recognised
        assert set(told.falls_short_as if told else ()) <= names
        assert movement.source


def own(folder: Path, file: str, name: str) -> Path:
    path = folder / file
    path.write_text(SQUAT.replace('name = "air squat"', f'name = "{name}"', 1), encoding="utf-8")
    return path


def test_several_files_and_folders_are_read_each_once(tmp_path):
    first, second = own(tmp_path, "a.toml", "one"), own(tmp_path, "b.toml", "two")
    (tmp_path / "notes.txt").write_text("no standard", encoding="utf-8")
    assert standards_files([tmp_path, first]) == [first, second]
    known = known_movements([tmp_path])
    assert {"one", "two", "thruster"} <= known.keys()


def test_two_standards_of_one_name_are_an_error_that_names_both(tmp_path):
    own(tmp_path, "a.toml", "one"), own(tmp_path, "b.toml", "One")
    with pytest.raises(StandardsError, match=r"b\.toml and .*a\.toml are both a standard"):
        known_movements([tmp_path])


def test_an_empty_folder_is_no_set_of_standards(tmp_path):
    with pytest.raises(StandardsError, match="holds no standards file"):
        known_movements([tmp_path])


def test_the_digest_of_standards_depends_on_their_content_alone(tmp_path):
    first, second = own(tmp_path, "a.toml", "one"), own(tmp_path, "b.toml", "two")
    both = standards_digest([first, second])
    assert both == standards_digest([second, first]) == standards_digest([tmp_path])
    assert standards_digest([first]) not in (both, standards_digest([second]))
    assert standards_digest([]) is None
    second.rename(tmp_path / "c.toml")
    assert standards_digest([tmp_path]) == both


def test_a_fault_of_form_does_not_hide_what_contradicts_itself():
    found = faults(
        CLEAN,
        ('source = "common practice, no source"', "source = 3"),
        ('quantity = "knee angle"\nphase = "finish"', 'quantity = "knee angle"\nphase = "end"'),
        ("usual_s = 0.4", "usual_s = -1.0"),
    )
    assert ["source" in found[0][1], "usual_s is -1" in found[1][1]] == [True, True]
    assert 'checks[1].phase is "end", expected one of: ' in found[2][1]
    assert len(found) == 3


def test_checks_that_are_there_twice_are_told_in_words():
    """The skeleton of the authors' page with a check put below it."""
    text = 'name = "x"\nchecks = []\n[[checks]]\nname = "depth"\n'
    ((line, said),) = faults(text)
    assert line == 3
    assert "checks is there twice" in said


def test_a_misspelt_word_is_answered_with_the_one_meant():
    ((_, said),) = faults(CLEAN, ('"hands above feet" = {', '"hand above feet" = {'))
    assert '(did you mean "hands above feet"?), expected one of: ' in said


def test_two_phases_that_overlap_are_told_once():
    text = (STANDARDS / "box_jump.toml").read_text(encoding="utf-8")
    found = faults(text, ("below = 0.09", "below = 0.3"))
    assert len(found) == 1


WALL_BALL = (STANDARDS / "wall_ball.toml").read_text(encoding="utf-8")
ROPE = (STANDARDS / "rope_skip.toml").read_text(encoding="utf-8")


def asked_of_object(text: str, before: str, after: str) -> str:
    """One fault in what a standard asks of its object."""
    head, table, tail = text.partition("[[objects]]")
    assert before in tail
    ((_, words),) = faults(head + table + tail.replace(before, after, 1))
    return words


@pytest.mark.parametrize(
    ("text", "before", "after", "said"),
    [
        (WALL_BALL, 'unit = "cm"\n', "", 'objects[0].limit has no unit: add unit = "cm" beside it'),
        (WALL_BALL, 'unit = "cm"', 'unit = "passes"', 'objects[0].unit is "passes", expected "cm"'),
        (WALL_BALL, 'name = "target"', 'name = "depth"', "expected a name of its own"),
        (WALL_BALL, "ball above target", "ball on floor", "expected one of: ball above target"),
        (ROPE, "limit = 1.0", "limit = 1.5", "objects[0].limit is 1.5, expected a whole number"),
        (ROPE, "limit = 1.0", "limit = nan", "objects[0].limit is nan, expected a whole number"),
    ],
)
def test_what_is_asked_of_an_object_is_checked(text, before, after, said):
    assert said in asked_of_object(text, before, after)


def test_a_box_is_asked_for_in_one_of_the_phases():
    asked = (STANDARDS / "box_jump.toml").read_text(encoding="utf-8").partition("[[objects]]")[2]
    table = "[[objects]]" + asked.partition("[recognised]")[0]
    ((_, words),) = faults(SQUAT, ("[recognised]", table + "[recognised]"))
    assert "which needs [[phases]]" in words
