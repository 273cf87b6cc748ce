"""Constants that are put off by half to see whether tests notice."""

import ast
from pathlib import Path

import numpy as np
import pytest

from tests.faults import constants
from tests.faults.constants import ROOT, constants_in, finals, scaled, with_scaled

SOURCE = """
from typing import Final
LONGEST_S: Final[float] = 2.0
TABLE: Final = {"a": (1, 0.5), "b": (10, 0.0)}
WORDS: Final = "3 reps"
plain = 4
"""


@pytest.mark.parametrize(
    ("value", "larger", "smaller"),
    [
        (2.0, 3.0, 1.0),
        (-5.0, -7.5, -2.5),
        (20, 30, 10),
        (1, 2, 0),
        (3, 5, 1),
        (0, 0, 0),
        ((1.0, (2.0, "x")), (1.5, (3.0, "x")), (0.5, (1.0, "x"))),
        ({"a": [4.0]}, {"a": [6.0]}, {"a": [2.0]}),
        (True, True, True),
        (None, None, None),
    ],
)
def test_every_number_of_a_value_is_off_by_half_and_whole_ones_stay_whole(
    value: object, larger: object, smaller: object
) -> None:
    assert scaled(value, 1.5) == larger
    assert scaled(value, 0.5) == smaller
    assert type(scaled(value, 1.5)) is type(value)


def test_arrays_are_off_by_half_as_a_whole() -> None:
    assert scaled(np.array([2.0, 4.0]), 1.5).tolist() == [3.0, 6.0]
    assert scaled(np.array([[2, 4]]), 0.5).tolist() == [[1, 2]]


def test_constants_are_the_finals_of_a_module() -> None:
    named = [ast.unparse(node.target) for node in finals(ast.parse(SOURCE))]
    assert named == ["LONGEST_S", "TABLE", "WORDS"]


def test_a_changed_module_has_one_other_number_and_nothing_else() -> None:
    made: dict[str, object] = {}
    tree = with_scaled(ast.parse(SOURCE), "TABLE", 1.5)
    exec(compile(tree, "changed.py", "exec"), made)
    assert made["TABLE"] == {"a": (2, 0.75), "b": (15, 0.0)}
    assert (made["LONGEST_S"], made["WORDS"], made["plain"]) == (2.0, "3 reps", 4)


def test_a_modules_own_tests_come_first_and_those_of_what_imports_it_after() -> None:
    own, *others = constants.tests_about(ROOT / "counting" / "decision" / "combination.py")
    assert own == ROOT / "tests" / "counting" / "decision" / "test_combination.py"
    assert ROOT / "tests" / "counting" / "decision" / "test_counting_reps.py" in others


def test_tests_that_take_a_name_from_its_package_are_among_them() -> None:
    files = constants.tests_about(ROOT / "cli" / "charts" / "strip.py")
    assert ROOT / "tests" / "cli" / "charts" / "test_charts.py" in files


def test_an_answer_is_kept_until_module_or_tests_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["noticed", "unnoticed too large"])
    monkeypatch.setattr(constants, "tried", lambda *_given: next(answers))
    module = tmp_path / "lengths.py"
    module.write_text(SOURCE)
    monkeypatch.setattr(constants, "ROOT", tmp_path)
    monkeypatch.setattr(constants, "tests_about", lambda _module: (module,))
    one = constants.Constant(module, 3, "LONGEST_S", "2.0")
    file = tmp_path / "kept.jsonl"
    assert constants.kept_or_tried(one, file) == "noticed"
    assert constants.kept_or_tried(one, file) == "noticed"
    module.write_text(SOURCE + "more = 5\n")
    assert constants.kept_or_tried(one, file) == "unnoticed too large"


def test_there_are_hundreds_and_tables_of_names_are_none() -> None:
    found = list(constants_in(ROOT / "counting" / "decision"))
    assert "UNKNOWN_SHARE" in {one.name for one in found}
    assert all(one.name != "CLIP_CALLS" for one in found)
