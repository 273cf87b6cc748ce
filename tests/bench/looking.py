"""What people look at, measured: the desk, the report and the marked film.

Browser figures are wall times and want a machine that is otherwise idle; processor times stand
beside them.
"""

import multiprocessing
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import msgspec

from cli.report.page import report_html
from cli.review.log import LOG_NAME, DecisionLog, NewDecision
from counting.record.files import load_record, record_json
from counting.record.types import AuditRecord

AUDITS: Final = 500
WRITERS: Final = 4
EACH: Final = 500
BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
_SERVE: Final = (
    "import sys; from pathlib import Path; from cli.review.serving import serve;"
    "serve(Path(sys.argv[1]), '127.0.0.1', 0, [], None, lambda words: print(words, flush=True))"
)
_TIME_OF_A_CALL: Final = """async () => {
  const cell = document.querySelector('[data-mine]');
  const shown = new Promise((done) => new MutationObserver(() => requestAnimationFrame(() =>
    done(performance.now()))).observe(cell, { childList: true }));
  const pressed = performance.now();
  document.body.dispatchEvent(new KeyboardEvent('keydown', { key: 'g', bubbles: true }));
  return (await shown) - pressed;
}"""


def long_record(record: AuditRecord, minutes: float) -> AuditRecord:
    """Repeat an attempt, its sets, breaks and signal, until it lasts so long."""
    lap_s = record.film.duration_s
    laps = max(1, round(minutes * 60.0 / lap_s))
    reps, sets, breaks, times, values = [], [], [], [], []
    change = msgspec.structs.replace
    for lap in range(laps):
        late_s, first = lap * lap_s, lap * len(record.reps)
        for rep in record.reps:
            counted_s = None if rep.counted_s is None else rep.counted_s + late_s
            reps.append(
                change(
                    rep,
                    number=rep.number + first,
                    set=rep.set + lap * len(record.sets),
                    start_s=rep.start_s + late_s,
                    turn_s=rep.turn_s + late_s,
                    end_s=rep.end_s + late_s,
                    counted_s=counted_s,
                )
            )
        sets += [
            change(
                part,
                number=part.number + lap * len(record.sets),
                first_rep=part.first_rep + first,
                last_rep=part.last_rep + first,
                start_s=part.start_s + late_s,
                end_s=part.end_s + late_s,
            )
            for part in record.sets
        ]
        breaks += [
            change(
                part,
                after_set=part.after_set + lap * len(record.sets),
                start_s=part.start_s + late_s,
                end_s=part.end_s + late_s,
            )
            for part in record.breaks
        ]
        if record.series is not None:
            times += [time_s + late_s for time_s in record.series.time_s]
            values += record.series.value
    series = None if record.series is None else change(record.series, time_s=times, value=values)
    film = change(record.film, duration_s=laps * lap_s, frames=laps * record.film.frames)
    return change(record, film=film, reps=reps, sets=sets, breaks=breaks, series=series)


def desk_figures(record: AuditRecord) -> dict[str, float]:
    """Measure a desk over `AUDITS` copies of an audit: first paint, a call, the list's work.

    Returns
    -------
    dict
        Seconds by name; ``kept`` is the number of decisions of `WRITERS` at once that were kept.
    """
    figures: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for number in range(AUDITS):
            film = msgspec.structs.replace(
                record.film, file=f"heat_{number:03d}.mp4", sha256=f"{number:064x}"
            )
            audit = folder / f"heat_{number:03d}.audit"
            audit.mkdir()
            (audit / "audit.json").write_text(
                record_json(msgspec.structs.replace(record, film=film)), encoding="utf-8"
            )
        with _desk(folder) as (address, process), _browser() as browser:
            page = browser.new_page()
            page.goto(address)
            page.goto("about:blank")
            before_s = _processor_s(process)
            page.goto(address)
            figures["list_processor_s"] = _processor_s(process) - before_s
            figures["list_paint_s"] = _first_paint_s(page)
            page.locator(".attempts tbody a").first.click()
            page.locator("#reviewer").fill("R. Osei")
            page.keyboard.press("Enter")
            page.wait_for_timeout(1000)
            figures["attempt_paint_s"] = _first_paint_s(page)
            figures["call_s"] = float(page.evaluate(_TIME_OF_A_CALL)) / 1000.0
        context = multiprocessing.get_context("spawn")
        log = folder / "many" / LOG_NAME
        log.parent.mkdir()
        writers = [context.Process(target=_write, args=(log, n)) for n in range(WRITERS)]
        begun_s = time.perf_counter()
        for writer in writers:
            writer.start()
        for writer in writers:
            writer.join()
        figures["writers_s"] = time.perf_counter() - begun_s
        figures["kept"] = float(len(DecisionLog(log).decisions()))
    return figures


def report_figures(record: AuditRecord, minutes: float) -> dict[str, float]:
    """Measure the report of a long film without stills: bytes, time to open, printed pages."""
    html = report_html(long_record(record, minutes))
    figures = {"bytes": float(len(html.encode()))}
    with tempfile.TemporaryDirectory() as place, _browser() as browser:
        path = Path(place) / "report.html"
        path.write_text(html, encoding="utf-8")
        page = browser.new_page()
        page.goto("about:blank")
        begun_s = time.perf_counter()
        page.goto(path.as_uri(), wait_until="load")
        figures["open_s"] = time.perf_counter() - begun_s
        printed = page.pdf(prefer_css_page_size=True)
        figures["pages"] = float(len(re.findall(rb"/Type\s*/Page\b", printed)))
    return figures


def audit_record(folder: Path) -> AuditRecord:
    """Read the record of an audit's folder."""
    return load_record(folder / "audit.json")


def _write(log: Path, writer: int) -> None:
    opened = DecisionLog(log)
    call = NewDecision("5" * 64, 1, "thruster", 12.5, f"writer {writer}", "good", "", "")
    for index in range(EACH):
        opened.add(replace(call, rep=index + 1, request=f"writer{writer}n{index}"))


@contextmanager
def _desk(folder: Path) -> Iterator[tuple[str, int]]:
    process = subprocess.Popen(
        [sys.executable, "-c", _SERVE, str(folder)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert process.stdout is not None
    found = re.search(r"http://\S+", process.stdout.readline())
    assert found is not None
    try:
        yield found[0], process.pid
    finally:
        process.terminate()
        process.wait()
        process.stdout.close()


@contextmanager
def _browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        raise RuntimeError("no Chromium is installed (Debian: apt-get install chromium)")
    with sync_playwright() as running:
        browser = running.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


def _first_paint_s(page: Any) -> float:
    paints = "performance.getEntriesByName('first-contentful-paint')"
    for _ in range(200):
        if page.evaluate(f"{paints}.length"):
            break
        page.wait_for_timeout(20)
    return float(page.evaluate(f"{paints}[0].startTime")) / 1000.0


def _processor_s(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
