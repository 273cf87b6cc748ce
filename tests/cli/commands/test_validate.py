"""``repwitness validate`` measures what was found against what is true."""

import json

import pytest
import typer
from synthetic.films import film
from synthetic.labelled import landmark_file
from typer.testing import CliRunner

from cli.commands import validate
from cli.errors import UserError


@pytest.fixture
def labelled(tmp_path):
    """Two labelled films with their landmark files: one as it is, one with a truth too many."""
    made = film("air squat", sets=(3, 2))
    reps = [{"start": rep.start_s, "end": rep.end_s, "criteria": {}} for rep in made.reps]
    breaks = [{"start": start_s, "end": end_s} for start_s, end_s in made.breaks]
    truth = {"movement": "air_squat", "fps": 30, "camera": {"az": 40}, "reps": reps,
             "breaks": breaks}  # fmt: skip
    extra = truth | {"reps": [*reps, {"start": 60.0, "end": 62.0, "criteria": {}}]}
    for name, labels in (("right", truth), ("short", extra)):
        (tmp_path / f"{name}.truth.json").write_text(json.dumps(labels), encoding="utf-8")
        (tmp_path / f"{name}.npz").write_bytes(landmark_file(made.track))
    return tmp_path


@pytest.fixture
def command():
    app = typer.Typer()
    app.command()(validate.validate)
    return lambda *arguments: CliRunner().invoke(app, [str(argument) for argument in arguments])


def test_the_table_shows_the_count_the_ends_and_the_film_that_is_off(command, labelled):
    result = command(labelled, "--tracks", labelled)
    assert result.exit_code == 0
    assert "short: 5 of 6 repetitions, 1 missed, 0 invented" in result.stdout
    assert "right:" not in result.stdout


def test_what_is_left_out_is_said(command, labelled):
    for name, movement in (("both", None), ("rope", "juggling")):
        labels = json.loads((labelled / "right.truth.json").read_text(encoding="utf-8"))
        (labelled / f"{name}.truth.json").write_text(json.dumps(labels | {"movement": movement}))
    result = command(labelled, "--tracks", labelled)
    assert result.exit_code == 0
    assert "left out: both holds several movements" in result.stderr
    assert "left out: rope holds 'juggling', for which there is no standard" in result.stderr


def test_the_same_figures_as_json(command, labelled):
    figures = json.loads(command(labelled, "--tracks", labelled, "--json").stdout)
    assert figures["all"]["films"] == 2
    assert figures["all"]["exact"] == 1
    assert figures["all"]["end_median_frames"] < 1.0
    assert figures["by_view"]["oblique"]["missed_breaks"] == 0
    assert figures["verdicts"] is None


def test_a_folder_without_truth_is_bad_input(command, tmp_path):
    result = command(tmp_path)
    assert isinstance(result.exception, UserError)
    assert result.exception.exit_status == 3


def test_landmark_files_that_are_missing_are_named(command, labelled, tmp_path):
    nowhere = tmp_path / "nowhere"
    nowhere.mkdir()
    result = command(labelled, "--tracks", nowhere)
    assert isinstance(result.exception, UserError)
    assert "nowhere" in str(result.exception)


def test_readers_are_shown_side_by_side_with_what_they_cost(command, labelled, monkeypatch):
    from cli.commands.validate import Measured, _from_tracks

    asked = []

    def measured(films, known, audit):
        reader = audit.keywords["reader"]
        asked.append(reader)
        return Measured(_from_tracks(films, labelled, known), [], 2.0 * len(reader), 10.0)

    monkeypatch.setattr(validate, "_measured", measured)
    result = command(labelled, "--reader", "two-networks", "--reader", "mediapipe")
    assert result.exit_code == 0, result.output
    assert asked == ["two-networks", "mediapipe"]
    table = result.stdout.split("Readers side by side")[1].splitlines()
    assert [line.split()[0] for line in table[2:4]] == asked
    assert [line.split()[-1] for line in table[2:4]] == ["2.40", "1.80"]
    figures = json.loads(command(labelled, "--reader", "mediapipe", "--json").stdout)
    assert figures["processor_s_a_film_s"] == 1.8


def test_an_unknown_reader_is_told(command, labelled):
    (labelled / "right.mp4").write_bytes(b"no film")
    result = command(labelled, "--reader", "third")
    assert result.exit_code != 0
    assert "no reader 'third'" in str(result.exception)
