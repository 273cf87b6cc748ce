"""Both sample workouts from the film to the sheet, against the truth that lies beside them.

The truth was measured while the films were drawn (``sample_clips/README.md``). `COMPLETE_S` holds,
for each station in order, the film time at which its last good rep was complete: the first moment
at which the drawn body has all that the movement asks for (165 degrees, chin over the bar).
"""

import csv
import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from cli.commands.demo import SAMPLE
from cli.main import app
from counting.record.files import load_record
from counting.record.scored import workout_part
from counting.record.types import AuditRecord

pytestmark = pytest.mark.slow

SAMPLES = Path(__file__).parents[2] / "sample_clips"
COMPLETE_S = {
    "boathouse_two_blocks": [11.37, 22.27, 31.50, 42.63, 71.57],
    "boathouse_until_the_bell": [13.07, 22.47, 34.93, 46.80],
}
# Worked out by hand in tests/counting/workout/test_samples.py.
TRUE_REPS = {"boathouse_two_blocks": 16, "boathouse_until_the_bell": 10}


@dataclass(frozen=True, slots=True)
class Attempt:
    """A sample film's audit with its truth."""

    name: str
    folder: Path
    record: AuditRecord
    truth: dict[str, Any]


@pytest.fixture(scope="module", params=sorted(TRUE_REPS))
def attempt(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Attempt:
    name = str(request.param)
    place = tmp_path_factory.mktemp(name)
    folder = place / f"{name}.audit"
    if name == SAMPLE:  # The demo's own audit is the one that is looked at.
        run("demo", "--out", place, "--no-desk", "--no-browser")
    else:
        film, workout = SAMPLES / f"{name}.mp4", SAMPLES / f"{name}.toml"
        run("audit", film, "--workout", workout, "--out", folder)
    truth = json.loads((SAMPLES / f"{name}.truth.json").read_text())
    return Attempt(name, folder, load_record(folder), truth)


def run(*arguments: object) -> str:
    result = CliRunner().invoke(app, [str(argument) for argument in arguments])
    assert result.exit_code == 0, result.output
    return result.stdout


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize("attempt", [SAMPLE], indirect=True)
def test_the_whole_demo_leaves_a_report_and_a_plan(attempt: Attempt) -> None:
    assert (attempt.folder / "report.html").is_file()
    assert (attempt.folder.parent / f"{SAMPLE}.plan" / "card.html").is_file()


def test_every_rep_is_found_at_its_block_round_and_station(attempt: Attempt) -> None:
    known = attempt.truth["reps"]
    assert len(attempt.record.reps) == len(known)
    for rep, true in zip(attempt.record.reps, known, strict=True):
        assert (rep.block, rep.round, rep.station) == (
            true["block"] + 1,
            true["round"] + 1,
            true["station"] + 1,
        )
        assert rep.end_s == pytest.approx(true["end"], abs=0.15)


def test_no_good_rep_is_called_a_no_rep_nor_the_other_way(attempt: Attempt) -> None:
    wrong = {(True, "good"), (False, "no-rep")}
    called = zip(attempt.record.reps, attempt.truth["reps"], strict=True)
    assert not wrong & {(true["no_rep"], rep.verdict) for rep, true in called}


def test_the_clock_starts_with_the_signal_and_the_score_holds_the_truth(attempt: Attempt) -> None:
    part = workout_part(attempt.record)
    assert part.clock.source == "start signal"
    assert part.clock.zero_s == pytest.approx(attempt.truth["start_signal_s"], abs=0.03)
    true = TRUE_REPS[attempt.name]
    assert part.score.worst.reps <= true <= part.score.best.reps
    printed = json.loads(run("score", attempt.folder, "--json"))
    assert printed["score"]["best"]["reps"] == part.score.best.reps


def test_stations_end_with_their_last_good_rep(attempt: Attempt) -> None:
    """Within a frame of rounding beside 0.15 s; of one whose end is open within the range told."""
    zero_s = workout_part(attempt.record).clock.zero_s
    stations = [
        row
        for row in rows((attempt.folder / "splits.csv").read_text())
        if row["level"] == "station"
    ]
    known = COMPLETE_S[attempt.name]
    errors = []
    for row, true_s in zip(stations, known, strict=False):
        earliest_s, latest_s = (
            float(row[name] or row["end_s"]) + zero_s for name in ("earliest_end_s", "latest_end_s")
        )
        errors.append(max(earliest_s - true_s, true_s - latest_s, 0.0))
        if row["earliest_end_s"]:
            place = tuple(int(row[name]) for name in ("block", "round", "station"))
            here = [r for r in attempt.record.reps if (r.block, r.round, r.station) == place]
            assert any(rep.verdict == "too close" for rep in here)
    assert len(errors) == len(known)
    assert sum(error <= 0.15 for error in errors) >= len(errors) - 1
    assert max(errors) <= 0.2


def test_the_csv_files_add_up_to_the_clock(attempt: Attempt) -> None:
    splits = rows((attempt.folder / "splits.csv").read_text())
    whole = next(row for row in splits if row["level"] == "workout")
    kinds = ("work_s", "pause_s", "break_s", "transition_s", "rest_s")
    parts_s = sum(float(whole[kind]) for kind in kinds)
    assert parts_s == pytest.approx(float(whole["end_s"]) - float(whole["start_s"]), abs=0.03)
    reps = rows((attempt.folder / "reps.csv").read_text())
    assert [row["verdict"] for row in reps] == [rep.verdict for rep in attempt.record.reps]
    sets = rows((attempt.folder / "sets.csv").read_text())
    assert len(sets) == len(attempt.truth["sets"])


def test_an_uncut_film_looks_continuous(attempt: Attempt) -> None:
    assert attempt.record.continuity is not None
    assert attempt.record.continuity.continuous


def test_an_attempt_beside_itself_gains_nothing(attempt: Attempt) -> None:
    found = json.loads(run("compare", attempt.folder, attempt.folder, "--json"))
    assert found["pairs"]
    assert not any(any(pair["gained_s"].values()) for pair in found["pairs"])
    assert found["only_first"] == found["only_second"] == []
