"""The CSV beside the record."""

import csv
import io

from counting.record.tables import csv_text


def test_none_is_an_empty_cell_and_commas_are_quoted() -> None:
    text = csv_text(("a", "b"), [(1, None), ("x, y", 2.5)])
    assert list(csv.reader(io.StringIO(text))) == [["a", "b"], ["1", ""], ["x, y", "2.5"]]


def test_lines_end_as_rfc_4180_says() -> None:
    assert csv_text(("a",), [(1,)]) == "a\r\n1\r\n"


def test_text_that_a_spreadsheet_would_run_is_defused() -> None:
    text = csv_text(("name",), [("=cmd()",), ("-2",), (-2,)])
    assert text.splitlines() == ["name", "'=cmd()", "'-2", "-2"]
