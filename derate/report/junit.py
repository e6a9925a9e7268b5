"""Findings as JUnit XML, the form in which build servers show tests: one suite a design, one case a rule and subject.

A fail is a failure and what is not assessed is skipped with its reason, as is a fail that somebody signed for. Build
servers take skipped for harmless, which what nobody has looked at is not: so the suite has one case of its own that
fails as long as anything blocks. What a rule does not apply to is no case.
"""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from derate import __version__
from derate.judge.review import Finding
from derate.report.document import Document
from derate.report.foot import acknowledgement_words
from derate.report.lines import message
from derate.report.plain import plain
from derate.report.words import counts_words, number_of

_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
GATE = "nothing blocks"


def junit_text(document: Document) -> str:
    """The findings as XML text."""
    review = document.review
    cases = [one for one in review.findings if one.verdict != "not applicable"]
    suites = Element("testsuites", {"name": "derate"})
    suite = SubElement(suites, "testsuite", {"name": _safe(review.path), "timestamp": f"{document.day}T00:00:00"})
    properties = SubElement(suite, "properties")
    told = {
        "supply": review.name, "overall": review.overall, "counts": counts_words(review.counts),
        "derate": __version__, "packs": ", ".join(review.packs), "inputs": document.inputs_hash,
    }  # fmt: skip
    for word in review.hazards:
        told[f"hazard {word.hazard}"] = f"{word.word} ({word.why})" if word.why else word.word
    for name, value in told.items():
        SubElement(properties, "property", {"name": name, "value": _safe(value)})
    for one in cases:
        _case(suite, one)
    _gate(suite, document)
    for element in (suites, suite):
        counts = {"tests": len(cases) + 1, "errors": 0, "failures": len(suite.findall("testcase/failure")),
                  "skipped": len(suite.findall("testcase/skipped"))}  # fmt: skip
        for name, count in counts.items():
            element.set(name, str(count))
        element.set("time", "0")
    indent(suites)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(suites, encoding="unicode") + "\n"


def _safe(text: str) -> str:
    """Text that XML can hold: what it cannot is written out by `plain`, and left out where even that leaves some."""
    return _NO_XML.sub("\ufffd", plain(text))


def _case(suite: Element, finding: Finding) -> None:
    case = SubElement(
        suite, "testcase",
        {"classname": f"{finding.hazard}.{_safe(finding.rule)}", "name": _safe(str(finding.subject)), "time": "0"},
    )  # fmt: skip
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
            case, "failure",
            {"type": "blocks", "message": f"{number_of(len(blocking), 'finding')} block, {unknown} of them because "
                                          "nobody has looked"},
        )  # fmt: skip
