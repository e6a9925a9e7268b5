"""The word of a hazard: decided by what can block, minor findings beside it, and never a pass where nobody looked."""

from __future__ import annotations

from typing import Any

import pytest
from synthetic import FILE, SUPPLY, Row, reviewed

from derate.judge.review import Acknowledgement, Finding, HazardWord
from derate.judge.verdict import finding_blocks, hazard_words, with_raised, worst_word
from derate.ledger.entry import Subject
from derate.packs.load import read_packs
from derate.terms.values import Place, Value
from derate.terms.words import HAZARDS, OVERALLS, SHOWN

C1, C2 = (Subject("part", (name,)) for name in ("C1", "C2"))
SIGNED = Acknowledgement("waiver", "r", "b", "2027-01-01", 2.0, False, Place("f.yaml"))


def made(verdict: str, severity: str = "major", rule: str = "r", subject: Subject = C1, **more: Any) -> Finding:
    """A finding of fire, as the judge leaves it."""
    one = Finding(
        rule, "p", "fire", severity, subject, None, verdict, None, None, None, "", "", "", "", "published",  # type: ignore[arg-type]
    )._replace(**more)  # fmt: skip
    return one._replace(blocks=finding_blocks(one))


LOOKED = made("pass", "critical", "looked")


def fire(*findings: Finding) -> HazardWord:
    """The word of fire."""
    return hazard_words((LOOKED, *findings))[0]


def test_every_hazard_has_its_word_and_nobody_looked_is_no_pass() -> None:
    words = hazard_words([LOOKED])
    assert tuple(one.hazard for one in words) == HAZARDS
    assert [one.word for one in words] == ["pass", "not assessed", "not assessed", *["not judged"] * 3]
    only_minor = [made(verdict, "minor")._replace(hazard="life") for verdict in ("pass", "fail", "not assessed")]
    life = hazard_words(only_minor)[3]
    assert (life.word, life.minor_fails, life.minor_open) == ("not judged", 1, 1)
    assert OVERALLS.index("not judged") < min(map(OVERALLS.index, SHOWN))  # and so the whole is no pass either
    assert worst_word(words[:1]) == "pass" and worst_word((words[0], words[3])) == "not judged"


def test_minor_findings_are_counted_and_turn_nothing() -> None:
    word = fire(made("fail", "minor"), made("fail", "minor", "s"), made("not assessed", "minor", "t"))
    assert (word.word, word.why, word.minor_fails, word.minor_open) == ("pass", "", 2, 1)


@pytest.mark.parametrize("verdict", ["fail", "not assessed", "marginal"])
def test_a_major_finding_makes_the_word_whoever_signed_for_it(verdict: str) -> None:
    assert fire(made(verdict)).word == verdict
    signed = fire(made(verdict, acknowledgement=SIGNED))
    assert signed.word == ("fail, waived" if verdict == "fail" else verdict)
    assert fire(made("fail", known=True)).word == "fail, held back"


def test_a_word_keeps_what_it_hides() -> None:
    word = fire(made("fail", acknowledgement=SIGNED), *(made("not assessed", rule=f"n{k}") for k in range(3)))
    assert (word.word, word.hides) == ("fail, waived", (("not assessed", 3),))
    assert fire(made("marginal"), made("fail")).hides == (("marginal", 1),)


def test_how_many_critical_rules_gave_a_verdict() -> None:
    word = fire(
        made("not assessed", "critical", "a"), made("not applicable", "critical", "b"),
        made("fail", "critical", "c"), made("not assessed", "critical", "c", C2), made("pass", "major", "d"),
    )  # fmt: skip
    assert (word.looked, word.asked) == (2, 3)


@pytest.mark.parametrize(("ratio", "counts"), [(1.99, False), (2.0, True), (float("inf"), True), (None, False)])
def test_at_twice_its_limit_a_minor_fail_counts_as_major(ratio: float | None, counts: bool) -> None:
    (one,) = with_raised([made("fail", "minor", ratio=ratio)])
    assert (one.severity == "major") is counts is bool(one.raised) is finding_blocks(one)
    assert fire(one).word == ("fail" if counts else "pass")


def test_no_other_verdict_counts_as_major() -> None:
    for verdict in ("pass", "marginal", "not assessed", "not applicable"):
        assert with_raised([made(verdict, "minor", ratio=9.0)])[0].severity == "minor"


def test_three_minor_fails_on_one_part_count_as_major() -> None:
    three = [made("fail", "minor", name) for name in "abc"]
    assert not any(one.raised for one in with_raised(three[:2]))
    assert not any(one.raised for one in with_raised([*three[:2], three[2]._replace(subject=C2)]))
    assert all(one.severity == "major" for one in with_raised(three))
    assert not any(one.raised for one in with_raised([one._replace(subject=SUPPLY) for one in three]))


def test_nothing_blocks_and_fail_never_stand_together() -> None:
    for severity in ("critical", "major", "minor"):
        for ratio in (None, 1.5, 3.0):
            for more in ({}, {"acknowledgement": SIGNED}, {"known": True}):
                findings = with_raised([made("fail", severity, ratio=ratio, **more)])
                findings = [one._replace(blocks=finding_blocks(one)) for one in findings]
                assert (fire(*findings).word == "fail") is any(one.blocks for one in findings)


def test_at_a_harder_level_the_word_says_what_blocks_there() -> None:
    minor = made("fail", "minor")
    assert fire(minor._replace(blocks=True)).word == "fail"
    assert fire(minor).word == "pass"


def test_a_minor_rule_that_is_switched_off_blocks_where_it_would_have_counted_as_major() -> None:
    house = "pack: house\ntitle: t\ncovers: c\nbuilds_on: [worked]\nswitch_off: {switching-frequency: {reason: r}}\n"
    packs = read_packs({"worked.yaml": FILE.read_text(encoding="utf-8"), "house.yaml": house})
    for hertz, blocks in ((15e3, False), (9e3, True)):
        rows = [Row(SUPPLY, "control.frequency", Value.exact(hertz))]
        found = [one for one in reviewed(rows, packs).findings if one.rule == "switching-frequency"]
        assert bool(found) is blocks is any(one.blocks for one in found)
