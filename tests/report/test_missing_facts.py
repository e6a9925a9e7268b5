"""The facts that findings wait for."""

from __future__ import annotations

from reviews_by_hand import PATH, mixed, review, unknown

from derate.report.missing import missing_facts, missing_lines
from derate.report.plain import cells


def test_every_missing_fact_is_listed_once_the_most_wanted_first() -> None:
    given = review(*(unknown(number) for number in range(80)))
    facts = missing_facts(given)
    assert len(facts) == 81
    assert facts[0].name == "site.mains_tolerance" and len(facts[0].findings) == 80 and facts[0].blocking == 80
    assert {fact.text for fact in facts} == {one for finding in given.findings for one in finding.missing}


def test_each_comes_with_how_to_get_it() -> None:
    lines = list(missing_lines([review(unknown(1))], None))
    assert lines == [
        f"{PATH}: missing: C1: rated voltage (rated.voltage): read the mark on the part; 1 finding waits, 1 blocking",
        f"{PATH}: missing: mains tolerance (site.mains_tolerance): the supplier's figure; 10 % is usual; "
        "1 finding waits, 1 blocking",
        f"{PATH}: 2 facts missing",
    ]


def test_a_screen_keeps_to_its_width() -> None:
    lines = list(missing_lines([mixed(), mixed()], 60))
    assert all(cells(line) <= 60 for line in lines)
    assert any("read the mark on the part" in line for line in lines)


def test_facts_of_other_verdicts_are_no_open_facts() -> None:
    assert missing_facts(review(unknown(1, verdict="fail"))) == ()
