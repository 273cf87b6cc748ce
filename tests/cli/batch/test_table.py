import csv
import json
from dataclasses import replace
from pathlib import Path

import msgspec
from rich.console import Console

from cli.audit.request import AuditRequest
from cli.batch.films import BatchFilm
from cli.batch.table import BatchRow, by_need, print_rows, summary_document, write_tables
from counting.record.seal import EDITED
from counting.record.types import AthletePart, AuditRecord
from tests.cli.batch.fakes import record
from tests.records import continuity

REQUEST = AuditRequest(Path("a.mp4"), movement="thruster", workout=None, standards=(), out=Path())


def row(name: str, made: AuditRecord | None, error: str | None = None) -> BatchRow:
    return BatchRow(BatchFilm(name, f"/films/{name}", 1, "0"), made, error)


CLEAR = row("clear.mp4", record(REQUEST, 0))
OPEN = row("open.mp4", record(REQUEST, 3))
WIDE_OPEN = row("wide open.mp4", record(REQUEST, 7))
FAILED = row("failed.mp4", None, "no athlete in it")
SOMEBODY_ELSE = row(
    "two people.mp4",
    msgspec.structs.replace(
        record(REQUEST, 0), athlete=AthletePart(seen_share=0.5, identity_breaks_s=[61.0])
    ),
)
ROWS = [CLEAR, OPEN, FAILED, SOMEBODY_ELSE, WIDE_OPEN]


def test_failed_films_come_first_then_those_with_most_to_decide() -> None:
    assert by_need(ROWS) == [FAILED, WIDE_OPEN, OPEN, SOMEBODY_ELSE, CLEAR]


def test_each_row_says_what_to_look_at() -> None:
    assert "failed: no athlete in it" in FAILED.reasons
    assert "7 too close" in WIDE_OPEN.reasons
    assert "may be another person from 1:01.0" in SOMEBODY_ELSE.reasons
    assert "athlete visible in 50.0 % of the film" in SOMEBODY_ELSE.reasons


def test_a_film_that_may_be_cut_is_to_be_looked_at() -> None:
    doubt = continuity("may be cut at 0:12", continuous=False)
    cut = row("cut.mp4", msgspec.structs.replace(record(REQUEST, 0), continuity=doubt))
    assert "may be cut at 0:12" in cut.reasons


def test_the_table_sums_up_and_keeps_strange_names_on_one_line() -> None:
    console = Console(width=160, record=True, force_terminal=False)
    odd = replace(CLEAR, film=replace(CLEAR.film, name="[bold]\x1b[31m\nx.mp4"))
    with console.capture() as shown:
        print_rows([odd, FAILED, OPEN], console)
    lines = shown.get().splitlines()
    assert "3 films: 2 audited, 1 failed; " in lines[-1]
    assert "3 reps too close" in lines[-1]
    assert any(line.startswith("[bold]\\x1b[31m\\nx.mp4") for line in lines)


def test_the_files_hold_the_same_rows_in_the_same_order(tmp_path: Path) -> None:
    write_tables(ROWS, tmp_path)
    with (tmp_path / "films.csv").open(newline="") as lines:
        films = list(csv.DictReader(lines))
    assert [line["film"] for line in films] == [r.film.name for r in by_need(ROWS)]
    assert films[1]["too_close"] == "7"
    with (tmp_path / "failures.csv").open(newline="") as lines:
        assert [line["error"] for line in csv.DictReader(lines)] == ["no athlete in it"]
    document = json.loads(json.dumps(summary_document(ROWS)))
    assert [film["film"] for film in document["films"]] == [line["film"] for line in films]
    assert document["films"][0]["counts"] is None


def test_names_and_errors_that_a_spreadsheet_would_run_are_guarded(tmp_path: Path) -> None:
    names = ["=HYPERLINK(1).mp4", "+1.mp4", "-2.mp4", "@sum.mp4", "\t=3.mp4", "\uff1d4.mp4"]
    failed = [BatchRow(replace(FAILED.film, name=name), None, f"{name}: gone") for name in names]
    write_tables(failed, tmp_path)
    for table in ("films.csv", "failures.csv"):
        with (tmp_path / table).open(newline="", encoding="utf-8") as lines:
            cells = [cell for line in list(csv.reader(lines))[1:] for cell in line]
        assert cells
        assert [cell for cell in cells if cell[:1] and cell[0] in "=+-@\t\r\n\uff1d"] == []
    with (tmp_path / "failures.csv").open(newline="", encoding="utf-8") as lines:
        assert "'=HYPERLINK(1).mp4" in [line["film"] for line in csv.DictReader(lines)]


def test_a_record_edited_by_hand_is_to_be_looked_at(tmp_path: Path) -> None:
    edited = BatchRow(CLEAR.film, CLEAR.record, None, EDITED)
    assert edited.reasons[0] == EDITED
    write_tables([edited], tmp_path)
    assert EDITED in (tmp_path / "films.csv").read_text(encoding="utf-8")
    assert summary_document([edited])["films"][0]["to_look_at"][0] == EDITED
