"""Findings for other programs: SARIF 2.1.0 for code hosts and editors, JUnit XML for build servers."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from derate import __version__
from derate.judge.review import Finding
from derate.packs.pack import Rule
from derate.report.document import Document
from derate.report.gather import SOFTER, acknowledgement_words, basis_words, softer_lines, used_words
from derate.report.lines import NOWHERE, message, problem_words
from derate.report.machine import gate_data
from derate.report.words import CAUTION, counts_words, number_of, plain
from derate.terms.values import Problem
from derate.terms.words import ATTENTION, HEAVY

# Findings as SARIF 2.1.0, the interchange form that code hosts and editors read.
#
# Written are the findings that somebody has to read: fails, what is not assessed, marginal ones. A finding that
# blocks is an error, or a warning where nobody knows; one that does not block is a note. What was accepted in the
# design file is a suppression with its reason; an expired one suppresses nothing. The fingerprint is of rule and
# subject, so that a finding is the same one after its line has moved.
#
# Source: OASIS Static Analysis Results Interchange Format 2.1.0, errata 01.


SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
BASE = "START"


def sarif_text(*documents: Document, unread: Sequence[Problem] = ()) -> str:
    """The findings of designs as SARIF text. unread: what kept others from being read."""
    return json.dumps(sarif_data(*documents, unread=unread), indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def sarif_data(*documents: Document, unread: Sequence[Problem] = ()) -> dict[str, Any]:
    """The findings as a SARIF log, one run a design; what could not be read makes a run that did not succeed."""
    runs = [_run(one) for one in documents]
    if unread:
        runs.append(_unread(unread))
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": runs}


def _unread(problems: Sequence[Problem]) -> dict[str, Any]:
    """The run of what could not be read: each problem a notification, so that no design is silently left out."""
    told = []
    for one in problems:
        said: dict[str, Any] = {"level": "error", "message": {"text": problem_words(one)}}
        if one.place.path not in NOWHERE:
            region = {"startLine": max(one.place.line, 1), "startColumn": max(one.place.column, 1)}
            said["locations"] = [
                {"physicalLocation": {"artifactLocation": _location(one.place.path), "region": region}}
            ]
        told.append(said)
    return {
        "tool": {"driver": {"name": "derate", "version": __version__, "fullDescription": {"text": CAUTION}}},
        "automationDetails": {"id": "derate/not read/"},
        "originalUriBaseIds": {BASE: {"description": {"text": "The folder that the paths were given from."}}},
        "columnKind": "unicodeCodePoints",
        "invocations": [{"executionSuccessful": False, "toolExecutionNotifications": told}],
        "results": [],
    }


def _run(document: Document) -> dict[str, Any]:
    """The findings of one design."""
    review = document.review
    written = [one for one in review.findings if one.verdict in ATTENTION]
    names = sorted({one.rule for one in written})
    index = {name: number for number, name in enumerate(names)}
    by_name = {name: next(one for one in written if one.rule == name) for name in names}
    return {
        "tool": {
            "driver": {
                "name": "derate",
                "version": __version__,
                "fullDescription": {"text": CAUTION},
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
        "invocations": [_invocation(document)],
        "results": [_result(one, index[one.rule], document) for one in written],
        "properties": {
            "caution": CAUTION,
            "not_powered": plain(review.not_powered),
            "overall": review.overall,
            "day": document.day.isoformat(),
            "packs": [plain(pack) for pack in review.packs],
            "gate": gate_data(review.gate),
            "inputs": document.inputs_hash,
        },
    }


def _invocation(document: Document) -> dict[str, Any]:
    """The run; by what the gate is softer stands among its notifications, which readers show above the results."""
    softer = softer_lines(document.review)
    if not softer:
        return {"executionSuccessful": True}
    told = [{"level": "warning", "message": {"text": f"{SOFTER}: {line}"}} for line in softer]
    return {"executionSuccessful": True, "toolConfigurationNotifications": told}


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
    made["defaultConfiguration"] = {"level": "error" if finding.severity in HEAVY else "note"}
    made["properties"] = {
        "hazard": finding.hazard,
        "severity": finding.severity,
        "confidence": finding.confidence,
        "pack": plain(finding.pack),
        "tags": [finding.hazard, finding.severity],
    }
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
        "locations": [
            {
                "physicalLocation": _physical(
                    finding.place.path or document.review.path, finding.place.line, finding.place.column, document
                )
            }
        ],
        "partialFingerprints": {"ruleAndSubject/v1": fingerprint(finding)},
        "properties": {
            "verdict": finding.verdict,
            "does": list(finding.does),
            "withheld": finding.withheld,
            "hazard": finding.hazard,
            "severity": finding.severity,
            "subject": plain(str(finding.subject)),
            "blocks": finding.blocks,
            "case": plain(str(finding.case)) if finding.case is not None else "",
        },
    }
    if said is not None and counts:
        reason = f"{said.kind} until {plain(said.last_day)} by {plain(said.by)}: {plain(said.reason)}"
        made["suppressions"] = [
            {
                "kind": "external",
                "status": "accepted",
                "justification": reason,
                "location": {
                    "physicalLocation": _physical(
                        said.place.path or document.review.path, said.place.line, said.place.column, document
                    )
                },
            }
        ]
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


# Findings as JUnit XML, the form in which build servers show tests: one suite a design, one case a rule and subject.
#
# A fail is a failure and what is not assessed is skipped with its reason, as is a fail that somebody signed for.
# Build servers take skipped for harmless, which what nobody has looked at is not: so the suite has one case of its
# own that fails as long as anything blocks. What a rule does not apply to is no case.


_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
GATE = "nothing blocks"


UNREAD = "every design was read"


def junit_text(*documents: Document, unread: Sequence[Problem] = ()) -> str:
    """The findings of designs as XML text, one suite each. unread: what kept others from being read."""
    suites = Element("testsuites", {"name": "derate"})
    for document in documents:
        _suite(suites, document)
    if unread:
        suite = SubElement(suites, "testsuite", {"name": "derate"})
        case = SubElement(suite, "testcase", {"classname": "derate", "name": UNREAD, "time": "0"})
        for one in unread:
            SubElement(case, "error", {"type": "unread", "message": _safe(problem_words(one))})
        _counted(suite, (suite,))
    _counted(suites, suites.findall("testsuite"))
    indent(suites)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(suites, encoding="unicode") + "\n"


def _counted(element: Element, own: Sequence[Element]) -> None:
    """The counts of all cases of suites, as attributes."""
    cases = [case for suite in own for case in suite.findall("testcase")]
    element.set("tests", str(len(cases)))
    for name, kind in (("errors", "error"), ("failures", "failure"), ("skipped", "skipped")):
        element.set(name, str(sum(case.find(kind) is not None for case in cases)))
    element.set("time", "0")


def _suite(suites: Element, document: Document) -> None:
    """The suite of one design."""
    review = document.review
    cases = [one for one in review.findings if one.verdict != "not applicable"]
    suite = SubElement(suites, "testsuite", {"name": _safe(review.path), "timestamp": f"{document.day}T00:00:00"})
    properties = SubElement(suite, "properties")
    told = {f"softer {number}": f"{SOFTER}: {line}" for number, line in enumerate(softer_lines(review), 1)}
    told |= {
        "caution": CAUTION,
        "not powered": review.not_powered,
        "supply": review.name,
        "overall": review.overall,
        "counts": counts_words(review.counts),
        "derate": __version__,
        "gate": used_words(review),
        "packs": ", ".join(review.packs),
        "inputs": document.inputs_hash,
    }
    for word in review.hazards:
        told[f"hazard {word.hazard}"] = f"{word.word} ({word.why})" if word.why else word.word
    for name, value in told.items():
        SubElement(properties, "property", {"name": name, "value": _safe(value)})
    for one in cases:
        _case(suite, one)
    _gate(suite, document)
    _counted(suite, (suite,))


def _safe(text: str) -> str:
    """Text that XML can hold: what it cannot is written out by `plain`, and left out where even that leaves some."""
    return _NO_XML.sub("\ufffd", plain(text))


def _case(suite: Element, finding: Finding) -> None:
    case = SubElement(
        suite,
        "testcase",
        {"classname": f"{finding.hazard}.{_safe(finding.rule)}", "name": _safe(str(finding.subject)), "time": "0"},
    )
    said = finding.acknowledgement
    where = f"{finding.place.path or ''}:{finding.place.line}:{finding.place.column}"
    whole = _safe(f"{where}: {message(finding)}")
    if finding.verdict == "fail":
        if said is not None and not said.expired:
            SubElement(case, "skipped", {"message": _safe(f"fail, {acknowledgement_words(said)}")})
        elif finding.known:
            SubElement(case, "skipped", {"message": "fail, held back: recorded before as a known finding"})
        else:
            failure = SubElement(case, "failure", {"type": finding.severity, "message": _safe(finding.message)})
            failure.text = whole
    elif finding.verdict == "not assessed":
        SubElement(case, "skipped", {"message": _safe(f"not assessed: {finding.message}")})
    else:
        SubElement(case, "system-out").text = f"{finding.verdict}: {whole}"


def _gate(suite: Element, document: Document) -> None:
    case = SubElement(suite, "testcase", {"classname": "derate", "name": GATE, "time": "0"})
    blocking = [one for one in document.review.findings if one.blocks]
    if blocking:
        unknown = sum(one.verdict == "not assessed" for one in blocking)
        SubElement(
            case,
            "failure",
            {
                "type": "blocks",
                "message": f"{number_of(len(blocking), 'finding')} block, {unknown} of them because nobody has looked",
            },
        )
