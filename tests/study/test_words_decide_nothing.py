"""Every note, formula, source and step in words is said otherwise, and nothing that is decided changes.

Verdicts, figures, what blocks, what is missing, which findings are shown one by one, the faults and the readings that
headroom takes along: all of it hangs on fields, so a reworded sentence changes a report and no decision.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from derate.insulation import distances as lookup
from derate.insulation.distances import Found
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.report.faults import fault_screen
from derate.report.gather import groups
from derate.study.faults import design_faults
from derate.study.headroom import Walker
from derate.study.trying import Bench
from derate.study.work import Work, Workshop, review_of
from derate.terms.values import Category, Known

DESIGNS = Path(__file__).parents[2] / "designs"
PATHS = (
    "greenhouse-vent/greenhouse-vent.derate.yaml",
    "market-stall-lamp/market-stall-lamp.derate.yaml",
    "first-look/desk-lamp-adapter.derate.yaml",
)
DAY = date(2026, 11, 25)
OTHERWISE = "said otherwise"
TEXTS = ("note", "formula", "source")


def _otherwise(text: str) -> str:
    """Another text, and none where there was none: that a row gives a reason is something the reason says."""
    return OTHERWISE if text else ""


def _bare(value: Known | None) -> Known | None:
    return value._replace(detail=_otherwise(value.detail)) if isinstance(value, Category) else value


@pytest.fixture
def reworded(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """All words of rows and of table readings replaced where they are made."""
    write, copy, read = Ledger.write, Ledger.copy, lookup.read

    def written(self: Ledger, subject: Any, quantity: str, value: Known | None, **more: Any) -> Entry:
        more |= {one: _otherwise(more[one]) for one in TEXTS if one in more}
        return write(self, subject, quantity, _bare(value), **more)

    def copied(self: Ledger, entry: Entry) -> Entry:
        texts: dict[str, Any] = {one: _otherwise(getattr(entry, one)) for one in TEXTS}
        return copy(self, replace(entry, value=_bare(entry.value), **texts))

    def found(*given: Any, **words: str) -> Found:
        return read(*given, **words)._replace(words=OTHERWISE)

    monkeypatch.setattr(Ledger, "write", written)
    monkeypatch.setattr(Ledger, "copy", copied)
    for name, module in list(sys.modules.items()):
        if name.startswith("derate.insulation.") and getattr(module, "read", None) is read:
            monkeypatch.setattr(module, "read", found)
    yield


def _work(path: str) -> Work:
    return Workshop().work(str(DESIGNS / path))


def _decided(work: Work) -> dict[str, object]:
    """Everything that is decided about a design, without a word of any sentence."""
    review = review_of(work, DAY)
    rows = [(one.subject, one.quantity, one.case, one.value, one.missing, one.rests_on, one.mark) for one in
            work.ledger.entries]  # fmt: skip
    bench = Bench(work, DAY)
    faults = design_faults(work.design.structure, work.ledger, {n: a for (_, n), a in work.packs.assumptions.items()},
                           work.design.tests)  # fmt: skip
    return {
        "rows": [(*row[:3], row[3].members if isinstance(row[3], Category) else row[3], *row[4:]) for row in rows],
        "findings": [one._replace(message="", remedy="", source="", told=None) for one in review.findings],
        "words": (review.overall, review.hazards, review.counts, review.held_back),
        "shown": [
            (group.hazard, [(one.rule, one.subject) for one in group.shown], len(group.quiet),
             group.gathered and [(one.rule, one.subject) for one in group.gathered.findings])
            for group in groups(review)
        ],
        "faults": [
            (one.fault, one.case, one.opening, one.clears, one.computed, one.tested, one.missing) for one in faults
        ],
        "headings": [line for line in fault_screen(faults, (), 80) if line and not line.startswith(" ")],
        "readings": [one.stated.place for one in Walker(bench).readings],
    }  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
def test_other_words_and_the_same_decisions(path: str, request: pytest.FixtureRequest) -> None:
    asked = _decided(_work(path))
    assert len(asked["findings"]) > 100 and len(asked["faults"]) >= 10  # type: ignore[arg-type]
    request.getfixturevalue("reworded")
    work = _work(path)
    texts = {text for one in work.ledger.entries for text in (one.note, one.formula)} - {"", OTHERWISE}
    assert not texts
    again = _decided(work)
    for what, found in asked.items():
        assert found == again[what], what
