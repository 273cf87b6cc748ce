"""``score`` prints a judge's sheet from a record, ``compare`` lays two of them side by side."""

import csv
import io
import json
import re
from pathlib import Path

import msgspec
import pytest
import typer
from typer.testing import CliRunner

from cli.commands import compare, score
from cli.errors import BAD_INPUT, UserError
from counting.record.files import load_record, record_json
from counting.record.seal import sealed
from tests.followed import followed_attempt


def audit(folder: Path, thrusters: str, pull_ups: str, cycle_s: float = 2.0) -> Path:
    """Write the audit of an attempt; see `followed_attempt`."""
    record = followed_attempt(thrusters, pull_ups, cycle_s, file=f"{folder.name}.mp4")
    folder.mkdir()
    (folder / "audit.json").write_text(record_json(sealed(record)), encoding="utf-8")
    return folder


@pytest.fixture
def command():
    app = typer.Typer()
    app.command()(score.score)
    app.command()(compare.compare)

    def run(*arguments: str):
        return CliRunner().invoke(app, list(arguments), catch_exceptions=True)

    return run


def test_the_sheet_names_score_tie_break_and_clock(command, tmp_path):
    found = command("score", str(audit(tmp_path / "a", "ggg", "gg")))
    assert found.exit_code == 0
    # thrusters done 7 s after zero, pull-ups begin 5 s later and take 4 s
    assert "0:16.0 ± 0.1 s" in found.output
    assert "0:07.0 (end of block 1)" in found.output
    assert "clock starts at the beep, 0:05.0 of the film" in found.output


def test_no_digit_finer_than_a_tenth_of_a_second_is_printed(command, tmp_path):
    output = command("score", str(audit(tmp_path / "a", "ggg", "gg", 2.137))).output
    times = re.findall(r"\d+:\d\d[.\d]*", output)
    assert "0:16.7" in times
    assert all(len(time.rpartition(".")[2].rstrip(".")) == 1 for time in times if "." in time)


def test_an_open_call_and_a_flag_are_shown(command, tmp_path):
    output = command("score", str(audit(tmp_path / "a", "ggn", "g?"))).output
    assert "4 reps if rep 5 counts; otherwise 3 reps" in output
    assert "reps missing" in output
    assert "if it counts" in output


def test_splits_as_csv_add_up_to_the_score(command, tmp_path):
    found = command("score", str(audit(tmp_path / "a", "ggg", "gg")), "--csv")
    rows = list(csv.DictReader(io.StringIO(found.output)))
    whole = next(row for row in rows if row["level"] == "workout")
    stations = [row for row in rows if row["level"] == "station"]
    lengths = [float(row["end_s"]) - float(row["start_s"]) for row in stations]
    assert sum(lengths) == pytest.approx(16.0)
    assert float(whole["end_s"]) == 16.0


def test_the_sheet_as_json_is_the_records_own_part(command, tmp_path):
    folder = audit(tmp_path / "a", "ggg", "gg")
    found = json.loads(command("score", str(folder), "--json").output)
    written = json.loads((folder / "audit.json").read_text())
    assert found == written["workout"]


def test_a_call_that_was_changed_by_hand_changes_the_score(command, tmp_path):
    folder = audit(tmp_path / "a", "ggg", "gg")
    written = json.loads((folder / "audit.json").read_text())
    written["reps"][4] |= {"verdict": "no-rep", "probability_good": 0.0, "counted_s": None}
    (folder / "audit.json").write_text(json.dumps(written))
    assert "4 of 5 reps" in command("score", str(folder)).output


def test_an_audit_without_a_workout_is_bad_input(command, tmp_path):
    folder = audit(tmp_path / "a", "ggg", "gg")
    written = json.loads((folder / "audit.json").read_text())
    (folder / "audit.json").write_text(json.dumps(written | {"workout": None}))
    error = command("score", str(folder)).exception
    assert isinstance(error, UserError)
    assert error.exit_status == BAD_INPUT
    assert "--workout" in str(error)


def test_two_attempts_are_compared_by_cause(command, tmp_path):
    one, other = audit(tmp_path / "a", "ggg", "gg"), audit(tmp_path / "b", "gngg", "gg", 2.5)
    found = command("compare", str(one), str(other))
    assert found.exit_code == 0
    # 5 reps of 0.5 s more, a no-rep of 2.5 s more
    assert "after 5 reps the second is 5.0 ± " in found.output
    assert "behind" in found.output
    lines = {
        line.split()[0]: line.split()[-1] for line in found.output.splitlines() if line.split()
    }
    assert (lines["reps"], lines["no-reps"], lines["all"]) == ("−2.5", "−2.5", "−5.0")


def test_a_comparison_by_rep_has_a_line_for_each(command, tmp_path):
    one, other = audit(tmp_path / "a", "ggg", "gg"), audit(tmp_path / "b", "ggg", "gg")
    output = command("compare", str(one), str(other), "--reps").output
    assert "pull-up 2" in output
    assert "too close to call" in output
    found = msgspec.json.decode(command("compare", str(one), str(other), "--json").output)
    assert len(found["pairs"]) == 5


def test_attempts_without_a_rep_in_common_are_bad_input(command, tmp_path):
    one, other = audit(tmp_path / "a", "ggg", ""), audit(tmp_path / "b", "", "gg")
    error = command("compare", str(one), str(other)).exception
    assert isinstance(error, UserError)
    assert error.exit_status == BAD_INPUT


def untimed(folder: Path) -> Path:
    """Let a record's film be one that tells no time."""
    record = load_record(folder)
    film = msgspec.structs.replace(record.film, times_known=False)
    record = sealed(msgspec.structs.replace(record, film=film))
    (folder / "audit.json").write_text(record_json(record), encoding="utf-8")
    return folder


@pytest.mark.parametrize("arguments", [["score"], ["score", "--csv"], ["score", "--json"]])
def test_a_film_that_tells_no_time_has_no_score_and_no_splits(command, tmp_path, arguments):
    result = command(*arguments, str(untimed(audit(tmp_path / "one", "ggg", "gg"))))
    assert isinstance(result.exception, UserError)
    assert result.exception.exit_status == BAD_INPUT
    assert "frame times are missing or in disorder" in str(result.exception)
    assert result.stdout == ""


def test_attempts_are_not_compared_where_one_film_tells_no_time(command, tmp_path):
    first = audit(tmp_path / "one", "ggg", "gg")
    second = untimed(audit(tmp_path / "two", "ggg", "gg"))
    result = command("compare", str(first), str(second))
    assert isinstance(result.exception, UserError)
    assert str(result.exception).startswith(f"{second}: ")
    assert "nothing in it can be timed" in str(result.exception)
