"""A record edited by hand is read, and everything that comes out of it says that it was edited."""

import csv
import hashlib
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from msgspec.structs import replace
from typer.testing import CliRunner

from cli.audit import run as audit_run
from cli.main import app
from cli.still import still_picture
from counting.record.files import parse_record, record_json
from counting.record.seal import EDITED, UNSEALED, sealed
from counting.record.types import AuditRecord
from tests.cli.commands.test_score_and_compare import audit

CONTENT = b"an evening at the boathouse"


def edited(folder: Path, change: Callable[[dict[str, Any]], object]) -> Path:
    """Edit a folder's record as with a text editor: the seal stays as it was."""
    file = folder / "audit.json"
    document = json.loads(file.read_text(encoding="utf-8"))
    change(document)
    file.write_text(json.dumps(document), encoding="utf-8")
    return folder


def one_more(document: dict[str, Any]) -> None:
    document["reps"][1].update(verdict="good", probability_good=1.0)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return edited(audit(tmp_path / "evening", "g?g", "gg"), one_more)


@pytest.fixture
def run() -> Callable[..., Result]:
    def ran(*arguments: object) -> Result:
        done = CliRunner().invoke(app, list(map(str, arguments)))
        assert done.exit_code == 0, done.output
        return done

    return ran


def test_the_score_is_stamped_in_every_form(run: Callable[..., Result], folder: Path) -> None:
    assert EDITED in run("score", folder).stdout
    assert json.loads(run("score", folder, "--json").stdout)["doubt"] == EDITED
    rows = list(csv.DictReader(io.StringIO(run("score", folder, "--csv").stdout)))
    assert rows
    assert {row["doubt"] for row in rows} == {EDITED}


def test_the_error_stream_says_it_for_every_command(
    run: Callable[..., Result], folder: Path
) -> None:
    said = f"repwitness: {folder}: {EDITED}"
    assert said in run("score", folder, "--csv").stderr
    assert said in run("report", folder, "--no-stills").stderr
    assert said in run("explain", folder, "--rep", 1, "--no-still").stderr
    assert said in run("compare", folder, folder).stderr


def test_the_report_is_stamped(run: Callable[..., Result], folder: Path) -> None:
    run("report", folder, "--no-stills")
    html = (folder / "report.html").read_text(encoding="utf-8")
    assert "Edited by hand: the record&#39;s seal does not fit its content." in html
    before = html[: html.index('id="result"')]
    assert "Edited by hand" in before, "it stands above the result"


def test_an_explanation_begins_with_it(run: Callable[..., Result], folder: Path) -> None:
    assert run("explain", folder, "--rep", 1, "--no-still").stdout.startswith(EDITED)


def test_a_still_carries_it(attempt: AuditRecord) -> None:
    np = pytest.importorskip("numpy")
    from tests.cli.filmed import squat_track

    drawn = []
    for doubt in (None, EDITED):
        picture = np.full((640, 360, 3), 128, np.uint8)
        rep = attempt.reps[0]
        still = still_picture(picture, squat_track(), rep, rep.checks[0], doubt)
        drawn.append(still.shape[0])
    assert drawn[1] > drawn[0], "its caption has a line more"


def test_a_comparison_says_which_of_the_two(
    run: Callable[..., Result], folder: Path, tmp_path: Path
) -> None:
    other = audit(tmp_path / "other", "ggg", "gg")
    assert f"the second record is {EDITED}" in " ".join(
        run("compare", other, folder).stdout.split()
    )
    found = json.loads(run("compare", folder, other, "--json").stdout)
    assert found["warnings"][0] == f"the first record is {EDITED}"


def test_a_plan_and_its_check_name_the_film_as_edited(
    run: Callable[..., Result], folder: Path, tmp_path: Path
) -> None:
    workout = tmp_path / "next.toml"
    workout.write_text(
        'name = "Next"\nscoring = "for time"\nmissing_reps = "deducted"\ntime_cap_s = 300\n'
        '[[blocks]]\n[[blocks.stations]]\nmovement = "thruster"\nreps = 3\n'
        '[[blocks]]\n[[blocks.stations]]\nmovement = "pull-up"\nreps = 2\n',
        encoding="utf-8",
    )
    out = tmp_path / "next"
    run("plan", "--workout", workout, "--from", folder, "--out", out)
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["made_from"] == ["evening.mp4 (edited by hand)"]
    assert "evening.mp4 (edited by hand)" in (out / "card.html").read_text(encoding="utf-8")
    assert "(edited by hand)" in run("plan", "--check", folder, out).stdout
    rows = json.loads(run("plan", "--check", folder, out, "--json").stdout)
    assert {row["doubt"] for row in rows} == {EDITED}


def test_a_record_as_it_was_made_carries_no_stamp(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    whole = audit(tmp_path / "whole", "ggg", "gg")
    done = run("score", whole, "--json")
    assert done.stderr == ""
    assert "doubt" not in json.loads(done.stdout)
    assert "doubt" not in run("score", whole, "--csv").stdout
    run("report", whole, "--no-stills")
    assert 'seal-doubt" role' not in (whole / "report.html").read_text(encoding="utf-8")


def test_taking_the_seal_out_is_no_way_round_it(run: Callable[..., Result], folder: Path) -> None:
    edited(folder, lambda document: document.pop("digest"))
    assert UNSEALED in run("score", folder).stdout


def test_verify_never_ends_with_reproduced_for_an_edited_record(
    attempt: AuditRecord, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the model's digest alone edited, nothing of what was found differs."""
    film = tmp_path / attempt.film.file
    film.write_bytes(CONTENT)
    digest = hashlib.sha256(CONTENT).hexdigest()
    made = sealed(replace(attempt, film=replace(attempt.film, sha256=digest)))
    place = tmp_path / "evening.audit"
    place.mkdir()
    (place / "audit.json").write_text(record_json(made), encoding="utf-8")
    edited(place, lambda document: document["versions"].update(model_sha256="b" * 64))
    monkeypatch.setattr(audit_run, "audit_film", lambda *_: made)
    done = CliRunner().invoke(app, ["verify", str(place), str(film)])
    assert done.exit_code == 1
    assert done.stdout.splitlines()[-1].startswith("not reproduced: ")
    assert "reproduced" not in done.stdout.splitlines()[-1].removeprefix("not reproduced")
    assert parse_record((place / "audit.json").read_bytes(), "").digest == made.digest
