"""Every sentence as a person reads it: no holes, no infinities, nothing named that has no name."""

from __future__ import annotations

import re
from datetime import date

import pytest

from derate.packs.load import load_packs, shipped
from derate.report.lines import review_lines
from derate.report.rule_page import page_lines
from derate.report.words import plain
from derate.study.work import Workshop, review_of

PACKS = load_packs([str(path) for path in sorted(shipped("rules").glob("*.yaml"))])
DESIGNS = sorted(shipped("designs").glob("*/*.derate.yaml"))
# Kinds of sentence that nobody should have to read.
HOLES = re.compile(
    r"\{\w+\}|to …|at (?:least|most) no (?:upper|lower) limit|\bis inf\b|\bnan\b|\bon  is\b|  +is not used"
)


@pytest.mark.parametrize("rule", PACKS.rules, ids=lambda rule: rule.name)
def test_no_page_of_a_rule_has_a_hole(rule: object) -> None:
    text = " ".join(line.strip() for line in page_lines(rule, (), 100))  # type: ignore[arg-type]
    assert not HOLES.search(text), HOLES.search(text)
    cure = text.partition(" cure ")[2].partition(" to settle ")[0]
    assert "…" not in cure, cure


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.stem)
def test_no_finding_of_a_shipped_design_has_a_hole(path: object) -> None:
    review = review_of(Workshop().work(str(path)), date(2026, 11, 25))
    for line in review_lines([review], verbose=True):
        assert not HOLES.search(line), line
    for one in review.findings:
        assert not HOLES.search(plain(one.remedy)), one.remedy
