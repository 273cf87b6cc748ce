"""Taking every page's picture at the widths that people use, and comparing it with a kept one.

A picture is an eighth of the page's size: letters become grey, so that another release of the
browser draws the same, while places, sizes and colours stay. Pages are set in DejaVu Sans (Debian:
fonts-dejavu-core), whatever else a machine has.
"""

import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import msgspec
import numpy as np
from PIL import Image

from cli.card.page import details_page, plan_page
from cli.report.page import Signature, report_html
from counting.pacing.card.document import load_plan
from counting.record.files import record_json
from counting.record.seal import sealed
from tests.cli.filmed import filmed_audit
from tests.cli.pages.plan import PLAN
from tests.cli.review.server import Server
from tests.conftest import make_attempt
from tests.followed import followed_attempt

KEPT: Final = Path(__file__).parent / "kept"
SIZES: Final = {"390": (390, 844), "820": (820, 1180), "1280": (1280, 800), "a4": (794, 1123)}
"""A phone, a tablet, a desk, and A4 at 96 pixels an inch (CSS Values 4, 5.2: 1in = 96px)."""
PRINTED: Final = ("report", "workout", "card", "details")
_SMALLER: Final = 8
_FONT: Final = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(`* { font-family: "DejaVu Sans" !important; transition: none !important;
    animation: none !important; caret-color: transparent !important; }`);
  document.adoptedStyleSheets = [sheet];
}"""

DIFFERENT_FROM: Final = 24.0
"""Difference of a cell, of 255, from which it looks different."""
MOST_DIFFERENT: Final = 0.001
"""Share of cells that may: marks of another colour are more, and two runs on one machine differ in
none."""
HEIGHT: Final = 0.02
"""Share by which a page's height may differ."""


@contextmanager
def addresses(folder: Path) -> Iterator[dict[str, str]]:
    """Write and serve all pages below a folder; give their addresses by name."""
    evening = folder / "evening"
    for name, record in (
        ("lane_1", make_attempt(file="lane_1.mp4", sha256="1" * 64)),
        ("lane_2", followed_attempt("gg?", "gn?", file="lane_2.mp4")),
    ):
        (evening / f"{name}.audit").mkdir(parents=True)
        (evening / f"{name}.audit" / "audit.json").write_text(record_json(record), "utf-8")
    filmed_audit_to_call(folder / "filmed")
    plan = load_plan(PLAN)
    signed = Signature("R. Osei", "2026-11-25 09:10 UTC", "3 of 19 reps were called by hand.")
    pages = {
        "report": report_html(make_attempt(), signature=signed),
        "workout": report_html(followed_attempt("gg?", "gn?")),
        "card": plan_page(plan),
        "details": details_page(plan),
    }
    for name, text in pages.items():
        (folder / f"{name}.html").write_text(text, "utf-8")
    written = {name: (folder / f"{name}.html").as_uri() for name in pages}
    desks = [Server(evening), Server(folder / "filmed")]
    try:
        yield written | {
            "listing": desks[0].address,
            "agreement": f"{desks[0].address}agreement",
            "desk": desks[1].address,
        }
    finally:
        for desk in desks:
            desk.kill()


def filmed_audit_to_call(place: Path) -> None:
    """Make an audit of one rep that is too close, with its film."""
    (place / "attempt.audit").mkdir(parents=True)
    check = {"value": 1.0, "low": -1.0, "high": 3.0, "verdict": "too close"}
    folder, record = filmed_audit(place, make_attempt(), **check)
    rep = msgspec.structs.replace(record.reps[0], verdict="too close", probability_good=0.5)
    size = msgspec.structs.replace(record.film, width=360, height=640)
    record = sealed(msgspec.structs.replace(record, film=size, reps=[rep]))
    (folder / "audit.json").write_text(record_json(record), "utf-8")


def has_font(page: Any) -> bool:
    """Whether the machine has DejaVu Sans: text set in it is as wide whatever stands behind it."""
    return bool(
        page.evaluate("""() => {
      const pen = document.createElement("canvas").getContext("2d");
      const width = (font) => { pen.font = `40px ${font}`; return pen.measureText("Wim").width; };
      return width('"DejaVu Sans", monospace') === width('"DejaVu Sans", serif');
    }""")
    )


def open_page(page: Any, name: str, address: str) -> None:
    """Open a page and wait until it is at rest."""
    page.goto(address)
    if name == "desk":
        page.get_by_role("link", name="attempt.mp4").click()
        page.locator("#screen .drawn line").first.wait_for(state="attached")
        page.wait_for_load_state("networkidle")
    page.evaluate(_FONT)
    page.evaluate("document.fonts.ready.then(() => true)")


def taken(page_of: Callable[..., Any], folder: Path) -> Iterator[tuple[str, Image.Image]]:
    """Take all pictures, one after another, by name."""
    with addresses(folder) as known:
        for size, (width, height) in SIZES.items():
            for name, address in known.items():
                if size == "a4" and name not in PRINTED:
                    continue
                page = page_of(width=width, height=height)
                page.emulate_media(media="print" if size == "a4" else "screen")
                open_page(page, name, address)
                yield f"{name}-{size}", picture(page)
                page.close()


def picture(page: Any) -> Image.Image:
    """Take a picture of a whole page, an eighth of its size."""
    shot = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
    size = (-(-shot.width // _SMALLER), -(-shot.height // _SMALLER))
    return shot.resize(size, Image.Resampling.BOX)


def difference(kept: Image.Image, found: Image.Image) -> str | None:
    """Say how two pictures differ; None where nobody would see it."""
    if kept.width != found.width or abs(kept.height - found.height) > HEIGHT * kept.height + 2:
        return f"was {kept.size}, is {found.size} (eighths of pixels)"
    height = min(kept.height, found.height)
    one, other = (np.asarray(image, np.float64)[:height] for image in (kept, found))
    apart = np.abs(one - other).max(axis=2)
    share = float((apart > DIFFERENT_FROM).mean())
    if share > MOST_DIFFERENT:
        rows = np.flatnonzero((apart > DIFFERENT_FROM).any(axis=1)) * _SMALLER
        return f"{100 * share:.1f} % of it looks different, from {rows[0]} px to {rows[-1]} px"
    return None
