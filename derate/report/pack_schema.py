"""JSON Schema of a rule pack (the first document of its file), from the words its readers take."""

from __future__ import annotations

from typing import Any

from derate.packs.pack import BOUNDING
from derate.packs.read_rule import KEYS as RULE_KEYS
from derate.packs.rule import FAMILIES, HOLDS_OVER, SHAPES
from derate.packs.table import ENDS, KINDS
from derate.report.design_schema import DIALECT
from derate.terms.cases import PACK_GROUPS
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import CONFIDENCES, HAZARDS, SEVERITIES, SUBJECT_KINDS

Schema = dict[str, Any]
_TEXT: Schema = {"type": "string", "minLength": 1}
_LINE: Schema = {"type": ["string", "number"]}  # a number without a unit is read as text too
_CONFIDENCE: Schema = {"enum": list(CONFIDENCES)}
_RULE_NAME = "^[a-z0-9]+(-[a-z0-9]+)*$"


def _block(properties: Schema, required: tuple[str, ...] = (), says: str = "") -> Schema:
    made: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    if required:
        made["required"] = list(required)
    return {"description": says, **made} if says else made


def _named(schema: Schema, says: str = "") -> Schema:
    made: Schema = {"type": "object", "additionalProperties": schema}
    return {"description": says, **made} if says else made


def _one_or_more(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "array", "items": schema}]}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


_CONDITIONS = _ref("conditions")
_FACT = _ref("fact")
_FORMULA: Schema = {**_LINE, "description": "names, numbers with units, + - * /, min, max"}
_SHAPES: dict[str, Schema] = {
    "keep": {**_TEXT, "description": "one comparison: voltage_peak <= 0.8 * rated.voltage"},
    "within": _block({"quantity": _FORMULA, "from": _FORMULA, "to": _FORMULA}, ("quantity",)),
    "present": _block({"part": _CONDITIONS, "fact": _FACT}),
    "absent": _block({"part": _CONDITIONS, "fact": _FACT}),
    "member": {"type": "object", "propertyNames": _FACT, "additionalProperties": _one_or_more(_LINE)},
    "count": _block({"part": _CONDITIONS, "of": _FORMULA, "at_least": _FORMULA, "at_most": _FORMULA}),
    "agree": _block({"measured": _FACT, "marked": _FACT}, ("measured", "marked")),
    "record": _block({"fields": _one_or_more(_FACT), "shows": _CONDITIONS}, ("fields",)),
}


def _shapes() -> dict[str, Schema]:
    inner = {
        "type": "array",
        "items": {**_block({name: _ref(name) for name in _SHAPES}), "minProperties": 1, "maxProperties": 1},
        "description": "at least one of these holds",
    }
    return {**{name: _ref(name) for name in _SHAPES}, "any_of": inner}


def _rule() -> Schema:
    shapes = _shapes()
    properties: Schema = {
        "rule": {"type": "string", "pattern": _RULE_NAME},
        "says": _TEXT,
        "because": _TEXT,
        "hazard": {"enum": list(HAZARDS)},
        "severity": {"enum": list(SEVERITIES)},
        "about": {"enum": list(SUBJECT_KINDS)},
        "applies": _CONDITIONS,
        "cases": _one_or_more({"enum": list(PACK_GROUPS)}),
        "when": _CONDITIONS,
        **shapes,
        "holds_over": {"enum": list(HOLDS_OVER)},
        "guard": {**_LINE, "description": "a share of the limit such as 0.9, or a difference such as 10 K"},
        "at_least_one": _TEXT,
        "remedy": _TEXT,
        "settle": _TEXT,
        "source": _TEXT,
        "confidence": _CONFIDENCE,
    }
    required = ("rule", "says", "because", "hazard", "severity", "source", "confidence")
    return {
        **_block({key: properties[key] for key in RULE_KEYS}, required),
        "oneOf": [{"required": [shape]} for shape in SHAPES],
    }


def _table() -> Schema:
    rows = {"type": "array", "items": _LINE, "minItems": 1}
    axis = {
        "anyOf": [
            rows,
            _block(
                {"at": rows, "unit": _TEXT, "words": rows, "kind": {"enum": list(KINDS)}, "ends": {"enum": list(ENDS)}}
            ),
        ]
    }
    cells: Schema = {"anyOf": [_LINE, {"type": "array"}]}
    return _block(
        {
            "axes": {**_named(axis), "minProperties": 1},
            "unit": {"type": "string"},
            "kind": {"enum": list(KINDS)},
            "ends": {"enum": list(ENDS)},
            "cells": cells,
            "confidence": {"anyOf": [_CONFIDENCE, {"type": "array"}]},
            "says": _TEXT,
            "source": _TEXT,
        },
        ("axes", "cells", "confidence", "source"),
    )


def pack_schema() -> Schema:
    """The schema of the first document of a pack; its trials stand in a second one."""
    change = {key: value for key, value in _rule()["properties"].items() if key not in ("rule", "says", "because")}
    change["reason"] = _TEXT
    assumption = _block(
        {
            "value": _LINE,
            "bounding": {"enum": list(BOUNDING)},
            "says": _TEXT,
            "source": _TEXT,
            "confidence": _CONFIDENCE,
        },
        ("value", "bounding", "says", "source", "confidence"),
    )
    source = {"anyOf": [_TEXT, _block({"title": _TEXT, "edition": _LINE, "where": _TEXT}, ("title",))]}
    needs_reason = {"required": ["reason"]}
    return {
        "$schema": DIALECT,
        "title": "A derate rule pack",
        **_block(
            {
                "pack": {"type": "string", "pattern": _RULE_NAME},
                "title": _TEXT,
                "covers": _TEXT,
                "family": {"enum": list(FAMILIES)},
                "builds_on": _one_or_more(_TEXT),
                "sources": _named(source),
                "tables": _named(_table()),
                "assumptions": _named(assumption),
                "rules": {"type": "array", "items": _rule()},
                "tighten": _named(_block(change), "rules held harder"),
                "relax": _named({**_block(change), **needs_reason}, "rules held less hard, with the reason"),
                "switch_off": _named(_block({"reason": _TEXT}, ("reason",)), "rules not used, with the reason"),
                "restate": {"type": "object", "description": "rules or table.NAME, with a source of their own"},
            },
            ("pack", "title", "covers"),
        ),
        "$defs": {
            "fact": {"enum": sorted(VOCABULARY)},
            "conditions": {
                "description": "fact: what it has to be",
                "type": "object",
                "propertyNames": _FACT,
                "additionalProperties": _one_or_more(_LINE),
            },
            **_SHAPES,
        },
    }
