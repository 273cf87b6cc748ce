"""No page changes its looks unseen, and nobody is kept out of one."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.cli.pages.pictures import (
    KEPT,
    addresses,
    difference,
    has_font,
    open_page,
    picture,
    taken,
)


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    with addresses(tmp_path_factory.mktemp("pages")) as found:
        yield found


HOW = "look at it, then PYTHONPATH=tests python -m tests.cli.pages"


def test_every_page_looks_as_it_did(page_of: Callable[..., Any], tmp_path: Path) -> None:
    if not has_font(page_of()):
        pytest.skip("DejaVu Sans is not installed (Debian: apt-get install fonts-dejavu-core)")
    changed, seen = {}, set()
    for name, found in taken(page_of, tmp_path):
        seen.add(f"{name}.webp")
        file = KEPT / f"{name}.webp"
        with Image.open(file) as kept:
            words = difference(kept.convert("RGB"), found)
        if words is not None:
            changed[name] = words
            found.save(tmp_path / f"{name}.png")
    assert changed == {}, HOW
    assert seen == {file.name for file in KEPT.iterdir()}


def test_a_change_of_looks_is_a_difference(
    page_of: Callable[..., Any], known: dict[str, str]
) -> None:
    """Larger headings, another accent, a part that is gone: each alone is noticed."""
    page = page_of(width=390, height=844)
    open_page(page, "workout", known["workout"])
    before = picture(page)
    assert difference(before, picture(page)) is None
    for change in (
        "h2 { font-size: 1.6rem }",
        ":root { --good: #7a1fd1; --accent: #7a1fd1 }",
        "section.time { visibility: hidden }",
        ".timeline { padding-left: 20px }",
    ):
        open_page(page, "workout", known["workout"])
        page.evaluate(
            "(rule) => { const sheet = new CSSStyleSheet(); sheet.replaceSync(rule);"
            " document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet]; }",
            change,
        )
        assert difference(before, picture(page)) is not None, change


def test_noise_of_a_browser_is_no_difference() -> None:
    drawn = Image.new("RGB", (160, 400), (247, 245, 239))
    noise = np.random.default_rng(1).normal(0.0, 4.0, (400, 160, 3))
    noisy = Image.fromarray(np.clip(np.asarray(drawn) + noise, 0, 255).astype(np.uint8))
    assert difference(drawn, noisy) is None


@pytest.mark.parametrize("width", [390, 1280])
def test_nobody_is_kept_out_of_any_page(
    page_of: Callable[..., Any],
    barriers: Callable[..., list[str]],
    known: dict[str, str],
    width: int,
) -> None:
    for name, address in known.items():
        page = page_of(width=width, height=844)
        open_page(page, name, address)
        assert barriers(page, both_schemes=True) == [], name
        page.close()
