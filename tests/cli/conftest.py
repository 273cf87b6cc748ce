"""A real browser, and the checks every page must pass in it."""

import json
import os
import shutil
from collections.abc import Callable, Iterator
from importlib.resources import files
from typing import Any

import pytest

RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
OF_COLOURS = ("color-contrast", "link-in-text-block")
"""Those of the rules that look at colours; all others find in one scheme what they find in another
(axe-core's list of rules, doc/rule-descriptions.md)."""
NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whatever drives a browser is slow: it starts one."""
    for item in items:
        if "chromium" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.slow)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """The installed Chromium, without a window; the test is skipped where there is none."""
    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        pytest.skip("no Chromium is installed (Debian: apt-get install chromium)")
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with playwright.sync_playwright() as running:
        browser = running.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def page_of(chromium: Any) -> Iterator[Callable[..., Any]]:
    """A maker of pages; whatever they complain about on the console fails the test."""
    complaints: list[str] = []
    contexts = []

    def make(width: int = 1280, height: int = 800, scheme: str = "light", **options: Any) -> Any:
        context = chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, **options
        )
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda message: complaints.append(message.text) if message.type == "error" else None,
        )
        return page

    make.complaints = complaints  # type: ignore[attr-defined]
    yield make
    for context in contexts:
        context.close()
    # A connection that a busy machine drops is no fault of the page; a file it misses is (404).
    assert [text for text in complaints if "net::ERR_" not in text] == []


@pytest.fixture(scope="session")
def barriers() -> Callable[..., list[str]]:
    """A finder of what keeps people out of a page, by the axe engine's rules.

    With ``both_schemes`` a light page is turned dark and looked at by the rules of colours again.
    """
    pytest.importorskip("axe_playwright_python", reason="axe-playwright-python is not installed")
    engine = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")

    def violations(page: Any, kind: str, rules: tuple[str, ...]) -> list[str]:
        asked = json.dumps({"runOnly": {"type": kind, "values": rules}})
        found = page.evaluate(f"axe.run(document, {asked})")
        return [
            f"{item['id']}: {item['help']}: {node['target']} {node['failureSummary']}"
            for item in found["violations"]
            for node in item["nodes"]
        ]

    def find(page: Any, *, both_schemes: bool = False) -> list[str]:
        # Evaluated from outside, so that the page's own content policy stays in force.
        page.evaluate(engine)
        found = violations(page, "tag", RULES)
        if both_schemes:
            page.emulate_media(color_scheme="dark")
            found += [f"dark: {one}" for one in violations(page, "rule", OF_COLOURS)]
            page.emulate_media(color_scheme="light")
        return found

    return find


@pytest.fixture(scope="session")
def overflow() -> Callable[[Any], float]:
    """How many pixels a page is wider than its window."""
    return lambda page: page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
