from pathlib import Path

import pytest
from typer.testing import CliRunner

from cli.batch.results import folder_below
from cli.derived import derived_files
from cli.main import app
from cli.review.forgetting import forget_film
from cli.review.log import DecisionLog, NewDecision
from counting.record.files import record_json
from counting.record.types import AuditRecord
from tests.cli.filmed import filmed_audit
from tests.conftest import make_attempt

RUN = CliRunner()
SHA = "5" * 64
OTHER = "6" * 64


def audit_in(folder: Path, record: AuditRecord) -> Path:
    folder.mkdir(parents=True)
    (folder / "audit.json").write_text(record_json(record), encoding="utf-8")
    for name in (
        "reps.csv",
        "sets.csv",
        "splits.csv",
        "landmarks-0123456789abcdef.npz",
        "continuity-0123456789abcdef.npz",
        "fit-0123456789abcdef0123456789abcdef.npz",
        "film-0123456789abcdef.npz",
        "report.html",
        "marked.mp4",
    ):
        (folder / name).write_bytes(b"x")
    (folder / "clips").mkdir()
    (folder / "clips" / "rep_003_no-rep.mp4").write_bytes(b"x")
    return folder


def call_on(film_sha256: str, rep: int) -> NewDecision:
    return NewDecision(film_sha256, rep, "thruster", 8.0, "Ada", "good", "", f"{film_sha256}{rep}")


def test_everything_made_from_the_film_goes_and_the_film_stays(
    tmp_path: Path, attempt: AuditRecord
) -> None:
    film = tmp_path / "boathouse_evening.mp4"
    film.write_bytes(b"film")
    folder = audit_in(tmp_path / "boathouse_evening.audit", attempt)
    done = RUN.invoke(app, ["forget", str(folder), "--yes"])
    assert done.exit_code == 0, done.output
    assert "removed 11 files of 1 audits" in done.output
    assert [p.name for p in tmp_path.iterdir()] == [film.name]


def test_files_of_the_user_are_kept_and_named(tmp_path: Path, attempt: AuditRecord) -> None:
    folder = audit_in(tmp_path / "a.audit", attempt)
    for name in ("notes.txt", "a.mp4"):
        (folder / name).write_bytes(b"mine")
    done = RUN.invoke(app, ["forget", str(folder), "--yes"])
    assert sorted(p.name for p in folder.iterdir()) == ["a.mp4", "notes.txt"]
    assert "notes.txt" in done.output


def test_calls_on_the_film_leave_the_log_and_others_stay(
    tmp_path: Path, attempt: AuditRecord
) -> None:
    folder = audit_in(tmp_path / "a.audit", attempt)
    log = DecisionLog(tmp_path / "review.sqlite")
    for rep in (1, 2):
        log.add(call_on(SHA, rep))
    log.undo(SHA, "Ada", "undo")
    log.add(call_on(OTHER, 1))
    log.sign(SHA, "Ada")
    log.sign(OTHER, "Ada")
    done = RUN.invoke(app, ["forget", str(folder), "--yes"])
    assert "3 reviewers' calls" in done.output
    again = DecisionLog(tmp_path / "review.sqlite")
    assert [d.film_sha256 for d in again.decisions()] == [OTHER]
    assert list(again.signatures()) == [OTHER]
    content = b"".join(p.read_bytes() for p in tmp_path.glob("review.sqlite*"))
    assert SHA.encode() not in content


def test_the_log_keeps_its_guards_afterwards(tmp_path: Path) -> None:
    import sqlite3

    path = tmp_path / "review.sqlite"
    log = DecisionLog(path)
    log.add(call_on(SHA, 1))
    log.add(call_on(OTHER, 1))
    assert forget_film(path, SHA) == 1
    with (
        sqlite3.connect(path) as connection,
        pytest.raises(sqlite3.IntegrityError, match="never deleted"),
    ):
        connection.execute("DELETE FROM decisions")


def test_a_batch_folder_is_forgotten_with_all_its_audits(
    tmp_path: Path, attempt: AuditRecord
) -> None:
    audit_in(tmp_path / "out" / "one.audit", attempt)
    audit_in(tmp_path / "out" / ".working" / "two.audit", make_attempt(sha256=OTHER))
    for name in ("films.csv", "failures.csv", "left_out.csv", ".lock"):
        (tmp_path / "out" / name).write_bytes(b"")
    done = RUN.invoke(app, ["forget", str(tmp_path / "out"), "--yes"])
    assert done.exit_code == 0, done.output
    assert not (tmp_path / "out").exists()


def test_what_a_killed_batch_left_is_forgotten_too(tmp_path: Path, attempt: AuditRecord) -> None:
    """A film half looked at in a folder of folders, one half replaced, and none finished."""
    out = tmp_path / "out"
    audit_in(out / ".replaced" / "old", attempt)
    half = out / ".working" / "heat" / "two.mp4.audit"
    half.mkdir(parents=True)
    (half / ".repwitness-x.part").write_bytes(b"half a landmark file")
    for name in ("failures.csv", ".lock"):
        (out / name).write_bytes(b"")
    done = RUN.invoke(app, ["forget", str(out), "--yes"])
    assert done.exit_code == 0, done.output
    assert not out.exists()


def test_tables_are_forgotten_where_a_batch_failed_whole(tmp_path: Path) -> None:
    for name in ("films.csv", "failures.csv", ".lock"):
        (tmp_path / name).write_bytes(b"")
    done = RUN.invoke(app, ["forget", str(tmp_path), "--yes"])
    assert done.exit_code == 0, done.output
    assert not tmp_path.exists()


def test_tables_that_no_batch_made_are_kept(tmp_path: Path, attempt: AuditRecord) -> None:
    audit_in(tmp_path / "one.audit", attempt)
    audit_in(tmp_path / "two.audit", attempt)
    (tmp_path / "films.csv").write_bytes(b"mine")
    RUN.invoke(app, ["forget", str(tmp_path), "--yes"])
    assert [file.name for file in tmp_path.iterdir()] == ["films.csv"]


def test_a_folder_made_for_a_film_that_was_never_begun_goes_too(
    tmp_path: Path, attempt: AuditRecord
) -> None:
    out = tmp_path / "out"
    audit_in(out / "one.audit", attempt)
    (out / ".working" / "heat" / "two.audit").mkdir(parents=True)
    assert RUN.invoke(app, ["forget", str(out), "--yes"]).exit_code == 0
    assert not out.exists()


def test_one_film_of_a_batch_leaves_its_table_too(tmp_path: Path, attempt: AuditRecord) -> None:
    out = tmp_path / "out"
    long = "x" * 250
    for name in ("heat/one", "two", "line\nbreak", "=sum"):
        audit_in(out / f"{name}.audit", attempt)
    audit_in(folder_below(out, long), attempt)
    lines = "".join(
        f"{film},3,0,0,3,3,\n" for film in ("heat/one", "two", "line\\nbreak", long, "'=sum")
    )
    heading = "film,good,no_rep,too_close,lowest,highest,to_look_at\n"
    (out / "films.csv").write_text(heading + lines, encoding="utf-8")
    (out / "heat" / "films.csv").write_text("title,year\nharbour,2001\n", encoding="utf-8")
    gone = ("heat/one.audit", "line\nbreak.audit", "=sum.audit", folder_below(out, long).name)
    for name in gone:
        done = RUN.invoke(app, ["forget", str(out / name), "--yes"])
        assert str(out / "films.csv") in done.output.replace("\n", "")
    left = (out / "films.csv").read_text(encoding="utf-8").splitlines()
    assert [line.split(",")[0] for line in left] == ["film", "two"]


def test_a_link_is_removed_but_not_what_it_points_to(tmp_path: Path, attempt: AuditRecord) -> None:
    folder = audit_in(tmp_path / "a.audit", attempt)
    elsewhere = tmp_path / "elsewhere.html"
    elsewhere.write_bytes(b"keep")
    (folder / "report.html").unlink()
    (folder / "report.html").symlink_to(elsewhere)
    RUN.invoke(app, ["forget", str(folder), "--yes"])
    assert elsewhere.read_bytes() == b"keep"
    assert not folder.exists()


def test_it_asks_first(tmp_path: Path, attempt: AuditRecord) -> None:
    folder = audit_in(tmp_path / "a.audit", attempt)
    done = RUN.invoke(app, ["forget", str(folder)], input="n\n")
    assert done.exit_code != 0
    assert (folder / "audit.json").exists()


@pytest.mark.parametrize("kind", ["missing", "file", "films only"])
def test_a_folder_without_audits_is_refused(tmp_path: Path, kind: str) -> None:
    from cli.errors import UserError

    place = tmp_path / "place"
    if kind == "file":
        place.write_bytes(b"")
    elif kind == "films only":
        place.mkdir()
        (place / "a.mp4").write_bytes(b"film")
    done = RUN.invoke(app, ["forget", str(place), "--yes"])
    assert isinstance(done.exception, UserError)
    assert str(place) in str(done.exception)


def test_what_an_audit_writes_is_what_is_forgotten(tmp_path: Path, attempt: AuditRecord) -> None:
    from cli.audit import run
    from cli.commands.report import REPORT_NAME
    from cli.marking import MARKED_NAME

    folder = audit_in(tmp_path / "a.audit", attempt)
    known = {file.name for file in derived_files(folder)}
    written = {run.RECORD_FILE, run.REPS_FILE, run.SETS_FILE, run.SPLITS_FILE}
    assert written | {MARKED_NAME, REPORT_NAME} <= known


@pytest.mark.slow
def test_all_that_commands_write_is_forgotten_wherever_it_was_written(
    tmp_path: Path, attempt: AuditRecord
) -> None:
    """Names say nothing: stills, pages and films are renamed and moved, and found by their mark."""
    folder, record = filmed_audit(tmp_path, attempt)
    film, number = tmp_path / "attempt.mp4", str(record.reps[0].number)
    elsewhere = tmp_path / "elsewhere"
    for command in (
        ["explain", str(folder), "--rep", number],
        ["explain", str(folder), "--rep", number, "--out", str(elsewhere / "bottom.png")],
        ["report", str(folder)],
        ["report", str(folder), "--out", str(elsewhere / "to send.html")],
        ["mark", str(film), str(folder)],
        ["mark", str(film), str(folder), "--clip", number, "--out", str(elsewhere / "rep.mp4")],
    ):
        done = RUN.invoke(app, command)
        assert done.exit_code == 0, (command, done.output, done.exception)
    (folder / "sent").mkdir()
    (still,) = folder.glob("rep-*.png")
    still.rename(folder / "sent" / "me at the bottom.png")
    (folder / "marked.mp4").rename(folder / "sent" / "whole.mp4")
    (folder / "report.html").rename(folder / "evening.htm")
    (folder / "copy of audit.json").write_bytes((folder / "audit.json").read_bytes())
    for place in (folder, elsewhere):
        done = RUN.invoke(app, ["forget", str(place), "--yes"])
        assert done.exit_code == 0, (done.output, done.exception)
        assert "kept" not in done.output
    assert list(tmp_path.iterdir()) == [film]


def test_a_plan_elsewhere_is_known_by_its_marks_and_the_users_files_beside_it_stay(
    tmp_path: Path,
) -> None:
    workout = tmp_path / "steps.toml"
    workout.write_text(
        'name = "Boathouse steps"\nscoring = "for time"\ntime_cap_s = 300\n'
        'missing_reps = "stop the count"\n[[blocks]]\n'
        '[[blocks.stations]]\nmovement = "thruster"\nreps = 9\n'
    )
    out = tmp_path / "plan"
    done = RUN.invoke(
        app, ["plan", "--workout", str(workout), "--unbroken", "thruster=9", "--out", str(out)]
    )
    assert done.exit_code == 0, (done.output, done.exception)
    own = {"reps.csv": b"rep\n1\n", "page.html": b"<html></html>", "a.json": b'{"schema": 1}'}
    for name, content in own.items():
        (out / name).write_bytes(content)
    done = RUN.invoke(app, ["forget", str(out), "--yes"])
    assert done.exit_code == 0, (done.output, done.exception)
    assert {path.name for path in out.iterdir()} == own.keys()
