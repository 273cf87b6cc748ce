"""JSON Schemas: those that the package ships, and those that its types make.

What is shipped follows from the types: where a test says that it does not, write `made_of` anew.
"""

import json
from importlib.resources import files
from typing import Any

import msgspec


def shipped_in(package: str) -> Any:
    """Read the ``schema.json`` of a package."""
    return json.loads(files(package).joinpath("schema.json").read_text(encoding="utf-8"))


def made_of(kind: type[msgspec.Struct]) -> dict[str, Any]:
    """Make the schema of a type."""
    document: dict[str, Any] = msgspec.json.schema(kind)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **document}


def without_descriptions(schema: Any) -> Any:
    """Leave descriptions out: releases differ in how they indent the docstrings they come from."""
    if isinstance(schema, dict):
        return {
            key: without_descriptions(value)
            for key, value in schema.items()
            # A property may be called so, too: that one is a schema.
            if key != "description" or isinstance(value, dict)
        }
    if isinstance(schema, list):
        return [without_descriptions(item) for item in schema]
    return schema
