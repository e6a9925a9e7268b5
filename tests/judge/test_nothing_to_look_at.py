"""A rule that needs at least one subject: missed where it applies, and no business of a supply outside it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from derate.study.work import Workshop, review_of

BASE = Path(__file__).parents[1] / "data" / "designs" / "scale-console-45W.derate.yaml"


def _of(text: str, rule: str, tmp_path: Path) -> list[str]:
    (tmp_path / ".git").mkdir(exist_ok=True)
    path = tmp_path / "one.derate.yaml"
    path.write_text(text, encoding="utf-8")
    review = review_of(Workshop().work(str(path)), date(2026, 11, 25))
    return [one.verdict for one in review.findings if one.rule == rule]


@pytest.mark.parametrize(
    ("basis", "expected"), [("own design", {"not applicable"}), ("opened sample", {"not assessed"})]
)
def test_an_own_design_has_no_sample_to_load(basis: str, expected: set[str], tmp_path: Path) -> None:
    text = BASE.read_text(encoding="utf-8")
    line = next(one for one in text.splitlines() if one.strip().startswith("basis:"))
    said = text.replace(line, f"  basis: {basis}")
    assert set(_of(said, "rated-current-held", tmp_path)) == expected


def test_without_a_word_on_what_it_is_the_rule_stays_open(tmp_path: Path) -> None:
    text = BASE.read_text(encoding="utf-8")
    line = next(one for one in text.splitlines() if one.strip().startswith("basis:"))
    assert set(_of(text.replace(line + "\n", ""), "rated-current-held", tmp_path)) == {"not assessed"}
