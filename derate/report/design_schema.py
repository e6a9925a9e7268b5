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
    parts["additionalProperties"] = {"anyOf": [parts["additionalProperties"], short]}
    kind = schema["$defs"]["Part"]["properties"]["kind"]
    kind["examples"] = sorted(KIND_WORDS)
    revision = {"required": ["derate", "revision_of"]}
    whole = {"required": schema.pop("required")}
    return {"$schema": DIALECT, "title": "A derate design", **schema, "anyOf": [whole, revision]}


def _without_defaults(schema: Any) -> None:
    """Take out defaults and titles that only Python needs; a key that is left out means that it is not known."""
    if isinstance(schema, dict):
        for word in ("default", "title"):
            if not isinstance(schema.get(word), dict) or word == "default":
                schema.pop(word, None) if "type" in schema or "anyOf" in schema or "$ref" in schema else None
        for value in schema.values():
            _without_defaults(value)
    elif isinstance(schema, list):
        for value in schema:
            _without_defaults(value)
