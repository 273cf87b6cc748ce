"""Reading and writing audit records as JSON, and the JSON Schema they follow."""

import json
import math
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import msgspec

from counting.record.relations import first_contradiction
from counting.record.seal import seal_doubt
from counting.record.types import AuditRecord
from vision.files import is_folder, read_whole

MOST_RECORD_BYTES: Final = 64 * 1024**2
"""Some twenty times what three hours of film need."""


class RecordError(ValueError):
    """A file that is no audit record of a known version."""


def name_as_text(name: str) -> str:
    """Write a file's name as a record holds it: what is no UTF-8 is escaped byte by byte."""
    return os.fsencode(name).decode("utf-8", "backslashreplace")


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


@dataclass(frozen=True, slots=True)
class ReadRecord:
    """A record as it was read.

    Attributes
    ----------
    record
        The record.
    doubt
        What speaks against its being what an audit wrote, as the seal tells; None where nothing
        does. Whatever is made from the record carries these words.
    """

    record: AuditRecord
    doubt: str | None


def read_record(path: Path) -> ReadRecord:
    """Read an audit record and check it whole: size, kind of file, types, relations, seal.

    ``path`` is ``audit.json`` or the folder that holds it.

    Raises
    ------
    RecordError
        The file is missing, no ordinary file, too large, no JSON, does not follow the schema or
        contradicts itself; the message names the key.
    """
    file = path / "audit.json" if is_folder(path) else path
    try:
        data = read_whole(file, MOST_RECORD_BYTES)
    except OSError as error:
        raise RecordError(f"{file}: cannot be read ({error.strerror})") from error
    record = parse_record(data, str(file))
    return ReadRecord(record, seal_doubt(json.loads(data)))


def load_record(path: Path) -> AuditRecord:
    """Read a record of which nothing is shown; see `read_record`."""
    return read_record(path).record


def parse_record(data: bytes, source: str) -> AuditRecord:
    """Parse a record from JSON; ``source`` names it in errors. Raises as `read_record`."""
    try:
        record = msgspec.json.decode(data, type=AuditRecord)
    except (msgspec.DecodeError, msgspec.ValidationError, UnicodeDecodeError) as error:
        raise RecordError(f"{source}: not an audit record of this version ({error})") from error
    except RecursionError as error:
        raise RecordError(f"{source}: not an audit record (nested too deeply)") from error
    contradiction = first_contradiction(record)
    if contradiction is not None:
        raise RecordError(f"{source}: not a whole audit record ({contradiction})")
    return record


def _refuse_non_finite(value: object, where: str) -> None:
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError(f"{where} is {value}; a missing value must be None")
    if isinstance(value, dict):
        for key, item in value.items():
            _refuse_non_finite(item, f"{where}.{key}")
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            _refuse_non_finite(item, f"{where}[{index}]")
