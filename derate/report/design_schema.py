"""JSON Schema of a design file, from its shapes: what editors complete and check."""

from __future__ import annotations

from typing import Any

from derate.design.kinds import KIND_WORDS
from derate.design.model import DESIGN
from derate.report.schema import DIALECT


def design_schema() -> dict[str, Any]:
    """The schema of a design. A part may also be one line: `film resistor 1 Mohm 5%`."""
    schema = DESIGN.schema()
    short = {"type": "string", "description": "the kind, then figures with their units"}
    parts = schema["properties"]["parts"]
    part = parts["additionalProperties"]
    part["properties"]["kind"]["examples"] = sorted(KIND_WORDS)
    parts["additionalProperties"] = {"anyOf": [part, short]}
    revision = {"required": ["derate", "revision_of"]}
    whole = {"required": schema.pop("required")}
    return {"$schema": DIALECT, "title": "A derate design", **schema, "anyOf": [whole, revision]}
