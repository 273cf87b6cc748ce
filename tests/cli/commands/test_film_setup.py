"""Advice on filming."""

import pytest
import typer
from typer.testing import CliRunner

from cli.commands import film_setup
from cli.errors import UserError

app = typer.Typer()
app.command()(film_setup.film_setup)


@app.callback()
def program() -> None:
    """Keep the command a command."""


def advice(*movements):
    result = CliRunner().invoke(app, ["film-setup", *movements])
    assert result.exit_code == 0, result.output
    return result.output


def test_each_check_of_a_movement_is_rated_by_view():
    told = advice("thruster")
    assert "film it" in told
    for name in ("depth", "knees", "hips", "lockout", "overhead"):
        line = next(line for line in told.splitlines() if line.strip().startswith(f"{name}:"))
        assert "oblique ±" in line
        assert "% read" in line


def test_several_movements_get_one_place_for_the_phone():
    told = advice("thruster", "bar muscle-up")
    assert "thruster" in told
    assert "bar muscle-up" in told
    assert "one phone" in told


def test_what_holds_for_every_film_is_said_once():
    assert advice("air squat", "deadlift").count("whole athlete") == 1


def test_an_unknown_movement_is_refused_with_the_known_ones():
    result = CliRunner().invoke(app, ["film-setup", "somersault"])
    assert isinstance(result.exception, UserError)
    assert result.exception.exit_status == 2
    with pytest.raises(UserError, match="air squat"):
        raise result.exception


def test_two_phones_are_put_to_two_views_with_their_sound_on():
    told = advice("air squat", "--phones", "2")
    assert "at an angle (about 45 degrees off the front) and from the side" in told
    for name in ("depth", "knees", "hips"):
        assert any(line.strip().startswith(f"{name}: ±") for line in told.splitlines())
    assert "--second-view" in told
    assert "sound" in told
    assert "--second-view" not in advice("air squat")
