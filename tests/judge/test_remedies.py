"""The figures of a remedy: what a replacement has to bear is the bad end of the stress, never its kind one."""

from __future__ import annotations

import math

import pytest

from derate.judge.messages import in_words, steps_of
from derate.judge.verdict import Outcome
from derate.judge.view import Trace
from derate.packs.load import load_packs
from derate.packs.pack import Rule
from derate.terms.dimension import CURRENT
from derate.terms.values import ReadingError, Value

PACKS = load_packs(("commercial-practice", "mains-fusing"))


def _rule(remedy: str) -> Rule:
    return PACKS.rules[0]._replace(remedy=remedy)


@pytest.mark.parametrize(
    ("stress", "more", "expected"),
    [
        (Value(0.2, 0.25, 0.3, 0.32), False, "fit one for 0.32 A"),
        (Value(0.2, 0.25, 0.3, 0.32), True, "fit one for 0.2 A"),
        (Value(0.2, 0.25, math.inf, math.inf), False, "fit one for at least 0.2 A"),  # a floor has no bad end to name
    ],
)
def test_the_worst_is_the_bad_end(stress: Value, more: bool, expected: str) -> None:
    outcome = Outcome("fail", Trace(), stress=stress, limit=Value.exact(0.1), dimension=CURRENT, more=more)
    assert in_words(steps_of(_rule("fit one for {worst}"), outcome, "")).startswith(expected)


def test_a_figure_nobody_fills_in_is_refused(tmp_path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(
        "pack: own\ntitle: t\ncovers: c\nsources: {s: {title: t}}\ntables: {}\nassumptions: {}\nrules:\n"
        "  - {rule: one-two, says: a, because: b, hazard: life, severity: minor, keep: rated.life >= 100 h,\n"
        "     remedy: 'fit one for {worse}', settle: s, source: s, confidence: common practice}\n",
        encoding="utf-8",
    )
    with pytest.raises(ReadingError) as stopped:
        load_packs((str(path),))
    said = " ".join(f"{one.what} {one.instead}" for one in stopped.value.problems)
    assert "'{worse}' is no figure of a remedy" in said and "{worst}" in said


def test_no_shipped_remedy_holds_a_figure_in_braces_that_stays() -> None:
    packs = load_packs(("commercial-practice", "mains-fusing", "mains-events", "converter", "bench"))
    assert sum("{worst}" in rule.remedy for rule in packs.rules) > 15
    outcome = Outcome("fail", Trace(), stress=Value.exact(1.0), limit=Value.exact(0.5), dimension=CURRENT)
    assert not [rule.name for rule in packs.rules if "{" in in_words(steps_of(rule, outcome, ""))]
