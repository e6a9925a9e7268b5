"""JSON Schemas of the outputs, written by hand beside `machine.py`; tests hold real outputs to them."""

from __future__ import annotations

from typing import Any

from derate.terms.words import CONFIDENCES, EVIDENCE, HAZARDS, OVERALLS, SEVERITIES, VERDICTS

DIALECT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]


def _object(properties: Schema, says: str = "", optional: tuple[str, ...] = ()) -> Schema:
    made: Schema = {"type": "object"}
    if says:
        made["description"] = says
    made |= {
        "properties": properties,
        "required": [name for name in properties if name not in optional],
        "additionalProperties": False,
    }
    return made


def _words(words: tuple[str, ...]) -> Schema:
    return {"type": "string", "enum": list(words)}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


_TEXT: Schema = {"type": "string"}
_NUMBER: Schema = {"type": ["number", "null"]}
_COUNT: Schema = {"type": "integer", "minimum": 0}
_PLACE: Schema = {"type": "integer", "minimum": 1}
_TEXTS: Schema = {"type": "array", "items": _TEXT}
_ENDS: Schema = {
    "low": {"type": ["number", "null"], "description": "null: no lower limit"},
    "near": {"type": ["number", "null"], "description": "null: no lower limit"},
    "far": {"type": ["number", "null"], "description": "null: no upper limit"},
    "high": {"type": ["number", "null"], "description": "null: no upper limit"},
}
_VALUE = _object(
    _ENDS,
    "near to far is what is not known about this one sample, low to high adds stated tolerance; SI base units, degC",
)
_SUBJECT = _object({"kind": _TEXT, "names": _TEXTS}, "what it is about")
_CASE = _object(
    {
        "group": _TEXT,
        "mains": {"type": ["number", "null"], "description": "rms mains voltage [V]"},
        "frequency": {"type": ["number", "null"], "description": "mains frequency [Hz]"},
        "load": _TEXT,
        "ambient": {"type": ["number", "null"], "description": "site ambient [degC]"},
        "widened": {"type": "boolean", "description": "the mains voltage lies outside the plate, inside its tolerance"},
        "fault": _TEXT,
    },
    "the condition; null for what holds always",
)
_WAIVER = _object(
    {
        "kind": _words(("waiver", "open point")),
        "reason": _TEXT,
        "by": _TEXT,
        "last_day": _TEXT,
        "up_to": _NUMBER,
        "expired": {"type": "boolean"},
    },
    "a waiver or open point that attached; an expired one counts for nothing",
)
_FINDING = _object(
    {
        "rule": _TEXT,
        "hazard": _words(HAZARDS),
        "severity": _words(SEVERITIES),
        "subject": _SUBJECT,
        "case": _or_null(_CASE),
        "verdict": _words(VERDICTS),
        "stress": _or_null(_VALUE),
        "limit": _or_null(_VALUE),
        "ratio": {"type": ["number", "null"], "description": "above 1 is over; null: not worked out, or without bound"},
        "unit": {"type": "string", "description": "SI symbol of stress and limit"},
        "message": _TEXT,
        "remedy": _TEXT,
        "basis": _object({"source": _TEXT, "confidence": _words(CONFIDENCES)}),
        "missing": _TEXTS,
        "line": _PLACE,
        "column": _PLACE,
        "waiver": _or_null(_WAIVER),
    }
)
_HAZARD = _object({"overall": _words(OVERALLS), "why": _TEXT, "blocking": _COUNT, "held_back": _COUNT})
LINT: Schema = {
    "$schema": DIALECT,
    "title": "derate lint --format json",
    **_object(
        {
            "derate": {"const": 1},
            "designs": {
                "type": "array",
                "items": _object(
                    {
                        "path": _TEXT,
                        "overall": _words(OVERALLS),
                        "hazards": {
                            "type": "object",
                            "propertyNames": _words(HAZARDS),
                            "additionalProperties": _HAZARD,
                        },
                        "counts": _object(dict.fromkeys(VERDICTS, _COUNT)),
                        "findings": {"type": "array", "items": _FINDING},
                    }
                ),
            },
        }
    ),
}
STRESS: Schema = {
    "$schema": DIALECT,
    "title": "derate stress --format json",
    **_object(
        {
            "derate": {"const": 1},
            "design": _TEXT,
            "stresses": {
                "type": "array",
                "items": _object(
                    {
                        "subject": _SUBJECT,
                        "quantity": _TEXT,
                        "case": _or_null(_CASE),
                        **_ENDS,
                        "unit": _TEXT,
                        "known_by": _words(EVIDENCE),
                        "formula": _TEXT,
                        "source": _TEXT,
                        "missing": {**_TEXTS, "description": "facts that would give it, or why there is no value"},
                        "words": {**_TEXTS, "description": "of a fact in words: those still possible"},
                        "points": {
                            "type": "array",
                            "items": _object({"at": {"type": "number"}, "at_unit": _TEXT, **_ENDS}),
                            "description": "of a rating over a condition",
                        },
                    },
                    "a row whose four numbers are all null and that has missing facts is not known",
                    optional=("words", "points"),
                ),
            },
        }
    ),
}
FAULTS: Schema = {
    "$schema": DIALECT,
    "title": "derate faults --format json",
    **_object(
        {
            "derate": {"const": 1},
            "design": _TEXT,
            "faults": {
                "type": "array",
                "items": _object(
                    {
                        "fault": _TEXT,
                        "subject": _SUBJECT,
                        "case": _or_null(_CASE),
                        "current_rms": _or_null(_VALUE),
                        "current_peak": _or_null(_VALUE),
                        "i2t": _or_null(_VALUE),
                        "clears": _TEXT,
                        "opening": _words(("shown", "not shown", "nothing to open")),
                        "time": _or_null(_VALUE),
                        "note": _TEXT,
                    }
                ),
            },
        }
    ),
}
OUTPUTS = {"lint": LINT, "stress": STRESS, "faults": FAULTS}
