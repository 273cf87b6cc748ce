"""The CSV beside the record."""

import csv
import io

from counting.record.tables import REP_COLUMNS, SET_COLUMNS, csv_text, reps_csv, sets_csv
from tests.conftest import make_attempt


def test_none_is_an_empty_cell_and_commas_are_quoted() -> None:
    text = csv_text(("a", "b"), [(1, None), ("x, y", 2.5)])
    assert list(csv.reader(io.StringIO(text))) == [["a", "b"], ["1", ""], ["x, y", "2.5"]]


def test_lines_end_as_rfc_4180_says() -> None:
    assert csv_text(("a",), [(1,)]) == "a\r\n1\r\n"


def test_text_that_a_spreadsheet_would_run_is_defused() -> None:
    text = csv_text(("name",), [("=cmd()",), ("-2",), (-2,)])
    assert text.splitlines() == ["name", "'=cmd()", "'-2", "-2"]


def test_every_rep_is_a_line_with_its_length_and_call() -> None:
    record = make_attempt(sets=(2, 1), no_reps=(2,), too_close=(3,))
    lines = list(csv.DictReader(io.StringIO(reps_csv(record))))
    assert tuple(lines[0]) == REP_COLUMNS
    assert [(line["number"], line["set"], line["verdict"]) for line in lines] == [
        ("1", "1", "good"),
        ("2", "1", "no-rep"),
        ("3", "2", "too close"),
    ]
    assert [float(line["cycle_s"]) for line in lines] == [2.0, 2.06, 2.0]
    assert lines[1]["counted_s"] == ""


def test_every_set_is_a_line_with_its_calls_and_the_break_after_it() -> None:
    record = make_attempt(sets=(3, 1), no_reps=(2,), too_close=(3,), rest_s=9.0)
    first, last = csv.DictReader(io.StringIO(sets_csv(record)))
    assert tuple(first) == SET_COLUMNS
    assert (first["good"], first["no_rep"], first["too_close"]) == ("1", "1", "1")
    assert (first["first_rep"], first["last_rep"]) == ("1", "3")
    assert (first["work_s"], first["break_after_s"], first["break_kind"]) == (
        "6.18",
        "9.0",
        "bar down",
    )
    assert (last["good"], last["break_after_s"], last["break_kind"]) == ("1", "", "")
