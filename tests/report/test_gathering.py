"""Which findings are shown, in which order, and what is gathered to one line."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

import pytest
from documents import ROOT, SOUND, shipped
from reviews_by_hand import RUNNING, finding, mixed, review, unknown

from derate.judge.review import Finding, Told, Unmet
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.report.gather import Wanted, body, gathered_words, groups, reason
from derate.report.html import alike, by_basis, by_fact, by_source, compared, html_page, rows_together
from derate.report.ledger import ledger_rows
from derate.report.unmet import Asked, gathered, others
from derate.report.words import fact_words, listed, sides, times
from derate.terms.values import Value


def test_unknowns_of_a_hazard_are_one_gathered_line() -> None:
    (group,) = groups(review(*(unknown(number) for number in range(80))))
    assert group.shown == ()
    assert group.gathered is not None
    assert len(group.gathered.findings) == 80
    assert group.gathered.facts[0] == "supply: site.mains_tolerance"  # the one that most findings wait for
    words = gathered_words(group.gathered, "x.yaml")
    assert words.startswith("80 findings, all blocking, wait for 81 facts: mains tolerance and rated voltage (C0, C1")
    assert "derate missing x.yaml" in words
    assert len(words) < 250
    (mixed_group,) = groups(review(unknown(1), unknown(2, severity="minor", blocks=False)))
    assert mixed_group.gathered is not None
    assert gathered_words(mixed_group.gathered, "x").startswith("2 findings, 1 of them blocking, wait for 3 facts: ")
    (one,) = groups(review(unknown(1)))
    assert one.gathered is not None and gathered_words(one.gathered, "x").startswith("1 finding, blocking, waits for 2")


def test_verbose_shows_every_finding() -> None:
    given = mixed()
    shown = [one for group in groups(given, verbose=True) for one in group.shown]
    assert sorted(map(id, shown)) == sorted(map(id, given.findings))
    assert all(group.gathered is None for group in groups(given, verbose=True))


def test_every_finding_is_shown_gathered_or_quiet_and_a_blocking_one_never_quiet() -> None:
    given = mixed()
    for group in groups(given):
        assert not any(one.blocks for one in group.quiet)
    total = sum(
        len(group.shown) + len(group.quiet) + (len(group.gathered.findings) if group.gathered else 0)
        for group in groups(given)
    )
    assert total == len(given.findings)


def test_a_range_too_wide_and_an_acknowledged_unknown_are_shown_one_by_one() -> None:
    wide = unknown(1, stress=Value.between(1.0, 3.0), limit=Value.exact(2.0), ratio=1.5)
    (group,) = groups(review(wide))
    assert group.shown == (wide,)


def test_what_blocks_comes_first() -> None:
    marginal = finding(verdict="marginal", blocks=False)
    minor = finding(severity="minor", blocks=False)
    stops = finding(verdict="not assessed", missing=())
    (group,) = groups(review(marginal, minor, stops))
    assert group.shown == (stops, minor, marginal)
    first, second = groups(review(finding(blocks=False), finding(hazard="life")))
    assert (first.hazard, second.hazard) == ("life", "fire")


def test_subject_and_source_are_not_said_twice() -> None:
    one = finding(told=Told("current 900 A, over the 35 A allowed", limit="; limit: a house limit, invented"))
    assert body(one) == "current 900 A, over the 35 A allowed"
    rests = finding(told=Told("x", limit="; limit: a house limit; limit: invented", rests="; rests on y, assumed"))
    assert body(rests) == "x; rests on y, assumed"
    assert body(rests, rests=False) == "x"  # where a line of its own says it
    assert body(finding(told=Told("no row", "cannot be judged: "))) == "cannot be judged: no row"
    assert reason(finding(told=Told("no row", "cannot be judged: "))) == "no row"
    assert body(finding(message="F1: x; limit: elsewhere")) == "F1: x; limit: elsewhere"  # nobody said its parts


def test_the_sides_of_a_comparison_are_told_from_its_ratio() -> None:
    used, allowed = Value(372.0, 372.0, 374.0, 410.0), Value.exact(400.0)
    assert sides(used, allowed, 374.0 / 400.0).second == "allowed"
    assert sides(used, allowed, 410.0 / 400.0).second == "allowed"  # held over tolerance
    assert sides(used, allowed, 374.0 / 400.0).kindest == 372.0 / 400.0
    found, needed = Value.between(5.0e-3, 6.4e-3), Value.exact(6.0e-3)
    turned = sides(found, needed, 6.0 / 5.0)
    assert (turned.first, turned.second) == ("found", "needed")
    assert turned.kindest is not None and abs(turned.kindest - 6.0 / 6.4) < 1e-12
    assert sides(Value.exact(0.0), Value.exact(0.0), 1.0).kindest is None


def test_ratios_never_read_as_the_limit_itself() -> None:
    assert times(1.38) == "1.38 times what is allowed"
    assert times(1.0004) == "just over what is allowed"
    assert times(0.9996) == "just under what is allowed"
    assert times(1.2, "needed") == "needed is 1.2 times what is there"
    assert times(float("inf")) == "without bound"


def test_facts_in_words() -> None:
    breaking = OpenFact(Subject("part", ("F1",)), "rated.breaking_capacity")
    assert fact_words([breaking]) == ("greatest current it can break (F1)",)
    twice = [OpenFact(SUPPLY, "site.mains_tolerance"), OpenFact(None, "site.mains_tolerance")]
    assert fact_words(twice) == ("mains tolerance",)
    at = OpenFact(Subject("part", ("F1",)), "rated.breaking_capacity", "at 250 V")  # a detail of it: no fact by itself
    assert fact_words([at]) == ("greatest current it can break at 250 V (F1)",)
    assert fact_words([OpenFact(None, "assumption mains-impedance")]) == ("assumption mains-impedance",)
    assert fact_words([OpenFact(Subject("part", (f"C{number}",)), "rated.voltage") for number in (1, 2, 3, 4, 5)]) == (
        "rated voltage (C1, C2, C3 and 2 more)",
    )
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed(list("abcdefgh"), 3) == "a, b, c and 5 more"
    assert str(RUNNING)  # the case in words comes from the ledger


def _outside(rule: str, name: str, found: str, asked: str, fact: str = "where it sits") -> Finding:
    told = Told("not read", "does not apply: ", unmet=Unmet(fact, found, asked))
    return finding(rule=rule, subject=Subject("part", (name,)), verdict="not applicable", blocks=False, told=told)


def test_what_does_not_apply_is_told_once_of_each_subject() -> None:
    seats = {"C1": "bulk", "C2": "bulk", "C4": "clamp", "C5": "auxiliary"}
    all_of = [_outside(rule, name, seat, "shunt") for rule in ("x-class", "x-voltage") for name, seat in seats.items()]
    few = [_outside("clamp", name, seat, "clamp") for name, seat in seats.items() if seat != "clamp"]
    one = [_outside("slope", "C5", "auxiliary", "snubber")]
    apart = [_outside("diode", "D1", "clamp", "rectifier")]
    (capacitors, diode) = gathered([*all_of, *few, *one, *apart])
    assert set(capacitors.found) == {("bulk", "C1, C2"), ("clamp", "C4"), ("auxiliary", "C5")}
    assert set(capacitors.asked) == {
        Asked("shunt", "", ("x-class", "x-voltage")),
        Asked("clamp", "all but C4", ("clamp",)),
        Asked("snubber", "C5", ("slope",)),
    }
    assert (diode.found, diode.asked) == ((("clamp", "D1"),), (Asked("rectifier", "", ("diode",)),))


def test_a_fact_found_otherwise_stands_apart_and_one_without_a_condition_keeps_its_words() -> None:
    first, second = gathered([_outside("a", "C1", "3 V", "5 V"), _outside("b", "C1", "4 V", "5 V")])
    assert (first.found, second.found) == ((("3 V", "C1"),), (("4 V", "C1"),))
    bare = finding(rule="r", verdict="not applicable", told=Told("nobody looked", "does not apply: "))
    assert gathered([bare]) == () and others([bare]) == (("r", "nobody looked", (bare,)),)
    assert others([_outside("a", "C1", "3 V", "5 V")]) == ()


def test_a_name_with_a_comma_is_not_taken_for_two() -> None:
    (one,) = gathered([_outside("a", name, "none", "heat") for name in ("voltage, rms", "power")])
    assert one.found == (("none", "voltage, rms; power"),)


def test_a_basis_is_said_again_where_it_is_another() -> None:
    named = [finding(rule=rule, source=source) for rule, source in (("a", "x"), ("b", "y"), ("c", "x"))]
    told = [(one.rule, again) for one, again in by_basis(named)]
    assert told == [("a", False), ("c", True), ("b", False)]
    sure = [finding(source="x", confidence=how) for how in ("published", "remembered")]
    assert [again for _, again in by_basis(sure)] == [False, False]  # a remembered one never reads as the same


def test_neighbouring_rows_name_their_source_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    ledger = shipped(SOUND).ledger.entries
    rows = [
        next(one for one in ledger if one.source == source) for source in sorted({one.source for one in ledger})[:2]
    ]
    given = [rows[0], rows[0], rows[1], rows[0]]
    assert [(source, len(own)) for source, own in by_source(given)] == [
        (rows[0].source, 2),
        (rows[1].source, 1),
        (rows[0].source, 1),
    ]


def test_a_missing_fact_of_several_parts_is_one_row_where_as_much_waits_for_each() -> None:
    waits = [unknown(1), unknown(2)]

    def fact(name: str, of: str, count: int) -> Wanted:
        return Wanted(of, name, OpenFact(Subject("part", (of,)), name), tuple(waits[:count]))

    facts = [
        fact("rated.voltage", "C1", 1),
        fact("rated.current", "L1", 1),
        fact("rated.voltage", "C2", 1),
        fact("rated.voltage", "C3", 2),
    ]
    assert [[one.subject for one in own] for own in by_fact(facts)] == [["C1", "C2"], ["L1"], ["C3"]]


def test_groups_that_a_later_rule_joins_are_one() -> None:
    (one,) = gathered(
        [
            _outside("a", "C1", "x", "y"),
            _outside("b", "C2", "x", "y"),
            _outside("c", "C1", "x", "z"),
            _outside("c", "C2", "x", "z"),
        ]
    )
    assert one.found == (("x", "C1, C2"),)
    assert set(one.asked) == {Asked("y", "C1", ("a",)), Asked("y", "C2", ("b",)), Asked("z", "", ("c",))}


class _Rows(NamedTuple):
    """As much of a document as passes told together ask for: rows by number, a photo of whom."""

    ledger: Ledger
    photo: str = ""

    def rows_of(self, one: Finding) -> tuple[Entry, ...]:
        return tuple(self.ledger[number] for number in one.entries)

    def photos_of(self, one: Finding) -> tuple[str, ...]:
        return (self.photo,) if str(one.subject) == self.photo else ()


def _held(name: str, entries: tuple[int, ...], **more: Any) -> Finding:
    given: dict[str, Any] = {"verdict": "pass", "stress": Value.exact(9.0), "limit": Value.exact(25.0), "ratio": 0.36}
    return finding(subject=Subject("part", (name,)), entries=entries, **(given | more))


def test_passes_alike_in_words_figures_and_sources_are_told_once_and_no_other() -> None:
    ledger = Ledger()
    for source in ("kirchhoff", "kirchhoff", "sheet", "sheet", "guess"):
        ledger.write(Subject("part", ("C1",)), "power", Value.exact(1.0), formula="f", source=source)
    first, same = _held("C1", (1, 3)), _held("C2", (2, 3))
    others = [
        _held("C3", (1, 3), stress=Value.exact(9.01)),
        _held("C4", (1, 3), limit=Value.exact(26.0)),
        _held("C5", (1, 3), severity="critical" if first.severity != "critical" else "minor"),
        _held("C6", (1, 3), rule="another"),
        _held("C7", (1, 3), message="else", told=None),
        _held("C8", (1, 5)),
        _held("C9", (1,)),
        _held("C10", (1, 3)),
    ]
    document: Any = _Rows(ledger, "C10")
    told = [[str(one.subject) for one in own] for own, _ in alike(document, [first, same, *others])]
    assert told == [["C1", "C2"], *([str(one.subject)] for one in others)]
    assert [row.number for row in rows_together(document, [first, same])] == [1, 2, 3]
    bars = compared([first, same, others[0], others[1], _held("C11", (), verdict="marginal")])
    assert sorted([str(one.subject) for one in own] for own in bars) == [["C1", "C2"], ["C11"], ["C3"], ["C4"]]


def test_every_finding_and_row_of_a_page_has_its_anchor_once_though_some_are_told_together(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(ROOT)
    document = shipped("designs/night-stand/night-stand.derate.yaml")
    page = html_page(document)
    anchors = re.findall(r'\bid="?([fr]\d+)\b', page)
    assert len(anchors) == len(set(anchors))
    assert set(re.findall(r'href="?#([fr]\d+)\b', page)) <= set(anchors)
    three = r">C11, <span id=f\d+>C12</span>, <span id=f\d+>C13</span> <span class=rule>port-capacitor-voltage<"
    assert re.search(three, page)
    assert "; case temperature of enclosure at 230 V 50 Hz, full load; " in page  # rows of readings that nothing holds
    numbers = [number for _, own in ledger_rows(document) for one in own for number in one.numbers]
    assert len(numbers) == len(set(numbers)) > 1000
    for subjects, own in ledger_rows(document):
        assert {document.ledger[number].subject for one in own for number in one.numbers} == set(subjects)
        for one in own:
            shown = [document.ledger[number] for number in one.numbers]
            assert len({(each.value, each.case, each.inputs, each.quantity) for each in shown}) == 1
