"""The JSON outputs: SI base units, the same bytes for the same input, an open end of a value as null.

In `low` and `near` null means no lower limit, in `far` and `high` no upper limit; a whole value or ratio that is null
was not worked out (a ratio is null, too, where it is beyond any bound). The shapes stand in `schemas.py`.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from math import isfinite
from typing import Any

from derate.judge.review import Acknowledgement, Finding, Gate, Review, Used
from derate.ledger.entry import Case, Entry, Subject
from derate.report.words import CAUTION, plain, unit_of
from derate.terms.values import Category, Curve, Known, Value
from derate.terms.words import VERDICTS

VERSION = 1


def lint_json(reviews: Iterable[Review]) -> str:
    """Reviews as JSON text, one line feed at the end."""
    return text_of({"derate": VERSION, "caution": CAUTION, "designs": [_design(review) for review in reviews]})


def stress_json(design: str, entries: Iterable[Entry], gate: Gate) -> str:
    """Rows of a ledger as JSON text. gate: what they were worked out by"""
    return text_of(
        {
            "derate": VERSION,
            "caution": CAUTION,
            "design": plain(design),
            "gate": gate_data(gate),
            "stresses": [_stress(entry) for entry in entries],
        }
    )


def text_of(data: Any) -> str:
    """Data as JSON text, one line feed at the end."""
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def _design(review: Review) -> dict[str, Any]:
    return {
        "path": plain(review.path),
        "gate": gate_data(review.gate),
        "overall": review.overall,
        "not_powered": plain(review.not_powered),
        "hazards": {
            word.hazard: {
                "overall": word.word,
                "why": plain(word.why),
                "hides": dict(word.hides),
                "minor": {"fail": word.minor_fails, "not assessed": word.minor_open},
                "critical_rules": {"gave a verdict": word.looked, "apply": word.asked},
                "blocking": sum(one.blocks for one in review.findings if one.hazard == word.hazard),
                "held_back": sum(one.known for one in review.findings if one.hazard == word.hazard),
            }
            for word in review.hazards
        },
        "counts": {verdict: review.counts.get(verdict, 0) for verdict in VERDICTS},
        "findings": [_finding(finding) for finding in review.findings],
        "unused": [
            {
                "name": plain(one.name),
                "said": plain(one.said),
                "reason": plain(one.reason),
                "fact": one.is_fact,
                "path": plain(one.place.path),
                "line": one.place.line,
                "column": one.place.column,
            }
            for one in review.unused
        ],
    }


def gate_data(gate: Gate) -> dict[str, Any]:
    """What a design was judged by as data, for every format that holds data."""
    return {
        "level": gate.level,
        "level_from": plain(gate.level_from),
        "packs": [used_data(one) for one in gate.packs],
        **({"libraries": [used_data(one) for one in gate.libraries]} if gate.libraries else {}),
        "softer": [
            {
                "kind": one.kind,
                "name": plain(one.name),
                "before": plain(one.before),
                "after": plain(one.after),
                "by": plain(one.by),
                "reason": plain(one.reason),
                "last_day": plain(one.last_day),
            }
            for one in gate.softer
        ],
    }


def used_data(one: Used) -> dict[str, Any]:
    """A pack or a library of parts as data."""
    return {"name": plain(one.name), "from": plain(one.where), "shipped": one.shipped, "sha256": one.digest}


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": plain(finding.rule),
        "hazard": finding.hazard,
        "severity": finding.severity,
        "raised": plain(finding.raised),
        "subject": subject_data(finding.subject),
        "case": case_data(finding.case),
        "verdict": finding.verdict,
        "stress": value_data(finding.stress),
        "limit": value_data(finding.limit),
        "ratio": _number(finding.ratio),
        "unit": plain(finding.unit),
        "message": plain(finding.message),
        "remedy": plain(finding.remedy),
        "does": list(finding.does),
        "withheld": finding.withheld,
        "basis": {"source": plain(finding.source), "confidence": finding.confidence},
        "missing": [plain(fact) for fact in finding.missing],
        "line": finding.place.line,
        "column": finding.place.column,
        "waiver": _acknowledgement(finding.acknowledgement),
    }


def _acknowledgement(said: Acknowledgement | None) -> dict[str, Any] | None:
    if said is None:
        return None
    return {
        "kind": said.kind,
        "reason": plain(said.reason),
        "by": plain(said.by),
        "last_day": plain(said.last_day),
        "up_to": _number(said.up_to),
        "expired": said.expired,
    }


def _stress(entry: Entry) -> dict[str, Any]:
    value = entry.value if isinstance(entry.value, Value) else None
    numbers = (None,) * 4 if value is None else value.numbers()
    row: dict[str, Any] = {
        "subject": subject_data(entry.subject),
        "quantity": plain(entry.quantity),
        "case": case_data(entry.case),
        **{name: _number(one) for name, one in zip(("low", "near", "far", "high"), numbers, strict=True)},
        "unit": unit_of(entry.quantity),
        "known_by": entry.known_by,
        "formula": plain(entry.formula),
        "source": plain(entry.source),
        "missing": [plain(fact) for fact in entry.missing] or ([plain(entry.note)] if entry.value is None else []),
    }
    if isinstance(entry.value, Category):
        one = entry.value.word is not None and entry.value.detail
        row["words"] = [plain(str(entry.value))] if one else [plain(word) for word in entry.value.members]
    elif isinstance(entry.value, Curve):
        row["points"] = [
            {"at": at, "at_unit": entry.value.condition.symbol, **(value_data(one) or {})}
            for at, one in entry.value.points
        ]
    return row


def subject_data(subject: Subject) -> dict[str, Any]:
    """A subject as data."""
    return {"kind": subject.kind, "names": [plain(name) for name in subject.names]}


def case_data(case: Case | None) -> dict[str, Any] | None:
    """A case as data; null for what holds in every case."""
    if case is None:
        return None
    return {
        "group": case.group,
        "mains": case.mains,
        "frequency": case.frequency,
        "load": plain(case.load),
        "ambient": case.ambient,
        "widened": case.widened,
        "fault": plain(case.fault),
    }


def value_data(value: Value | None) -> dict[str, float | None] | None:
    """Four numbers as data; an open end is null."""
    if value is None:
        return None
    return {name: _number(one) for name, one in zip(("low", "near", "far", "high"), value.numbers(), strict=True)}


def known_data(value: Known | None) -> dict[str, Any] | None:
    """A value or a curve over a condition as data: four numbers, or its points; null where there is no figure."""
    if isinstance(value, Curve):
        symbol = value.condition.symbol
        return {"points": [{"at": at, "at_unit": symbol, **(value_data(one) or {})} for at, one in value.points]}
    return value_data(value) if isinstance(value, Value) else None


def _number(number: float | None) -> float | None:
    return number if number is not None and isfinite(number) else None
