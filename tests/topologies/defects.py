"""A demonstration with one thing wrong at a time: its text is changed, worked out and judged; each defect of a list is
found by its rule, on its part, with a piece of the reason."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from law_bench import WORKSHOP, Bench

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Finding, Review
from derate.ledger.ledger import Ledger
from derate.packs.load import shipped
from derate.study.work import worked

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Demonstration(Bench):
    """A shipped design that is changed over and over; what was worked out of a text is kept."""

    @staticmethod
    def shipped(name: str) -> Demonstration:
        """One of the shipped designs, by its folder."""
        path = shipped("designs") / name / f"{name}.derate.yaml"
        return Demonstration(name, str(path), path.read_text(encoding="utf-8"))

    def changed(self, *changes: tuple[str, str], text: str = "") -> str:
        """Its text, or another, with pieces replaced that each stand in it once."""
        text = text or self.text
        for old, new in changes:
            assert text.count(old) == 1, f"'{old}' stands {text.count(old)} times"
            text = text.replace(old, new)
        return text

    def judged(self, text: str = "") -> Review:
        """The review of its text, or of another, which is not refused."""
        return _judged(self, text or self.text)

    def ledger(self, text: str = "") -> Ledger:
        """The ledger of its text, or of another."""
        return _ledger(self, text or self.text)


@cache
def _judged(bench: Demonstration, text: str) -> Review:
    review = bench.review(text)
    assert review is not None
    return review


@cache
def _ledger(bench: Demonstration, text: str) -> Ledger:
    design = read_design(text, bench.path)
    return worked(design, WORKSHOP.packs_for(bench.path, design, Settings()))


def found(one: Review, rule: str, subject: str = "") -> list[Finding]:
    """Findings of a rule, those on a subject whose name holds a piece of text."""
    return [each for each in one.findings if each.rule == rule and subject in str(each.subject)]


def defects(name: str) -> dict[str, dict[str, Any]]:
    """The defects of a list, by their names, which are all different."""
    listed = yaml.safe_load((HERE / name).read_text(encoding="utf-8"))
    named = {one["name"]: one for one in listed}
    assert len(named) == len(listed)
    return named


def assert_found(one: Review, defect: dict[str, Any]) -> None:
    """Hold a review to a defect: its rule fails, or is not assessed where the list says so, blocks and names why."""
    own = [each for each in found(one, defect["rule"], defect["subject"]) if each.verdict in ("fail", "not assessed")]
    assert own and any(each.blocks for each in own)
    assert own[0].verdict == defect.get("verdict", "fail")
    reason = " ".join((own[0].message, *(str(fact) for fact in own[0].missing)))
    assert defect["says"] in reason, reason
