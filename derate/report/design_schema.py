"""JSON Schema of a design file, from its models: what editors complete and check. Imports the models."""

from __future__ import annotations

from typing import Any

from derate.design.kinds import KIND_WORDS
from derate.design.model import DesignFile
from derate.report.schema import DIALECT


def design_schema() -> dict[str, Any]:
    """The schema of a design. A part may also be one line: `film resistor 1 Mohm 5%`."""
    schema = DesignFile.model_json_schema()
    _without_defaults(schema)
    short = {"type": "string", "description": "the kind, then figures with their units"}
    parts = schema["properties"]["parts"]
    part = parts["additionalProperties"]
    shape = schema["$defs"][part["$ref"].rpartition("/")[2]] if "$ref" in part else part
    shape["properties"]["kind"]["examples"] = sorted(KIND_WORDS)
    parts["additionalProperties"] = {"anyOf": [part, short]}
    revision = {"required": ["derate", "revision_of"]}
    whole = {"required": schema.pop("required")}
    return {"$schema": DIALECT, "title": "A derate design", **schema, "anyOf": [whole, revision]}


def _without_defaults(schema: Any, names: bool = False) -> None:
    """Take out defaults and titles that only Python needs: a key that is left out means that it is not known.

    names: the keys of this mapping are names of properties, not words of the schema
    """
    if isinstance(schema, dict):
        if not names:
            schema.pop("default", None)
            schema.pop("title", None)
        for key, value in schema.items():
            _without_defaults(value, key in ("properties", "$defs") and not names)
    elif isinstance(schema, list):
        for value in schema:
            _without_defaults(value)
