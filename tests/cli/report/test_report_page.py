import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import msgspec
import pytest
import typer
from typer.testing import CliRunner

from cli.commands import report
from cli.report.page import Signature, Still, report_html
from cli.summary import to_explain
from counting.record.files import record_json
from counting.record.types import AuditRecord, ContinuityPart
from vision.continuity.types import Continuity


class Page(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.addresses: list[str] = []
        self.text: list[str] = []
        self.feed(html)

    def handle_starttag(self, _tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name == "id" and value:
                self.ids.append(value)
            if name in {"href", "src"} and value:
                self.addresses.append(value)

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_the_report_reaches_for_nothing_outside_itself(attempt: AuditRecord) -> None:
    html = report_html(attempt, {4: Still("data:image/jpeg;base64,AAAA", 420, 500)})
    for address in Page(html).addresses:
        assert address.startswith(("#", "data:"))
    assert "url(http" not in html
    assert "<script" not in html
    assert "default-src 'none'" in html


def test_no_id_stands_twice_and_every_link_has_its_target(attempt: AuditRecord) -> None:
    page = Page(report_html(attempt))
    assert len(page.ids) == len(set(page.ids))
    links = [address[1:] for address in page.addresses if address.startswith("#")]
    assert links
    assert set(links) <= set(page.ids)


def test_the_report_holds_every_flagged_rep_with_value_limit_and_interval(
    attempt: AuditRecord,
) -> None:
    html = report_html(attempt)
    cards = re.findall(r'<article class="card" id="rep-(\d+)".*?</article>', html, re.DOTALL)
    assert cards == ["4", "7", "12", "17", "18"]
    fourth = re.search(r'id="rep-4".*?</article>', html, re.DOTALL)
    assert fourth is not None
    assert "4.4 cm (2.4 to 6.4)" in fourth[0]
    assert "standard: 0 cm or less" in fourth[0]
    assert "at 0:08.2 (film 0:13.2)" in fourth[0]


def test_a_record_without_reps_still_makes_a_report(attempt_of: Callable[..., AuditRecord]) -> None:
    html = report_html(attempt_of(sets=(), no_reps=(), too_close=()))
    assert "No call is needed" in html


def test_markup_in_a_file_name_or_warning_is_shown_not_obeyed(
    attempt_of: Callable[..., AuditRecord],
) -> None:
    html = report_html(attempt_of(file="<img src=x onerror=alert(1)>.mp4"))
    assert "<img src=x" not in html
    assert "&lt;img src=x" in html


def test_a_signed_report_names_the_reviewer(attempt: AuditRecord) -> None:
    signed = report_html(
        attempt, signature=Signature("R. Osei", "25 Nov 2026, 09:10 UTC", "All seen.")
    )
    assert "Reviewed and signed off by R. Osei" in signed
    assert "signed off" not in report_html(attempt)


def test_a_quarter_of_an_hour_stays_below_three_megabytes(
    attempt_of: Callable[..., AuditRecord],
) -> None:
    record = attempt_of(sets=(20,) * 17, rest_s=3.0, series_hz=30.0, cycle_s=2.0)
    assert record.film.duration_s > 900
    assert len(report_html(record).encode()) < 3_000_000


@pytest.fixture
def run() -> Callable[..., object]:
    app = typer.Typer()
    app.command()(report.report)
    app.command("other")(lambda: None)
    return lambda *arguments: CliRunner().invoke(app, ["report", *map(str, arguments)])


def test_the_command_writes_one_file_into_the_audit(
    run: Callable[..., object], attempt: AuditRecord, tmp_path: Path
) -> None:
    (tmp_path / "audit.json").write_text(record_json(attempt), encoding="utf-8")
    result = run(tmp_path)
    assert result.exit_code == 0  # type: ignore[attr-defined]
    assert "Rep 4" in (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "is not in the audit's folder" in result.stderr  # type: ignore[attr-defined]


def test_a_folder_without_an_audit_gets_one_clear_line(
    run: Callable[..., object], tmp_path: Path
) -> None:
    result = run(tmp_path)
    error = result.exception  # type: ignore[attr-defined]
    assert "audit.json" in str(error)
    assert "repwitness audit" in str(error)


def test_what_a_film_does_not_show_and_that_it_tells_no_time_are_said(attempt: AuditRecord) -> None:
    document = Continuity((), 300, sound=True).document()
    whole = msgspec.convert(document, ContinuityPart)
    page = Page(report_html(msgspec.structs.replace(attempt, continuity=whole)))
    assert "No film shows: playing backwards" in " ".join(page.text)
    film = msgspec.structs.replace(attempt.film, times_known=False)
    untimed = report_html(msgspec.structs.replace(attempt, film=film))
    assert "film of unknown length" in untimed
    assert "positions count frames and are not times" in untimed


def test_the_same_moment_is_shown_from_every_film(attempt: AuditRecord) -> None:
    rep = to_explain(attempt)[0]
    one, other = (Still(f"data:image/jpeg;base64,{word}", 40, 30) for word in ("AAAA", "BBBB"))
    page = report_html(attempt, {rep.number: one}, second_stills={rep.number: (other,)})
    assert page.index(one.address) < page.index(other.address)
    assert "film 2" in page
    assert "film 2" not in report_html(attempt, {rep.number: one})
