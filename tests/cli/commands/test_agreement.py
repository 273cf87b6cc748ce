"""``repwitness agreement`` on folders of simulated audits, decided on the desk's own log."""

import json
from pathlib import Path

import pytest
from click.testing import Result
from msgspec.structs import replace
from typer.testing import CliRunner

from cli.errors import UserError
from cli.main import app
from cli.review.log import LOG_NAME, DecisionLog, NewDecision
from counting.checks.tuning import load_tuning
from counting.record.files import record_json
from counting.record.seal import sealed
from counting.review.sheet import ReviewedSheet
from tests.counting.review.simulated import sheets


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, list(map(str, arguments)), env={"COLUMNS": "200"})


def refused(*arguments: object, words: str) -> None:
    error = run(*arguments).exception
    assert isinstance(error, UserError)
    assert words in str(error)


def written(folder: Path, reviewed: list[ReviewedSheet]) -> Path:
    """Write audits, and their calls into the log."""
    folder.mkdir(exist_ok=True)
    log = DecisionLog(folder / LOG_NAME)
    for number, sheet in enumerate(reviewed):
        own = folder / f"film_{number}.audit"
        own.mkdir()
        measured = replace(sheet.record, reps=[rep.measured for rep in sheet.reps])
        (own / "audit.json").write_text(record_json(sealed(measured)), encoding="utf-8")
        for rep in sheet.reps:
            for call in rep.calls.values():
                log.add(
                    NewDecision(
                        call.film_sha256,
                        call.rep,
                        call.movement,
                        call.turn_s,
                        call.reviewer,
                        call.call,
                        "",
                        f"{number} {call.rep}",
                    )
                )
    return folder


@pytest.fixture(scope="module")
def decided(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("boathouse")
    return written(folder, sheets(4, 6, 8, offset_cm=2.0, spread_cm=0.5))


def test_the_table_names_movement_view_and_intervals(decided: Path) -> None:
    done = run("agreement", decided)
    assert done.exit_code == 0, done.output
    assert "air squat" in done.output
    assert "side" in done.output
    assert "48" in done.output


def test_figures_as_json_are_whole(decided: Path) -> None:
    document = json.loads(run("agreement", decided, "--json").output)
    whole, one = document["compared"]
    assert whole["movement"] is None
    assert one["reps"] == sum(map(sum, one["table"])) == 48
    assert document["tuned"] is None


def test_what_is_learnt_is_written_and_read_again(decided: Path, tmp_path: Path) -> None:
    file = tmp_path / "calls.json"
    done = run("agreement", decided, "--tune", file)
    assert done.exit_code == 0, done.output
    (group,) = load_tuning(file).tuning.groups
    assert (group.movement, group.view, group.reps) == ("air squat", "side", 48)
    assert "too high" in done.output


def test_an_edited_record_teaches_nothing(tmp_path: Path) -> None:
    folder = written(tmp_path / "evening", sheets(4, 1, 8, offset_cm=0.0, spread_cm=0.5))
    file = folder / "film_0.audit" / "audit.json"
    document = json.loads(file.read_text(encoding="utf-8"))
    document["film"]["width"] += 1
    file.write_text(json.dumps(document), encoding="utf-8")
    refused("agreement", folder, words="decided no rep")


@pytest.mark.parametrize("made", [False, True])
def test_a_folder_without_calls_says_how_to_make_some(tmp_path: Path, made: bool) -> None:
    folder = tmp_path / "nowhere"
    if made:
        folder.mkdir()
    refused("agreement", folder, words="review" if made else "no such folder")


def test_too_few_calls_write_no_file(tmp_path: Path) -> None:
    folder = written(tmp_path / "evening", sheets(4, 1, 8, offset_cm=0.0, spread_cm=0.5))
    file = tmp_path / "calls.json"
    refused("agreement", folder, "--tune", file, words="30 decided reps")
    assert not file.exists()
