import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cli.report.page import report_html
from counting.record.types import AuditRecord
from tests.yardstick import slowness


@pytest.fixture
def written(tmp_path: Path) -> Callable[[AuditRecord], str]:
    """Writes a report and gives its address."""

    def write(record: AuditRecord) -> str:
        path = tmp_path / "report.html"
        path.write_text(report_html(record), encoding="utf-8")
        return path.as_uri()

    return write


@pytest.mark.parametrize("width", [360, 1280])
def test_nobody_is_kept_out_in_light_or_dark_on_phone_or_desk(
    page_of: Callable[..., Any],
    barriers: Callable[..., list[str]],
    overflow: Callable[[Any], float],
    written: Callable[[AuditRecord], str],
    attempt: AuditRecord,
    width: int,
) -> None:
    page = page_of(width=width)
    page.goto(written(attempt))
    assert barriers(page, both_schemes=True) == []
    assert overflow(page) <= 0


def test_a_rep_on_the_timeline_leads_to_its_card_by_keyboard_alone(
    page_of: Callable[..., Any], written: Callable[[AuditRecord], str], attempt: AuditRecord
) -> None:
    page = page_of()
    page.goto(written(attempt))
    page.locator(".only-wide .timeline a").first.focus()
    page.keyboard.press("Enter")
    assert page.url.endswith("#rep-4")
    assert page.locator("#rep-4").is_visible()


@pytest.mark.parametrize("sets", [(8, 6, 5), (20,) * 14])
def test_the_report_prints_on_two_pages_of_a4(
    page_of: Callable[..., Any],
    written: Callable[[AuditRecord], str],
    attempt_of: Callable[..., AuditRecord],
    sets: tuple[int, ...],
) -> None:
    record = attempt_of(sets, rest_s=14.0, too_close=tuple(range(5, 40, 4)))
    page = page_of()
    page.goto(written(record))
    pdf = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 2
    size = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert size is not None
    assert [round(float(side) / 72 * 25.4) for side in size.groups()] == [210, 297]


def test_a_quarter_of_an_hour_opens_within_a_second(
    page_of: Callable[..., Any],
    written: Callable[[AuditRecord], str],
    attempt_of: Callable[..., AuditRecord],
) -> None:
    address = written(attempt_of((20,) * 17, rest_s=3.0, series_hz=30.0))
    page = page_of()
    spent_s = []
    for _ in range(3):
        page.goto("about:blank")
        begun_s = time.perf_counter()
        page.goto(address, wait_until="load")
        spent_s.append(time.perf_counter() - begun_s)
    assert min(spent_s) < 1.0 * slowness()


def test_the_finder_of_barriers_finds_one(
    page_of: Callable[..., Any], barriers: Callable[..., list[str]]
) -> None:
    page = page_of()
    page.set_content("<main><p style='color:#aaa;background:#fff'>pale</p></main>")
    assert any(found.startswith("color-contrast") for found in barriers(page))


def test_the_finder_of_barriers_finds_one_in_the_dark(
    page_of: Callable[..., Any], barriers: Callable[..., list[str]]
) -> None:
    page = page_of()
    page.set_content(
        "<style>p { color: #222; background: #fff }"
        "@media (prefers-color-scheme: dark) { p { color: #aaa } }</style><main><p>pale</p></main>"
    )
    assert not any(found.startswith("color-contrast") for found in barriers(page))
    found = barriers(page, both_schemes=True)
    assert any(one.startswith("dark: color-contrast") for one in found)
