"""Findings as SARIF 2.1.0, the interchange form that code hosts and editors read.

Written are the findings that somebody has to read: fails, what is not assessed, marginal ones. A finding that blocks is
an error, or a warning where nobody knows; one that does not block is a note. What was accepted in the design file is a
suppression with its reason; an expired one suppresses nothing. The fingerprint is of rule and subject, so that a
finding is the same one after its line has moved.

Source: OASIS Static Analysis Results Interchange Format 2.1.0, errata 01.
"""

from __future__ import annotations

import hashlib
import json
import os
from typing import Any
from urllib.parse import quote

from derate import __version__
from derate.judge.review import Finding
from derate.packs.rule import Rule
from derate.report.document import Document
from derate.report.lines import message
from derate.report.people import basis_words
from derate.report.plain import plain

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
BASE = "START"
_WRITTEN = ("fail", "not assessed", "marginal")


def sarif_text(document: Document) -> str:
    """The findings as SARIF text."""
    return json.dumps(sarif_data(document), indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def sarif_data(document: Document) -> dict[str, Any]:
    """The findings as a SARIF log."""
    review = document.review
    written = [one for one in review.findings if one.verdict in _WRITTEN]
    names = sorted({one.rule for one in written})
    index = {name: number for number, name in enumerate(names)}
    by_name = {name: next(one for one in written if one.rule == name) for name in names}
    run = {
        "tool": {
            "driver": {
                "name": "derate",
                "version": __version__,
                "rules": [_rule(document.packs.rule(name), by_name[name]) for name in names],
            }
        },
        "automationDetails": {"id": f"derate/{plain(review.name)[:80].replace('/', '-')}/"},
        "originalUriBaseIds": {BASE: {"description": {"text": "The folder that the paths were given from."}}},
        "artifacts": [
            {"location": _location(path), "hashes": {"sha-256": hashlib.sha256(_bytes(text)).hexdigest()}}
            for path, text in sorted(document.design.texts.items())
        ],
        "columnKind": "unicodeCodePoints",
        "invocations": [{"executionSuccessful": True}],
        "results": [_result(one, index[one.rule], document) for one in written],
        "properties": {
            "overall": review.overall,
            "day": document.day.isoformat(),
            "packs": [plain(pack) for pack in review.packs],
            "inputs": document.inputs_hash,
        },
    }
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _location(path: str) -> dict[str, str]:
    """Where a file is: below the folder of the command, or by its whole path."""
    shown = path.replace(os.sep, "/")
    address = quote(shown.encode("utf-8", "surrogateescape"), safe="/")
    return {"uri": f"file://{address}"} if os.path.isabs(path) else {"uri": address, "uriBaseId": BASE}


def _rule(rule: Rule | None, finding: Finding) -> dict[str, Any]:
    """What a rule asks; a finding that no rule made speaks for itself."""
    says = plain(rule.says) if rule is not None else plain(finding.source) or finding.rule
    made: dict[str, Any] = {"id": plain(finding.rule), "shortDescription": {"text": says}}
    if rule is not None and rule.because:
        made["fullDescription"] = {"text": plain(rule.because)}
    help_text = f"Limit from: {basis_words(finding)}."
    made["help"] = {"text": help_text}
    made["defaultConfiguration"] = {"level": "error" if finding.severity in ("critical", "major") else "note"}
    made["properties"] = {
        "hazard": finding.hazard, "severity": finding.severity, "confidence": finding.confidence,
        "pack": plain(finding.pack), "tags": [finding.hazard, finding.severity],
    }  # fmt: skip
    return made


def fingerprint(finding: Finding) -> str:
    """The same for one rule on one subject, wherever it stands and however its figures move."""
    words = [finding.rule, finding.subject.kind, *finding.subject.names]
    return hashlib.sha256(_bytes("\x1f".join(words))).hexdigest()


def _result(finding: Finding, index: int, document: Document) -> dict[str, Any]:
    said = finding.acknowledgement
    counts = said is not None and not said.expired
    if finding.blocks or counts or finding.known:  # what was accepted keeps the level it would have had
        level = "warning" if finding.verdict == "not assessed" else "error"
    else:
        level = "note"
    made: dict[str, Any] = {
        "ruleId": plain(finding.rule),
        "ruleIndex": index,
        "level": level,
        "message": {"text": f"{finding.verdict}: {message(finding)}"},
        "locations": [{"physicalLocation": _physical(finding.place.path or document.review.path, finding.place.line,
                                                     finding.place.column, document)}],
        "partialFingerprints": {"ruleAndSubject/v1": fingerprint(finding)},
        "properties": {
            "verdict": finding.verdict, "hazard": finding.hazard, "severity": finding.severity,
            "subject": plain(str(finding.subject)), "blocks": finding.blocks,
            "case": plain(str(finding.case)) if finding.case is not None else "",
        },
    }  # fmt: skip
    if said is not None and counts:
        reason = f"{said.kind} until {plain(said.last_day)} by {plain(said.by)}: {plain(said.reason)}"
        made["suppressions"] = [
            {
                "kind": "external",
                "status": "accepted",
                "justification": reason,
                "location": {
                    "physicalLocation": _physical(said.place.path or document.review.path, said.place.line,
                                                  said.place.column, document)
                },
            }
        ]  # fmt: skip
    elif finding.known:
        made["suppressions"] = [
            {"kind": "external", "status": "accepted", "justification": "recorded before as a known finding"}
        ]
    return made


def _physical(path: str, line: int, column: int, document: Document) -> dict[str, Any]:
    """A place in a file: the rest of its line, and the line itself."""
    text = document.design.texts.get(path)
    lines = text.split("\n") if text is not None else []
    region: dict[str, Any] = {"startLine": max(line, 1), "startColumn": max(column, 1)}
    if 0 < line <= len(lines):
        whole = lines[line - 1].rstrip("\r")
        region["endColumn"] = max(len(whole), column) + 1
        region["snippet"] = {"text": whole[max(column, 1) - 1 :]}
    return {"artifactLocation": _location(path), "region": region}
