"""Comparing JSON Schemas that are made from types by releases of msgspec that differ."""

from typing import Any


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
