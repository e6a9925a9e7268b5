"""JSON Schema of a rule pack (the first document of its file), from the words its readers take."""

from __future__ import annotations

from typing import Any

from derate.packs.change import ALLOWED
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


# What each key is, and one value as typed. The key lists are those of the readers.
Told = dict[str, tuple[str, str]]
OF_PACK: Told = {
    "pack": ("name of the pack, that of its file", "house-rules"),
    "title": ("title, one line", "House rules of the bench"),
    "covers": ("what its rules look at, and what they do not", "capacitors and resistors of the mains input"),
    "family": ("insulation family its rules belong to", "62368-1"),
    "builds_on": ("packs it builds on", "[commercial-practice]"),
    "sources": ("sources under short names, which rules and tables cite", "{handbook: {title: House handbook}}"),
    "tables": ("tables that formulas name", "{share: {axes: {case_temperature: [25 degC, 85 degC]}, cells: [1, 0.6]}}"),
    "assumptions": ("figures taken where nobody says better", "{efficiency: {value: 0.70..0.88, bounding: both}}"),
    "rules": ("the rules", "[{rule: film-capacitor-voltage, keep: voltage <= 0.8 * rated.voltage}]"),
    "tighten": ("rules held harder: the new limit is nowhere kinder", "{bulk-capacitor-life: {guard: 0.8}}"),
    "relax": ("rules held less hard, with the reason", "{bulk-capacitor-life: {guard: 1.1, reason: replaced yearly}}"),
    "switch_off": ("rules not used, with the reason", "{plug-pin-edge: {reason: fixed wiring only}}"),
    "restate": ("rules, or `table.NAME`, with a source of their own", "{table.share: {axes: {}, cells: []}}"),
}
OF_RULE: Told = {
    "rule": ("name: plain small words with hyphens", "film-capacitor-voltage"),
    "says": ("what holds, one sentence", "A film capacitor works at four fifths of its rated voltage at most."),
    "because": ("why, one sentence", "Losses and ageing rise steeply towards the rating."),
    "hazard": ("what it is about", "overstress"),
    "severity": ("how much hangs on it", "major"),
    "about": ("kind of subject it looks at; a part when nothing is said", "part"),
    "applies": ("which subjects it looks at", "{part.kind: film capacitor}"),
    "cases": ("groups of cases it looks at", "[running, overload]"),
    "when": ("conditions of the whole supply", "{supply.protection_class: II}"),
    "keep": ("one comparison of two formulas", "voltage_peak <= 0.8 * rated.voltage"),
    "within": ("a quantity between two ends", "{quantity: frequency, from: 20 kHz, to: 150 kHz}"),
    "present": ("a fact, or a part, that has to be there", "{fact: inspection.enclosure_flame_class}"),
    "absent": ("a fact, or a part, that must not be there", "{fact: inspection.scorch_marks}"),
    "member": ("a fact that has to be one of some words", "{test.result: [held]}"),
    "count": ("a number of parts between two ends", "{part: {part.place: mains series}, at_least: 1}"),
    "any_of": ("shapes of which one has to hold", "[{keep: power <= rated.power}, {present: {fact: part.heatsink}}]"),
    "agree": (
        "a measured fact against its mark, within both tolerances",
        "{measured: found.capacitance, marked: part.capacitance}",
    ),
    "record": ("facts that have to be written down, and what they show", "{fields: [plate.marks]}"),
    "holds_over": ("whether the ends of the tolerance have to hold, or the nominal", "tolerance"),
    "guard": ("a share of the limit, or a difference, from which a pass is marginal", "0.9"),
    "at_least_one": ("what is missing where there is no subject at all", "no protective part on the mains path"),
    "remedy": ("what would cure it; braces take a figure", "fit a part rated {cure} or more"),
    "settle": ("what would settle it where it is not assessed", "read the voltage on the part"),
    "source": ("where the limit comes from: a short name of `sources`, or words", "handbook, section 3"),
    "confidence": ("how sure the limit is", "published"),
    "reason": ("why it is changed", "our products run eight hours a day"),
}
OF_TABLE: Told = {
    "axes": ("a fact each, with its points or words", "{case_temperature: [25 degC, 85 degC]}"),
    "unit": ("unit of the cells, none for plain numbers", "mm"),
    "kind": ("how it is read between points", "linear"),
    "ends": ("what holds beyond the first and the last point", "hold"),
    "cells": ("the figures, lists in lists in the order of the axes", "[1, 0.6]"),
    "confidence": ("how sure they are, one word or cell by cell", "published"),
    "says": ("what the table gives, in words", "share of the rated voltage"),
    "source": ("where they were read", "handbook, table 2"),
    "at": ("points of an axis", "[25, 85]"),
    "words": ("words of an axis", "[basic, reinforced]"),
}
OF_ASSUMPTION: Told = {
    "value": ("the figure or range", "0.70..0.88"),
    "bounding": ("which of its ends nothing real lies beyond", "both"),
    "says": ("what is assumed, in words", "efficiency of a small supply"),
    "source": ("where it comes from", "handbook, section 5"),
    "confidence": ("how sure it is", "common practice"),
}
OF_SOURCE: Told = {
    "title": ("title of the work", "House handbook"),
    "edition": ("edition or year", "2026"),
    "where": ("where it can be read", "section 3"),
}


def _told(properties: Schema, told: Told) -> Schema:
    """Every key with what it is and an example."""
    made = {}
    for key, shape in properties.items():
        says, example = told[key]
        made[key] = {"description": says[0].upper() + says[1:], **shape, "examples": [example]}
    return made


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
        **_block(_told({key: properties[key] for key in RULE_KEYS}, OF_RULE), required),
        "oneOf": [{"required": [shape]} for shape in SHAPES],
    }


def _table() -> Schema:
    rows = {"type": "array", "items": _LINE, "minItems": 1}
    axis = {
        "anyOf": [
            rows,
            _block(
                _told(
                    {
                        "at": rows,
                        "unit": _TEXT,
                        "words": rows,
                        "kind": {"enum": list(KINDS)},
                        "ends": {"enum": list(ENDS)},
                    },
                    OF_TABLE,
                )
            ),
        ]
    }
    return _block(
        _told(
            {
                "axes": {**_named(axis), "minProperties": 1},
                "unit": {"type": "string"},
                "kind": {"enum": list(KINDS)},
                "ends": {"enum": list(ENDS)},
                "cells": _ref("cells"),
                "confidence": _ref("confidences"),
                "says": _TEXT,
                "source": _TEXT,
            },
            OF_TABLE,
        ),
        ("axes", "cells", "confidence", "source"),
    )


def pack_schema() -> Schema:
    """The schema of the first document of a pack; its trials stand in a second one."""
    keys = {**_rule()["properties"], **_told({"reason": _TEXT}, OF_RULE)}
    changes = {word: {key: keys[key] for key in ALLOWED[word]} for word in ALLOWED}
    assumption = _block(
        _told(
            {
                "value": _LINE,
                "bounding": {"enum": list(BOUNDING)},
                "says": _TEXT,
                "source": _TEXT,
                "confidence": _CONFIDENCE,
            },
            OF_ASSUMPTION,
        ),
        ("value", "bounding", "says", "source", "confidence"),
    )
    source = {
        "anyOf": [_TEXT, _block(_told({"title": _TEXT, "edition": _LINE, "where": _TEXT}, OF_SOURCE), ("title",))]
    }
    needs_reason = {"required": ["reason"]}
    restated = {
        "type": "object",
        "patternProperties": {r"^table\.": _table()},
        "additionalProperties": _block(changes["restate"]),
    }
    return {
        "$schema": DIALECT,
        "title": "A derate rule pack",
        **_block(
            _told(
                {
                    "pack": {"type": "string", "pattern": _RULE_NAME},
                    "title": _TEXT,
                    "covers": _TEXT,
                    "family": {"enum": [*FAMILIES, ""]},
                    "builds_on": _one_or_more(_TEXT),
                    "sources": _named(source),
                    "tables": _named(_table()),
                    "assumptions": _named(assumption),
                    "rules": {"type": "array", "items": _rule()},
                    "tighten": _named(_block(changes["tighten"])),
                    "relax": _named({**_block(changes["relax"]), **needs_reason}),
                    "switch_off": _named({**_block(changes["switch_off"]), **needs_reason}),
                    "restate": restated,
                },
                OF_PACK,
            ),
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
            "cells": {"anyOf": [_LINE, {"type": "array", "items": _ref("cells")}]},
            "confidences": {"anyOf": [_CONFIDENCE, {"type": "array", "items": _ref("confidences")}]},
            **_SHAPES,
        },
    }
