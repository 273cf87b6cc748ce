"""Reading and writing audit records as JSON, and the JSON Schema they follow."""

import json
import math
from importlib.resources import files
from pathlib import Path
from typing import Any

import msgspec

from counting.record.types import AuditRecord


class RecordError(ValueError):
    """A file that is no audit record of a known version."""


def schema_document() -> dict[str, Any]:
    """JSON Schema of the audit record, made from the types (what ``schema.json`` holds)."""
    document: dict[str, Any] = msgspec.json.schema(AuditRecord)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **document}


def packaged_schema() -> dict[str, Any]:
    """Read the JSON Schema shipped in the package."""
    text = files("counting.record").joinpath("schema.json").read_text(encoding="utf-8")
    document: dict[str, Any] = json.loads(text)
    return document


def record_json(record: AuditRecord) -> str:
    """Serialise a record as indented JSON with a closing newline.

    Raises
    ------
    ValueError
        A number is infinite or NaN: such a value must be None in a record.
    """
    document = msgspec.to_builtins(record)
    try:
        text = json.dumps(document, ensure_ascii=False, allow_nan=False)
    except ValueError:
        _refuse_non_finite(document, "record")
        raise
    # Indenting is what keeps json from its fast encoder.
    return msgspec.json.format(text, indent=1) + "\n"


def load_record(path: Path) -> AuditRecord:
    """Read an audit record.

    ``path`` is ``audit.json`` or the folder that holds it.

    Raises
    ------
    RecordError
        The file is missing, no JSON, or does not follow the schema; the message names the key.
    """
    file = path / "audit.json" if path.is_dir() else path
    try:
        data = file.read_bytes()
    except OSError as error:
        raise RecordError(f"{file}: cannot be read ({error.strerror})") from error
    return parse_record(data, str(file))


def parse_record(data: bytes, source: str) -> AuditRecord:
    """Parse a record from JSON; ``source`` names it in errors. Raises as `load_record`."""
    try:
        return msgspec.json.decode(data, type=AuditRecord)
    except (msgspec.DecodeError, msgspec.ValidationError, UnicodeDecodeError) as error:
        raise RecordError(f"{source}: not an audit record of this version ({error})") from error
    except RecursionError as error:
        raise RecordError(f"{source}: not an audit record (nested too deeply)") from error


def _refuse_non_finite(value: object, where: str) -> None:
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(f"{where} is {value}; a missing value must be None")
    if isinstance(value, dict):
        for key, item in value.items():
            _refuse_non_finite(item, f"{where}.{key}")
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            _refuse_non_finite(item, f"{where}[{index}]")
