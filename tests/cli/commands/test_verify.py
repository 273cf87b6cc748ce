import hashlib
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from typer.testing import CliRunner

from cli.audit import run
from cli.audit.request import AuditRequest
from cli.errors import UserError
from cli.main import app
from counting.checks.table import packaged_digest
from counting.checks.tuning import Tuning, write_tuning
from counting.record.differences import record_differences
from counting.record.files import record_json
from counting.record.seal import EDITED, sealed
from counting.record.types import AuditRecord, TunedPart
from tests.records import continuity

RUN = CliRunner()
CONTENT = b"an evening at the boathouse"


@pytest.fixture
def film(tmp_path: Path) -> Path:
    path = tmp_path / "boathouse_evening.mp4"
    path.write_bytes(CONTENT)
    return path


@pytest.fixture
def made(attempt: AuditRecord) -> AuditRecord:
    digest = hashlib.sha256(CONTENT).hexdigest()
    return sealed(replace(attempt, film=replace(attempt.film, sha256=digest)))


def write(record: AuditRecord, tmp_path: Path) -> Path:
    path = tmp_path / "audit.json"
    path.write_text(record_json(record), encoding="utf-8")
    return path


def audits_to(monkeypatch: pytest.MonkeyPatch, record: AuditRecord) -> list[AuditRequest]:
    """Let the audit give ``record`` and note what it was asked for."""
    asked: list[AuditRequest] = []

    def audit(request: AuditRequest, _progress: Any) -> AuditRecord:
        asked.append(request)
        return record

    monkeypatch.setattr(run, "audit_film", audit)
    return asked


def test_the_same_result_is_reproduced(
    tmp_path: Path, film: Path, made: AuditRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = audits_to(monkeypatch, replace(made, film=replace(made.film, file="other name.mp4")))
    done = RUN.invoke(app, ["verify", str(write(made, tmp_path)), str(film)])
    assert done.exit_code == 0
    assert done.output.strip().endswith("reproduced")
    assert (asked[0].movement, asked[0].start_s) == ("thruster", 5.0)
    assert (asked[0].met_at_least, asked[0].not_met_at_most) == (0.95, 0.05)
    assert not asked[0].out.exists(), "nothing is left behind"


def test_another_verdict_is_told(
    tmp_path: Path, film: Path, made: AuditRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    reps = list(made.reps)
    reps[2] = replace(reps[2], verdict="no-rep", counted_s=None)
    audits_to(monkeypatch, replace(made, reps=reps))
    done = RUN.invoke(app, ["verify", str(write(made, tmp_path)), str(film)])
    assert done.exit_code == 1
    assert "differs: reps[2].verdict: good, now no-rep" in done.output
    assert "not reproduced: 2 values differ" in done.output


def test_an_edited_record_is_noticed_even_where_the_edit_is_small(
    tmp_path: Path, film: Path, made: AuditRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    audits_to(monkeypatch, made)
    edited = replace(made, film_notes=["all reps were seen by the head judge"])
    done = RUN.invoke(app, ["verify", str(write(edited, tmp_path)), str(film)])
    assert done.exit_code == 1
    assert EDITED in done.output


def test_other_libraries_and_their_rounding_are_told_but_reproduce(
    tmp_path: Path, film: Path, made: AuditRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    versions = replace(made.versions, libraries={"mediapipe": "9.9"})
    athlete = replace(made.athlete, seen_share=made.athlete.seen_share + 1e-9)
    audits_to(monkeypatch, replace(made, versions=versions, athlete=athlete))
    done = RUN.invoke(app, ["verify", str(write(made, tmp_path)), str(film)])
    assert done.exit_code == 0
    assert "made by other means: versions.libraries.mediapipe: 1.2.3, now 9.9" in done.output
    assert "reproduced except for rounding in 1 value" in done.output


def test_another_film_is_refused(tmp_path: Path, film: Path, made: AuditRecord) -> None:
    film.write_bytes(CONTENT + b"!")
    done = RUN.invoke(app, ["verify", str(write(made, tmp_path)), str(film)])
    assert isinstance(done.exception, UserError)
    assert done.exception.exit_status == 3
    assert "is not the film of this record" in str(done.exception)


@pytest.mark.parametrize("name", ["workout", "standards"])
def test_the_files_it_was_made_with_are_asked_for_and_checked(
    tmp_path: Path, film: Path, made: AuditRecord, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "own.toml"
    own.write_text("name = 'own'\n")
    digest = hashlib.sha256(own.read_bytes()).hexdigest()
    record = sealed(replace(made, versions=replace(made.versions, standards={name: digest})))
    path = str(write(record, tmp_path))
    asked = audits_to(monkeypatch, record)

    missing = RUN.invoke(app, ["verify", path, str(film)])
    assert f"name it with --{name}" in str(missing.exception)
    assert RUN.invoke(app, ["verify", path, str(film), f"--{name}", str(own)]).exit_code == 0
    assert getattr(asked[0], name) == (own if name == "workout" else (own,))
    own.write_text("name = 'changed'\n")
    changed = RUN.invoke(app, ["verify", path, str(film), f"--{name}", str(own)])
    assert "its content differs" in str(changed.exception)


def test_the_file_of_calls_it_was_tuned_by_is_asked_for_and_checked(
    tmp_path: Path, film: Path, made: AuditRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = tmp_path / "calls.json"
    write_tuning(Tuning(calibration=packaged_digest()), calls)
    tuned = TunedPart(sha256=hashlib.sha256(calls.read_bytes()).hexdigest(), reps=0)
    record = sealed(replace(made, versions=replace(made.versions, tuned=tuned)))
    path = str(write(record, tmp_path))
    asked = audits_to(monkeypatch, record)

    missing = RUN.invoke(app, ["verify", path, str(film)])
    assert "name it with --tuned" in str(missing.exception)
    assert RUN.invoke(app, ["verify", path, str(film), "--tuned", str(calls)]).exit_code == 0
    assert asked[0].tuned == calls
    calls.write_text(calls.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    changed = RUN.invoke(app, ["verify", path, str(film), "--tuned", str(calls)])
    assert "its content differs" in str(changed.exception)


def test_lists_of_other_length_and_new_keys_are_differences(made: AuditRecord) -> None:
    shorter = replace(
        made, reps=made.reps[:-1], continuity=continuity("looks continuous", continuous=True)
    )
    places = [difference.place for difference in record_differences(made, shorter)]
    assert places == ["number of reps", "continuity"]


def test_a_height_that_was_told_is_used_again(
    tmp_path: Path, film: Path, made: AuditRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    extraction = {**made.versions.extraction, "height_m": 1.82}
    told = sealed(replace(made, versions=replace(made.versions, extraction=extraction)))
    asked = audits_to(monkeypatch, told)
    assert RUN.invoke(app, ["verify", str(write(told, tmp_path)), str(film)]).exit_code == 0
    assert asked[0].height_m == 1.82
