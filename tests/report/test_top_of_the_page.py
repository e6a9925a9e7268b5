"""What a reader sees first: the overall word, the hazards, the three things to act on; and their order."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from documents import POOR, ROOT, SOUND, shipped
from golden import hold
from reviews_by_hand import finding, review, unknown

from derate.ledger.entry import Subject
from derate.report.brief import blocking, finding_words, things
from derate.report.gather import act_first, sentence
from derate.report.html import html_page
from derate.terms.values import Value

EXPECTED = Path(__file__).parent / "expected"


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def test_the_top_of_the_poor_supply_is_held() -> None:
    header = html_page(shipped(POOR)).partition("<header")[2].partition("</header>")[0]
    lines = re.sub(r"</(?:p|h[1-3]|tr|div|li|caption)>", "\n", "<header" + header)
    text = unescape(re.sub(r"<[^>]*>", " ", lines))
    tidy = "\n".join(line for raw in text.split("\n") if (line := " ".join(raw.split())))
    hold(EXPECTED / "poor-supply-top.txt", tidy + "\n")


def test_the_top_of_the_poor_supply_names_three_things_with_their_reason() -> None:
    found = act_first(shipped(POOR).review)
    assert len(found) == 3
    for one in found:
        assert one.verdict == "fail" and one.severity == "critical" and len(one.reason) > 20
    assert {one.hazard for one in found} >= {"fire", "shock"}  # no list under one hazard hides the other


def test_fails_come_first_by_severity_and_the_worst_of_each_hazard_before_the_second_of_any() -> None:
    def one(name: str, **given: object):  # type: ignore[no-untyped-def]
        return finding(rule=name, subject=Subject("part", (name,)), **given)

    findings = (
        one("a-minor", severity="minor", hazard="fire", ratio=99.0),
        one("fire-small", hazard="fire", ratio=1.1),
        one("fire-large", hazard="fire", ratio=3.0),
        one("shock-only", hazard="shock", ratio=1.2),
        one("major-one", hazard="fire", severity="major", ratio=50.0),
        unknown(1, hazard="shock"),
        one("waived", hazard="fire", ratio=1000.0, blocks=False),
    )
    names = [thing.what for thing in act_first(review(*findings), 9)]
    assert names[:5] == ["fire-large", "shock-only", "fire-small", "major-one", "a-minor"]
    assert len(names) == 6 and "waived" not in names


def test_findings_of_one_rule_are_one_thing() -> None:
    findings = [finding(subject=Subject("part", (f"F{number}",)), ratio=float(number)) for number in (2, 9, 4)]
    found = act_first(review(*findings))
    assert len(found) == 1 and found[0].subject == "F9, F4 and F2"


def test_of_merged_subjects_the_worst_speaks_on_every_first_screen() -> None:
    """Two fuses of one rule, the milder one first in the review or last: figure, ratio and cure are the worse one's."""
    mild, bad = (
        finding(
            subject=Subject("part", (name,)),
            ratio=times,
            stress=Value.exact(35.0 * times),
            message=f"{name} would have to break {35.0 * times:g} A.",
            remedy=f"Fit a fuse that breaks {35.0 * times:g} A or more.",
        )
        for name, times in (("F1", 2.0), ("F2", 20.0))
    )
    for order in ((mild, bad), (bad, mild)):
        (one,) = act_first(review(*order))
        assert one.subject == "F2 and F1" and one.findings == (bad, mild)
        assert "700 A" in one.reason and "700 A" in one.remedy and "20" in one.ratio
        first = next(iter(things(review(*order))))
        assert first.what.startswith("F2 and F1") and "700 A" in first.how and "70 A" not in first.how
        (block,) = blocking(review(*order))
        assert block.single[0] == bad and "700" in finding_words(block.single[0])


def test_unknowns_are_one_thing_a_hazard_and_say_what_to_find() -> None:
    found = act_first(review(*(unknown(number) for number in range(1, 40))))
    assert len(found) == 1 and found[0].verdict == "not assessed"
    assert found[0].reason.startswith("39 critical findings wait for ")


def test_where_nothing_blocks_it_says_so_and_what_is_left() -> None:
    found = act_first(shipped(SOUND).review)
    if not shipped(SOUND).review.blocks:
        assert "Nothing blocks" in html_page(shipped(SOUND))
    assert act_first(review()) == () and all(one.reason for one in found)


def test_a_clean_review_is_told_in_words() -> None:
    document = shipped(SOUND)
    clean = replace(document, review=document.review._replace(findings=()))
    assert "Nothing blocks and nothing is open." in html_page(clean)


@pytest.mark.parametrize(("said", "shown"), [("lengthen it", "Lengthen it."), ("C1 sees 5 V", "C1 sees 5 V."), ("", ""),
                                             ("<script> x", "<script> x."), ("Done.", "Done.")])  # fmt: skip
def test_sentences(said: str, shown: str) -> None:
    assert sentence(said) == shown
