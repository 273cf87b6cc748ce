import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from counting.record.files import read_record, record_json
from counting.record.seal import EDITED, document_digest, is_intact, seal_doubt, sealed
from counting.record.types import AuditRecord
from tests.conftest import make_attempt
from tests.records import further_film


def written(record: AuditRecord) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(record_json(record))
    return document


def test_a_sealed_record_is_intact_after_writing_and_reading(attempt: AuditRecord) -> None:
    made = sealed(attempt)
    assert is_intact(written(made)) is True
    assert made.digest == document_digest(written(attempt))


def test_a_record_of_one_film_does_not_speak_of_further_ones(attempt: AuditRecord) -> None:
    assert "second_views" not in json.loads(record_json(sealed(attempt)))
    assert attempt.further_films == []


def test_a_further_film_is_under_the_seal(attempt: AuditRecord) -> None:
    view = further_film(attempt)
    one = sealed(replace(attempt, second_views=[view]))
    assert is_intact(written(one)) is True
    moved = replace(one, second_views=[replace(view, offset_s=0.5)])
    assert is_intact(written(moved)) is False


def test_a_record_without_a_seal_says_nothing(attempt: AuditRecord) -> None:
    assert is_intact(written(attempt)) is None


def test_layout_and_order_of_keys_do_not_matter(attempt: AuditRecord) -> None:
    document = written(sealed(attempt))
    shuffled = json.dumps(dict(reversed(document.items())), indent=7)
    assert is_intact(json.loads(shuffled)) is True


def test_whole_numbers_of_seconds_keep_the_seal(attempt: AuditRecord) -> None:
    assert is_intact(written(sealed(replace(attempt, start_s=5)))) is True


def test_a_record_sealed_before_a_key_existed_is_intact(tmp_path: Path) -> None:
    """What older code wrote lacks keys that today's types fill in when the record is read."""
    document = written(make_attempt(sets=(3, 2)))
    del document["film_notes"], document["athlete"]["lost"], document["digest"]
    document["digest"] = document_digest(document)
    (tmp_path / "audit.json").write_text(json.dumps(document), encoding="utf-8")
    read = read_record(tmp_path)
    assert read.doubt is None
    assert read.record.film_notes == []


def test_a_record_that_wrote_5_where_5_0_was_sealed_is_intact(attempt: AuditRecord) -> None:
    document = written(sealed(replace(attempt, start_s=5.0)))
    document["start_s"] = 5
    assert is_intact(document) is True


def test_notes_taken_out_by_hand_are_noticed(attempt: AuditRecord) -> None:
    document = written(sealed(replace(attempt, film_notes=["dim light"])))
    del document["film_notes"]
    assert seal_doubt(document) == EDITED


def leaves(value: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    if isinstance(value, dict):
        return [p for key, item in value.items() for p in leaves(item, (*path, key))]
    if isinstance(value, list):
        return [p for index, item in enumerate(value) for p in leaves(item, (*path, index))]
    return [path]


DOCUMENT = json.loads(record_json(sealed(make_attempt(sets=(3, 2)))))
PLACES = [p for p in leaves(DOCUMENT) if p not in (("digest",), ("schema",))]


@settings(deadline=None)
@given(st.sampled_from(PLACES), st.floats(0.001, 0.9))
def test_an_edit_of_any_single_value_is_noticed(
    place: tuple[str | int, ...], change: float
) -> None:
    document = json.loads(json.dumps(DOCUMENT))
    holder = document
    for key in place[:-1]:
        holder = holder[key]
    old = holder[place[-1]]
    if isinstance(old, bool):
        holder[place[-1]] = not old
    elif isinstance(old, int):
        holder[place[-1]] = old + 1
    elif isinstance(old, float):
        holder[place[-1]] = old - change if old >= change else old + change / 10
    elif isinstance(old, str) and place[-1] in ("verdict", "kind", "relation", "unit"):
        other = {"good": "no-rep", "met": "not met", "bar down": "standing"}
        holder[place[-1]] = other.get(old, old)
        if holder[place[-1]] == old:
            return
    elif isinstance(old, str):
        holder[place[-1]] = old + "."
    else:
        return
    assert is_intact(document) is False


@pytest.mark.parametrize("digest", ["", "0" * 64, "no digest"])
def test_a_foreign_seal_is_noticed(attempt: AuditRecord, digest: str) -> None:
    assert is_intact(written(replace(attempt, digest=digest))) is False


def test_the_digest_is_of_the_content_with_sorted_keys_and_without_spaces() -> None:
    """Made here from the written record alone, as anybody can who reads the file."""
    document = written(sealed(make_attempt(sets=(2,), file="Bootshaus Übung.mp4")))
    digest = document.pop("digest")
    text = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    assert text.isascii()
    assert digest == hashlib.sha256(text.encode()).hexdigest()
