import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

import cli.audit.run
from cli.commands.batch import batch
from cli.errors import WRONG_USAGE, UserError
from tests.cli.batch.fakes import audit, begun, film


@pytest.fixture
def app(monkeypatch: pytest.MonkeyPatch) -> typer.Typer:
    monkeypatch.setattr(cli.audit.run, "audit_film", audit)
    application = typer.Typer()
    application.callback()(lambda: None)
    application.command()(batch)
    return application


@pytest.mark.slow
def test_prints_the_table_and_tells_failures_by_its_exit_status(
    tmp_path: Path, app: typer.Typer
) -> None:
    film(tmp_path / "a.mp4", "ok 2")
    film(tmp_path / "b.mp4", "bad")
    asked = ["batch", str(tmp_path), "--movement", "thruster", "--out", str(tmp_path / "out")]
    ran = CliRunner().invoke(app, asked)
    assert ran.exit_code == 3
    assert "2 films: 1 audited, 1 failed" in ran.stdout
    film(tmp_path / "b.mp4", "ok")
    ran = CliRunner().invoke(app, [*asked, "--json"])
    assert ran.exit_code == 0
    document = json.loads(ran.stdout)
    assert [film["film"] for film in document["films"]] == ["a.mp4", "b.mp4"]


def test_what_is_left_out_is_said_listed_and_in_the_document(
    tmp_path: Path, app: typer.Typer
) -> None:
    film(tmp_path / "a.mp4", "ok")
    for number in range(7):
        film(tmp_path / f"notes {number}.txt", "no film")
    out = tmp_path / "out"
    ran = CliRunner().invoke(app, ["batch", str(tmp_path), "-m", "thruster", "-o", str(out)])
    assert ran.exit_code == 0
    *named, more = ran.stderr.splitlines()
    assert [line.partition(".txt")[0] for line in named] == [
        f"left out: notes {number}" for number in range(5)
    ]
    assert more == f"left out: 2 more, see {out / 'left_out.csv'}"
    assert len((out / "left_out.csv").read_text().splitlines()) == 8
    (tmp_path / "a.begun").unlink()
    ran = CliRunner().invoke(
        app, ["batch", str(tmp_path), "-m", "thruster", "-o", str(out), "--json"]
    )
    document = json.loads(ran.stdout)
    assert [file["file"] for file in document["left_out"]] == [f"notes {n}.txt" for n in range(7)]


@pytest.mark.parametrize(
    "also",
    [
        [],
        ["--movement", "thruster", "--workout", "w.toml"],
        ["--movement", "juggling"],
        ["--movement", "wall ball", "--target", "0.6", "0.2", "0.4", "0.2"],
    ],
)
def test_a_mistake_in_the_request_is_said_once_before_any_film(
    tmp_path: Path, app: typer.Typer, also: list[str]
) -> None:
    film(tmp_path / "a.mp4", "ok")
    ran = CliRunner().invoke(app, ["batch", str(tmp_path), "--out", str(tmp_path / "o"), *also])
    assert isinstance(ran.exception, UserError)
    assert ran.exception.exit_status == WRONG_USAGE
    assert begun(tmp_path) == {}


def test_the_target_is_that_of_all_films_but_those_that_say_their_own(
    tmp_path: Path, app: typer.Typer
) -> None:
    for name in ("a.mp4", "b.mp4"):
        film(tmp_path / name, "target")
    (tmp_path / "films.txt").write_text("a.mp4\nb.mp4\ttarget=0 0.5 1 0.5\n")
    asked = ["batch", str(tmp_path / "films.txt"), "-m", "wall ball", "-o", str(tmp_path / "out")]
    ran = CliRunner().invoke(app, [*asked, "--target", "0.4", "0.2", "0.6", "0.2"])
    assert ran.exit_code == 0
    assert (tmp_path / "a.mp4.target").read_text() == "(0.4, 0.2) (0.6, 0.2)"
    assert (tmp_path / "b.mp4.target").read_text() == "(0.0, 0.5) (1.0, 0.5)"
