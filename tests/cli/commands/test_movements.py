"""``repwitness movements`` shows every standard, so that nobody is judged by a hidden limit."""

import re

import pytest
import typer
from typer.testing import CliRunner

from cli.commands import movements
from cli.errors import UserError
from counting.checks.coverage import judged_views
from counting.movements.loader import built_in_movements

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
            "judged where the ball is seen and --target says where its line is: target",
        ),
        ("box jump", "refused where the box is seen and clearly missed: both feet"),
        ("rope skip", "refused where the rope is heard on the floor and clearly missed: rope"),
    ],
)
def test_what_an_object_decides_is_told_with_its_limit(command, name, said):
    shown = " ".join(command(name).stdout.split())
    assert said in shown
    assert "objects: - " in shown


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "air squat",
            "a film can call reps good or refuse them, seen from front, oblique and side",
        ),
        ("pull-up", "a film can call reps good or refuse them, seen from front and oblique judged"),
        ("burpee", "a film can refuse reps, but calls none good: not every check is judged"),
        ("ring dip", "a film only counts reps not judged, for a person to call: lockout (arms"),
        ("knees-to-elbows", "a film only counts reps, but refuses clear misses not judged"),
        ("toes-to-bar", "a film can call reps good or refuse them, seen from oblique judged"),
        ("toes-to-bar", "refused where clearly missed: feet up"),
        ("box jump", "a film only counts reps, but refuses clear misses refused where the box"),
        ("squat clean", "refused where clearly left out: bottom, rack"),
        ("wall ball", "where its line is; else it only refuses or counts them"),
    ],
)
def test_what_a_film_can_make_of_a_rep_is_said_first(command, name, said):
    assert said in " ".join(command(name).stdout.split())


def test_what_is_said_of_a_movements_reps_is_what_its_verdicts_can_be():
    """A check that is judged from nowhere leaves no rep good: `test_coverage` has the verdicts."""
    for movement in built_in_movements():
        good = set(movements.views_of_good(movement))
        judged = [judged_views(check, movement) for check in movement.checks]
        assert good == (set.intersection(*map(set, judged)) if judged else set())


def test_the_list_ends_with_how_many_are_judged_and_what_the_words_mean(command):
    *_, last = " ".join(command().stdout.split()).partition(f"{len(built_in_movements())} mov")
    numbers = [int(number) for number in re.findall(r"(\d+) whose", last)]
    assert sum(numbers) == len(built_in_movements())
    assert "only counted: found and timed, for a person to call" in last
    assert "side 67 to 113; from behind nothing is judged" in last


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
