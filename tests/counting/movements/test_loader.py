"""A movement standard is a file that a coach can read, copy and change."""

from pathlib import Path

import pytest

from counting.movements.faults import parse
from counting.movements.loader import (
    StandardsError,
    UnknownMovementError,
    built_in_movements,
    find_movement,
    known_movements,
    load_movement,
    movement_named,
    parse_movement,
)
from counting.movements.types import QUANTITY_UNITS, slug

STANDARDS = Path(__file__).parents[3] / "counting" / "movements" / "standards"
AIR_SQUAT = (STANDARDS / "air_squat.toml").read_text(encoding="utf-8")

OVERHEAD_SQUAT = """
name = "Overhead Squat"
words = "With the bar locked out overhead, below parallel and up."
apparatus = "barbell"
base = "standing"
[cycle]
driver = "hip height"
turn = "low"
hands = "overhead"
[[checks]]
name = "depth"
words = "hip crease below the top of the knee"
quantity = "hip crease above knee top"
phase = "turn"
read = "lowest"
relation = "at most"
limit = 0
unit = "cm"
"""


def test_the_movements_of_the_trade_are_built_in():
    """The ten of the first labelled films, and what qualifiers hold besides (common practice)."""
    names = {movement.name for movement in built_in_movements()}
    assert len(names) == 42
    filmed = {m.name for m in built_in_movements() if m.recognised and m.recognised.off_script}
    assert sorted(filmed) == [
        "air squat",
        "bar muscle-up",
        "burpee",
        "chest-to-bar pull-up",
        "deadlift",
        "front squat",
        "pull-up",
        "push-up",
        "strict press",
        "thruster",
    ]


@pytest.mark.parametrize("movement", built_in_movements(), ids=lambda movement: movement.name)
def test_every_built_in_standard_says_in_words_what_it_checks(movement):
    assert movement.words.strip()
    assert movement.checks or movement.by_eye
    assert all(check.words for check in movement.checks)
    assert (STANDARDS / f"{slug(movement.name)}.toml").exists()


@pytest.mark.parametrize(
    ("movement", "quantity", "limit"),
    [
        # Limits as the trade has them (common practice, no source).
        ("air squat", "hip crease above knee top", 0.0),
        ("thruster", "elbow angle", 165.0),
        ("deadlift", "hip angle", 165.0),
        ("pull-up", "chin above bar", 0.0),
        ("chest-to-bar pull-up", "chest to bar gap", 1.5),
        ("push-up", "chest above floor", 5.0),
    ],
)
def test_limits_follow_the_trade(movement, quantity, limit):
    limits = {check.quantity: check.limit for check in find_movement(movement).checks}
    assert limits[quantity] == limit


@pytest.mark.parametrize(
    "spelling", ["Chest-to-Bar Pull-Up", "chest_to_bar_pull_up", "CHEST TO BAR PULL UP"]
)
def test_lookup_forgives_case_hyphens_underscores_and_spaces(spelling):
    assert find_movement(spelling).name == "chest-to-bar pull-up"


def test_an_unknown_movement_lists_the_known_ones():
    with pytest.raises(UnknownMovementError, match=r'"cartwheel".*air squat.*thruster'):
        find_movement("cartwheel")


@pytest.mark.parametrize(
    ("misspelt", "meant"),
    [("thrustr", "thruster"), ("toes to the bar", "toes-to-bar"), ("front sqat", "front squat")],
)
def test_a_misspelt_movement_is_answered_with_the_one_that_was_meant(misspelt, meant):
    with pytest.raises(UnknownMovementError, match=f"did you mean {meant}") as caught:
        find_movement(misspelt)
    assert "wall ball" not in str(caught.value)


def test_a_new_movement_in_a_users_file_works_like_a_built_in_one(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(OVERHEAD_SQUAT, encoding="utf-8")
    assert movement_named("overhead squat", known_movements([file])) == load_movement(file)
    assert movement_named("thruster", known_movements([file])) == find_movement("thruster")


def test_a_users_copy_replaces_the_built_in_standard(tmp_path):
    file = tmp_path / "lenient.toml"
    file.write_text(AIR_SQUAT.replace("limit = 0.0", "limit = 3.0"), encoding="utf-8")
    assert movement_named("air squat", known_movements([file])).checks[0].limit == 3.0
    assert find_movement("air squat").checks[0].limit == 0.0


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        ('quantity = "knee angle"', 'quantity = "knee bend"', r"checks\[1\]\.quantity.*knee angle"),
        ('unit = "deg"', "", r'checks\[1\]\.limit has no unit: add unit = "deg"'),
        ('unit = "cm"', 'unit = "deg"', r'checks\[0\]\.unit is "deg", expected "cm"'),
        ('unit = "cm"', 'unit = "inch"', r"checks\[0\]\.unit.*expected one of: cm, deg"),
        ('phase = "turn"', 'phase = "middle"', r"checks\[0\]\.phase.*finish, start, turn"),
        ('driver = "hip height"', 'driver = "mood"', r"cycle\.driver.*hip height"),
        ('driver = "hip height"', 'driver = "shoulders above hands"', r"cycle\.driver.*hanging"),
        ("limit = 0.0", 'limit = "low"', r"checks\[0\]\.limit.*a number"),
        ("limit = 0.0", "limit = nan", r"checks\[0\]\.limit is nan"),
        ('base = "standing"', 'base = "hanging"', r"base is .hanging.*pull-up bar"),
        ('turn = "low"', 'turn = "low"\nsmallest_swing = -1.0', r"smallest_swing is -1"),
        ('turn = "low"', 'turn = "low"\nstill_share = 1.5', r"still_share is 1.5.*0 to 1"),
        ('turn = "low"', 'turn = "low"\nsmallest_swing = 0.0', r"smallest_swing is 0\.0"),
        ('turn = "low"', 'turn = "low"\nsmallest_swing = 2.0', r"above 0 and below 2$"),
        ('turn = "low"', 'turn = "low"\nsmallest_share = -0.1', r"smallest_share is -0\.1"),
        ("limit = 0.0", 'limit = "low"', r"limit: expected a number, got words in quotes$"),
        ('base = "standing"', 'base = "flying"', r'base is "flying", expected one of: floor, '),
        ('name = "air squat"', 'name = "air squat"\nauthor = "x"', r"top of the file.*author"),
        ('name = "air squat"', 'name = "--"', r"name is empty"),
        ('name = "hips"', 'name = "knees"', r'checks\[2\]\.name is "knees"'),
        ('quantity = "hip angle"', 'quantity = "chin above bar"', r"checks\[2\]"),
        ('turn = "low"', 'turn = "low"\nsmallest_share = 2.0', r"smallest_share is 2.0.*0 to 1"),
        ('name = "hips"', 'name = " "', r"checks\[2\]\.name is empty"),
        (
            'quantity = "hip angle"',
            'quantity = "elbow angle"\nsides = 2',
            r"checks\[2\].*unknown field",
        ),
        ('quantity = "hip crease above knee top"', "", r"checks\[0\].*quantity"),
        (
            'quantity = "hip crease above knee top"',
            'quantity = "chin above bar"',
            r'checks\[0\]\.quantity is "chin above bar", which needs apparatus "pull-up bar"',
        ),
        ("[[checks]]", "[[checks", r"not TOML"),
    ],
)
def test_a_mistake_is_refused_with_file_key_and_what_was_expected(before, after, says):
    assert before in AIR_SQUAT
    with pytest.raises(StandardsError, match=r"^mine\.toml: ") as refusal:
        parse_movement(AIR_SQUAT.replace(before, after, 1).encode(), "mine.toml")
    assert refusal.match(says)


def test_two_checks_that_no_body_can_meet_at_once_are_refused():
    contradiction = AIR_SQUAT + (
        '\n[[checks]]\nname = "bent"\nwords = "knees bent"\nquantity = "knee angle"\n'
        'phase = "finish"\nread = "highest"\nrelation = "at most"\nlimit = 90.0\nunit = "deg"\n'
    )
    with pytest.raises(StandardsError, match=r"checks\[1\] and checks\[3\] contradict"):
        parse_movement(contradiction.encode(), "mine.toml")


@pytest.mark.parametrize("data", [b"", b"\xff\xfe", b"\x00", b"a = [" * 5000, b"checks = 3"])
def test_what_is_no_standard_at_all_is_refused(data):
    with pytest.raises(StandardsError, match=r"^mine\.toml: "):
        parse_movement(data, "mine.toml")


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(StandardsError, match=r"nowhere\.toml: cannot be read"):
        load_movement(tmp_path / "nowhere.toml")


def test_every_quantity_has_exactly_one_unit():
    assert set(QUANTITY_UNITS.values()) == {"cm", "deg"}
    assert QUANTITY_UNITS["knee angle"] == "deg"
    assert QUANTITY_UNITS["chin above bar"] == "cm"


def test_a_limit_without_unit_and_known_quantity_is_asked_for_either_unit():
    text = AIR_SQUAT.replace('unit = "cm"', "", 1).replace("hip crease above knee top", "mood")
    assert any('add unit = "cm" or "deg"' in fault.words for fault in parse(text)[1])


def test_a_huge_file_is_no_standard(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_bytes(b"#" * 2_000_000)
    with pytest.raises(StandardsError, match=r"mine\.toml: cannot be read \(it is larger than"):
        load_movement(file)


def test_shares_and_swings_may_reach_what_is_expected():
    for line in ("smallest_share = 0.0", "smallest_share = 1.0", "still_share = 0.0"):
        parse_movement(AIR_SQUAT.replace('turn = "low"', f'turn = "low"\n{line}').encode(), "x")
    wide = AIR_SQUAT.replace('turn = "low"', 'turn = "low"\nsmallest_swing = 1.99')
    assert parse_movement(wide.encode(), "x").cycle.smallest_swing == 1.99


def test_a_floor_and_a_ceiling_at_the_same_value_can_be_met():
    exact = AIR_SQUAT + (
        '\n[[checks]]\nname = "exact"\nwords = "knees at 165"\nquantity = "knee angle"\n'
        'phase = "finish"\nread = "highest"\nrelation = "at most"\nlimit = 165.0\nunit = "deg"\n'
    )
    assert parse_movement(exact.encode(), "mine.toml").checks[-1].limit == 165.0


@pytest.mark.parametrize(("size_bytes", "is_read"), [(1_000_000, True), (1_000_001, False)])
@pytest.mark.slow
def test_a_file_of_a_million_bytes_is_the_largest(tmp_path, size_bytes, is_read):
    file = tmp_path / "mine.toml"
    file.write_bytes(AIR_SQUAT.encode().ljust(size_bytes, b"\n"))
    if is_read:
        assert load_movement(file).name == "air squat"
    else:
        with pytest.raises(StandardsError, match="larger than 1,000,000 bytes"):
            load_movement(file)
