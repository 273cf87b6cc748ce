"""``repwitness movements`` shows every standard, so that nobody is judged by a hidden limit."""

import pytest
import typer
from typer.testing import CliRunner

from cli.commands import movements
from cli.errors import UserError

PRESS = """
name = "Push Jerk"
words = "From the rack to overhead with a dip."
apparatus = "barbell"
base = "standing"
checks = []
[cycle]
driver = "wrists above shoulders"
turn = "high"
"""


@pytest.fixture
def command():
    app = typer.Typer()
    app.command()(movements.movements)

    def run(*arguments: str):
        return CliRunner().invoke(app, list(arguments), catch_exceptions=True)

    return run


def test_the_list_holds_every_movement_with_its_standard_in_words(command):
    shown = command().stdout
    for name in ("air squat", "bar muscle-up", "burpee", "thruster"):
        assert f"\n{name}\n  From" in f"\n{shown}"


def test_one_movement_is_shown_whole_with_its_limits(command):
    shown = command("Pull Up").stdout
    assert "chin above bar at the turn at least 0 cm" in shown
    assert "elbow angle at the start at least 165 deg" in shown


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "wall ball",
            "judged where the ball is seen and --target says where its target is: target",
        ),
        ("box jump", "judged where the box is seen: both feet"),
        ("rope skip", "judged where the rope is heard on the floor: rope"),
    ],
)
def test_what_an_object_decides_is_told_with_its_limit(command, name, said):
    shown = " ".join(command(name).stdout.split())
    assert said in shown
    assert "objects: - " in shown


def test_a_users_standard_is_listed_with_the_built_in_ones(command, tmp_path):
    file = tmp_path / "jerk.toml"
    file.write_text(PRESS, encoding="utf-8")
    assert "Push Jerk\n  From the rack" in command("--standards", str(file)).stdout
    assert "Push Jerk" in command("push jerk", "--standards", str(file)).stdout


def test_an_unknown_movement_is_wrong_usage(command):
    result = command("cartwheel")
    assert isinstance(result.exception, UserError)
    assert result.exception.exit_status == 2


def test_a_broken_standards_file_is_bad_input(command, tmp_path):
    file = tmp_path / "broken.toml"
    file.write_text("name = 3", encoding="utf-8")
    result = command("--standards", str(file))
    assert isinstance(result.exception, UserError)
    assert result.exception.exit_status == 3
    assert "broken.toml" in str(result.exception)
