"""``repwitness standards check`` helps whoever writes a movement of their own."""

from pathlib import Path
from xml.etree import ElementTree

import pytest
from typer.testing import CliRunner

from cli.errors import UserError
from cli.main import app

STANDARDS = Path(__file__).parents[3] / "counting" / "movements" / "standards"
RUN = CliRunner()


@pytest.fixture
def own(tmp_path: Path) -> Path:
    text = (STANDARDS / "squat_clean.toml").read_text(encoding="utf-8")
    path = tmp_path / "own.toml"
    path.write_text(text.replace('name = "squat clean"', 'name = "my clean"'), encoding="utf-8")
    return path


def test_a_file_without_fault_is_told_what_is_judged_of_it(own: Path) -> None:
    done = RUN.invoke(app, ["standards", "check", str(own)])
    assert done.exit_code == 0
    assert f"{own}: no fault" in done.output
    assert "judged from front, oblique and side: depth, knees, hips" in done.output


def test_all_faults_come_with_file_and_line_and_fail_the_check(own: Path) -> None:
    text = own.read_text(encoding="utf-8").replace('base = "standing"', 'base = "up"')
    own.write_text(text.replace('unit = "cm"', 'unit = "mm"', 1), encoding="utf-8")
    done = RUN.invoke(app, ["standards", "check", str(own)])
    assert done.exit_code == 3
    lines = done.output.splitlines()
    assert len(lines) == 2
    for line, words in zip(lines, ("base is", "unit is"), strict=True):
        place, _, said = line.partition(": ")
        number = int(place.rpartition(":")[2])
        assert words in said
        assert words.split()[0] in text.splitlines()[number - 1]


def test_a_file_that_is_no_text_does_not_hide_the_others(own: Path, tmp_path: Path) -> None:
    (tmp_path / "aside.toml").write_bytes(b"\xff\xfe")
    done = RUN.invoke(app, ["standards", "check", str(tmp_path)])
    assert done.exit_code == 3
    assert "aside.toml: not UTF-8 text" in done.output
    assert f"{own}: no fault" in done.output


def test_two_files_of_one_movement_fail_the_check(own: Path, tmp_path: Path) -> None:
    (tmp_path / "other.toml").write_text(own.read_text(encoding="utf-8"), encoding="utf-8")
    done = RUN.invoke(app, ["standards", "check", str(tmp_path)])
    assert isinstance(done.exception, UserError)
    assert "other.toml" in str(done.exception)
    assert "own.toml" in str(done.exception)


def test_the_phases_are_drawn_as_a_picture(own: Path, tmp_path: Path) -> None:
    picture = tmp_path / "phases.svg"
    done = RUN.invoke(app, ["standards", "check", str(own), "--picture", str(picture)])
    assert done.exit_code == 0
    root = ElementTree.fromstring(picture.read_text(encoding="utf-8"))
    said = " ".join(element.text or "" for element in root.iter())
    assert all(name in said for name in ("floor", "bottom", "rack"))


def test_a_users_standard_is_taken_by_film_setup(own: Path) -> None:
    asked = ["film-setup", "my clean"]
    unknown = RUN.invoke(app, asked)
    assert isinstance(unknown.exception, UserError)
    done = RUN.invoke(app, [*asked, "--standards", str(own)])
    assert done.exit_code == 0
    assert "not from a film: the elbows are in front of the bar" in done.output


def test_a_users_movement_can_be_planned_by_its_own_load(own: Path, tmp_path: Path) -> None:
    workout = tmp_path / "workout.toml"
    workout.write_text(
        'name = "w"\nscoring = "for time"\nmissing_reps = "deducted"\ntime_cap_s = 600\n'
        '[[blocks]]\nrounds = 2\n[[blocks.stations]]\nmovement = "my clean"\nreps = 6\n',
        encoding="utf-8",
    )
    asked = ["plan", "--workout", str(workout), "--unbroken", "my clean=8"]
    unknown = RUN.invoke(app, asked)
    assert isinstance(unknown.exception, UserError)
    done = RUN.invoke(app, [*asked, "--standards", str(own.parent / own.name)])
    assert done.exit_code == 0, done.exception
    assert (tmp_path / "workout.plan" / "plan.json").exists()
