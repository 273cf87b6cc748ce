"""Reading, writing and refusing audit records."""

import json
import os
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import pytest

from counting.record.files import (
    RecordError,
    load_record,
    name_as_text,
    parse_record,
    record_json,
)
from counting.record.types import AuditRecord
from tests.schemas import made_of, shipped_in, without_descriptions

BARE: dict[str, Any] = {
    "schema": "repwitness.audit/1",
    "film": {
        "file": "a.mp4",
        "sha256": "00",
        "duration_s": 1.0,
        "frames": 30,
        "width": 720,
        "height": 1280,
        "rotation_deg": 0,
        "frame_rate_mean_hz": 30.0,
        "variable_frame_rate": False,
    },
    "athlete": {"seen_share": 1.0},
    "camera": {"view_deg": None, "steady": True, "shake_px": 0.0},
    "movement": "air squat",
    "start_s": None,
    "risk": {"met_at_least": 0.95, "not_met_at_most": 0.05},
    "reps": [],
    "sets": [],
    "breaks": [],
    "pauses": [],
    "counts": {"good": 0, "no_rep": 0, "too_close": 0, "lowest": 0, "highest": 0},
    "series": None,
    "warnings": [],
    "versions": {"tool": "0", "model": "full", "model_sha256": "00", "libraries": {}},
}


def record(**changes: Any) -> AuditRecord:
    return msgspec.convert(BARE | changes, AuditRecord)


def test_the_packaged_schema_is_the_one_of_the_types() -> None:
    assert without_descriptions(shipped_in("counting.record")) == without_descriptions(
        made_of(AuditRecord)
    )


def test_a_written_record_follows_the_schema_and_reads_back_equal(tmp_path: Path) -> None:
    file = tmp_path / "audit.json"
    file.write_text(record_json(record()), encoding="utf-8")
    jsonschema.validate(msgspec.json.decode(file.read_bytes()), shipped_in("counting.record"))
    assert load_record(file) == load_record(tmp_path) == record()


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"schema": "repwitness.audit/2"}, "schema"),
        ({"counts": {"good": -1}}, "counts"),
        ({"surprise": 1}, "surprise"),
        ({"athlete": {"seen_share": 1.5}}, "seen_share"),
    ],
)
def test_what_breaks_the_schema_is_refused_with_its_key(change: dict[str, Any], named: str) -> None:
    data = msgspec.json.encode(BARE | change)
    with pytest.raises(RecordError, match=named):
        parse_record(data, "audit.json")
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(BARE | change, shipped_in("counting.record"))


@pytest.mark.parametrize("data", [b"", b"{", b"[]", b"\xff", b"[" * 100_000])
def test_what_is_no_record_is_refused_and_names_the_file(data: bytes) -> None:
    with pytest.raises(RecordError, match=r"here\.json"):
        parse_record(data, "here.json")


def test_a_missing_file_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match=r"audit\.json"):
        load_record(tmp_path)


def test_a_record_never_holds_what_is_not_a_number() -> None:
    with pytest.raises(ValueError, match="nan"):
        record_json(msgspec.structs.replace(record(), start_s=float("nan")))


def test_a_record_nested_too_deeply_is_refused() -> None:
    versions = BARE["versions"] | {"extraction": {"lane": "here"}}
    whole = msgspec.json.encode(BARE | {"versions": versions})
    deep = whole.replace(b'"here"', b"[" * 100_000)
    with pytest.raises(RecordError, match="nested too deeply"):
        parse_record(deep, "audit.json")


def test_a_record_is_laid_out_as_the_standard_library_indents(attempt: AuditRecord) -> None:
    document = msgspec.to_builtins(attempt)
    assert record_json(attempt) == json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def test_a_record_is_written_to_be_read_by_people_too() -> None:
    text = record_json(record(warnings=["Übung"]))
    assert text.startswith('{\n "schema": "repwitness.audit/1",\n "film": {\n  "file": "a.mp4",\n')
    assert text.endswith("}\n")
    assert '"Übung"' in text


@pytest.mark.parametrize("value", [float("inf"), float("-inf"), float("nan")])
def test_what_is_not_a_number_is_named_by_its_place(value: float) -> None:
    broken = record(counts=BARE["counts"] | {"distribution": [{"good": 0, "probability": 1.0}]})
    broken.counts.distribution[0] = msgspec.structs.replace(
        broken.counts.distribution[0], probability=value
    )
    with pytest.raises(ValueError, match=r"^record\.counts\.distribution\[0\]\.probability is "):
        record_json(broken)


def test_a_films_name_that_is_no_text_is_written_as_text() -> None:
    """A name is bytes to the system (POSIX.1-2017, 3.170); JSON is UTF-8 (RFC 8259, 8.1)."""
    name = os.fsdecode(b"caf\xe9 \xc3\xa9.mp4")
    made = record(film=BARE["film"] | {"file": name_as_text(name)})
    assert parse_record(record_json(made).encode("utf-8"), "").film.file == "caf\\xe9 é.mp4"
