"""No string uses two words for one thing, and the list of strings holds what users see."""

import re
import tomllib
from pathlib import Path

import pytest

from tests.words.strings import Seen, visible_strings

TERMS = tomllib.loads((Path(__file__).parent / "terms.toml").read_text(encoding="utf-8"))["term"]


@pytest.fixture(scope="module")
def shown() -> list[Seen]:
    return visible_strings()


def test_one_word_stands_for_one_thing(shown: list[Seen]) -> None:
    wrong = [
        f"{seen.file}:{seen.line}: say '{term['use']}': {seen.text}"
        for term in TERMS
        for pattern in term["not"]
        for seen in shown
        if re.search(pattern, seen.text, re.I)
    ]
    assert wrong == []


def test_every_term_says_why_and_its_own_word_is_in_use(shown: list[Seen]) -> None:
    said = " ".join(seen.text.lower() for seen in shown)
    for term in TERMS:
        assert term["why"].endswith(".")
        assert any(not re.search(pattern, term["use"], re.I) for pattern in term["not"])
    for term in TERMS[:8]:
        assert term["use"] in said


def test_the_list_holds_pages_scripts_help_and_errors_but_no_documentation(
    shown: list[Seen],
) -> None:
    texts = {seen.text for seen in shown}
    assert "Write your name first: every call carries the name of who made it." in texts
    assert any("is not a valid time; write" in text for text in texts)
    assert any(text.startswith("Explain one rep: each of its checks") for text in texts)
    assert "Before you rely on this" in texts
    assert not any(text.startswith("Summarise every set of a record") for text in texts)
    assert not any(text.startswith("SELECT") for text in texts)
