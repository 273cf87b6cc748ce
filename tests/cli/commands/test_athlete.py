"""``repwitness athlete``: the questions, the file, and what it tells."""

import pytest
import typer
from typer.testing import CliRunner

from cli.commands import athlete as command
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from counting.pacing.model.athlete_file import load_athlete

WORKOUT = """
name = "Boathouse steps"
scoring = "for time"
missing_reps = "stop the count"
time_cap_s = 150

[[blocks]]
[[blocks.stations]]
movement = "thruster"
reps = 4
[[blocks.stations]]
movement = "pull-up"
reps = 5
"""


def run(*arguments, answers=""):
    app = typer.Typer(pretty_exceptions_enable=False)
    app.callback()(lambda: None)
    app.add_typer(command.group, name="athlete")
    result = CliRunner().invoke(app, ["athlete", *map(str, arguments)], input=answers)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


@pytest.fixture
def workout(tmp_path):
    path = tmp_path / "steps.toml"
    path.write_text(WORKOUT, encoding="utf-8")
    return path


def test_the_questions_make_a_file_that_is_read(tmp_path, workout):
    file = tmp_path / "bow.toml"
    answers = "Bow seat\n34\n72\n\n8\n7:25\n\n20\n43\n85\nslow\n2.2\n12\n\n"
    result = run("new", file, "--workout", workout, answers=answers)
    assert result.exit_code == 0
    assert "is not a number above zero" in result.stdout
    found = load_athlete(file)
    assert (found.name, found.age, found.body_kg, found.changeover_s) == ("Bow seat", 34, 72, 8)
    assert found.engine.row_2000_m == "7:25"
    thruster, pull_up = found.movements["thruster"], found.movements["pull-up"]
    assert (thruster.unbroken, thruster.at_kg, thruster.maximum_kg) == (20, 43, 85)
    assert (thruster.rep_s, pull_up.unbroken, pull_up.rep_s) == (2.2, 12, None)


def test_all_questions_may_be_left_empty(tmp_path, workout):
    file = tmp_path / "nobody.toml"
    run("new", file, "--workout", workout, answers="\n" * 30)
    assert load_athlete(file).movements == {}


def test_a_file_is_never_overwritten(workout):
    with pytest.raises(UserError, match="exists already") as told:
        run("new", workout)
    assert told.value.exit_status == WRONG_USAGE


def test_what_the_file_tells_is_shown_and_drawn(tmp_path):
    file = tmp_path / "bow.toml"
    file.write_text('name = "Bow <seat>"\n[movements.pull-up]\nunbroken = 12\n', encoding="utf-8")
    page = tmp_path / "bow.html"
    result = run("show", file, "--out", page)
    assert "pull-up: unbroken when fresh" in result.stdout
    text = page.read_text(encoding="utf-8")
    assert "Bow &lt;seat&gt;" in text
    assert "typed in" in text


def test_an_empty_file_has_nothing_to_show(tmp_path):
    file = tmp_path / "empty.toml"
    file.write_text("", encoding="utf-8")
    with pytest.raises(UserError, match="neither movements nor films") as told:
        run("show", file)
    assert told.value.exit_status == BAD_INPUT
