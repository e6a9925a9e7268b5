"""An overload held to a steady temperature, empty filter positions, a supply known to be regulated or not."""

from __future__ import annotations

from datetime import date
from math import inf
from pathlib import Path

import pytest

from derate.design.facts import facts
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Finding
from derate.ledger.entry import SUPPLY, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs, shipped
from derate.study.work import Work, review_of, worked
from derate.terms.values import Category, ReadingError, Value

SOUND = (shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml").read_text(encoding="utf-8")
PACKS = load_packs(["commercial-practice"])
T1 = Subject("transformer", ("T1",))
READ = (
    "winding_temperature: {T1: 101..106 degC}, case_temperature: {enclosure: 53 degC}}",
    "load: overload, ambient: 24 degC, after: 240 min}",
)


def judged(*edits: tuple[str, str]) -> tuple[Ledger, dict[tuple[str, str], Finding]]:
    text = SOUND
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    design = read_design(text, str(Path("sound.derate.yaml")))
    ledger = worked(design, PACKS)
    review = review_of(Work(design, Settings(), PACKS, ledger, {}), date(2026, 11, 25))
    return ledger, {(one.rule, str(one.subject)): one for one in review.findings}


def value(ledger: Ledger, subject: Subject, quantity: str) -> Value:
    row = ledger.find(subject, quantity)
    assert row is not None and isinstance(row.value, Value), (quantity, row)
    return row.value


# ---- overload --------------------------------------------------------------------------------------------------------


def test_a_reading_in_overload_is_carried_to_the_hottest_ambient() -> None:
    ledger, found = judged()
    winding = value(ledger, T1, "overload_winding_temperature")
    assert winding.near == pytest.approx(101.0 + 16.0)
    assert 106.0 + 16.0 <= winding.far < 106.0 + 16.0 + 5.0  # losses rise with temperature: the rise carried has a band
    assert value(ledger, SUPPLY, "overload_enclosure_temperature").near == pytest.approx(53.0 - 2.5 + 16.0)
    for rule in ("winding-temperature-in-overload", "case-temperature-in-overload",
                 "overload-held-to-steady-temperature"):  # fmt: skip
        assert next(one for (name, _), one in found.items() if name == rule).verdict == "pass", rule


def test_figures_of_the_laboratory_report() -> None:
    """116.6 degC of 165 and 58.3 degC of 87, held for 4 h 02 min (one source): class B, read at the hottest ambient."""
    ledger, found = judged(
        (READ[0], "winding_temperature: {T1: 116.6 degC}, case_temperature: {enclosure: 58.3 degC}}"),
        (READ[1], "load: overload, ambient: 40 degC, after: 242 min}"),
        ("leakage: 15 uH", "insulation_class: B\n    leakage: 15 uH"),
    )  # fmt: skip
    assert value(ledger, T1, "allowed.overload_winding_temperature") == Value.exact(165.0)
    assert value(ledger, T1, "overload_winding_temperature").near == pytest.approx(116.6 - 2.5)
    assert found["winding-temperature-in-overload", "T1"].verdict == "pass"
    assert found["case-temperature-in-overload", "supply"].verdict == "pass"


@pytest.mark.parametrize(("edits", "rule", "verdict"), [
    ([(READ[0], "winding_temperature: {T1: 190 degC}}")], "winding-temperature-in-overload", "fail"),
    ([(READ[0], "winding_temperature: {T1: 140 degC}}")], "winding-temperature-in-overload", "not assessed"),
    ([(READ[0], "case_temperature: {enclosure: 80 degC}}")], "case-temperature-in-overload", "fail"),
    ([(READ[1], "load: overload, ambient: 24 degC, after: 10 min}")], "case-temperature-in-overload", "not assessed"),
    ([(READ[1], "load: overload, ambient: 24 degC}")], "winding-temperature-in-overload", "not assessed"),
    ([(READ[1], "load: overload, after: 240 min}")], "case-temperature-in-overload", "not assessed"),
    ([(READ[1], "load: full, ambient: 24 degC, after: 240 min}")], "overload-held-to-steady-temperature",
     "not assessed"),
    ([("shuts_down_at: 1.66 A", "shuts_down_at: 1.66 A, result: failed")], "overload-held-to-steady-temperature",
     "fail"),
])  # fmt: skip
def test_what_it_says(edits: list[tuple[str, str]], rule: str, verdict: str) -> None:
    """190 degC is over every class; 156 degC over the lowest, under the highest; ten minutes are only a floor."""
    _, found = judged(*edits)
    assert next(one for (name, _), one in found.items() if name == rule).verdict == verdict


def test_too_hot_stops_and_so_does_never_having_looked() -> None:
    _, hot = judged((READ[0], "case_temperature: {enclosure: 80 degC}}"))
    assert hot["case-temperature-in-overload", "supply"].blocks
    _, never = judged((READ[1], "load: full, ambient: 24 degC, after: 240 min}"))
    assert never["case-temperature-in-overload", "supply"].verdict == "not applicable"
    assert never["overload-held-to-steady-temperature", "supply"].blocks


def test_a_short_reading_proves_a_fail_all_the_same() -> None:
    ledger, found = judged((READ[0], "case_temperature: {enclosure: 80 degC}}"), ("after: 240 min", "after: 5 min"))
    assert value(ledger, SUPPLY, "overload_enclosure_temperature").far == inf
    assert found["case-temperature-in-overload", "supply"].verdict == "fail"


def test_what_was_read_in_overload_says_nothing_of_full_load() -> None:
    before, _ = judged()
    after, _ = judged((READ[0], "winding_temperature: {T1: 150 degC}, case_temperature: {enclosure: 85 degC}}"))
    for subject, quantity in ((SUPPLY, "enclosure_temperature"), (SUPPLY, "read_efficiency")):
        assert value(before, subject, quantity) == value(after, subject, quantity)
    output = Subject("output", ("main",))
    assert value(before, output, "held_current") == value(after, output, "held_current")


# ---- empty positions -------------------------------------------------------------------------------------------------


def positions(*lines: str) -> tuple[object, tuple[str, ...], str]:
    ledger, found = judged(("  D9: {kind: diode, fitted: no}", "\n".join(f"  {one}" for one in lines) + "\n "))
    row = ledger.find(SUPPLY, "empty_filter_positions")
    assert row is not None
    return row.value, row.missing, found["filter-positions-fitted", "supply"].verdict


@pytest.mark.parametrize(("line", "word"), [
    ("LF1: {kind: common-mode choke, fitted: no}", "LF1 empty"),
    ("LF1: {kind: common-mode choke, fitted: wired over}", "LF1 wired over"),
    ("CX1: {kind: film capacitor, class: X2, fitted: no}", "CX1 empty"),
    ("C99: {kind: ceramic capacitor, position: filter, fitted: no}", "C99 empty"),
])  # fmt: skip
def test_an_empty_filter_position_fails(line: str, word: str) -> None:
    value, _, verdict = positions(line)
    assert value == Category.of(word) and verdict == "fail"


def test_two_are_both_named_and_other_positions_do_not_count() -> None:
    value, _, verdict = positions(
        "LF1: {kind: choke, fitted: wired over}", "CX1: {kind: film capacitor, class: X2, fitted: no}"
    )
    assert value == Category.of("LF1 wired over + CX1 empty") and verdict == "fail"
    value, _, verdict = positions("D9: {kind: diode, fitted: no}", "RV1: {kind: varistor, fitted: no}")
    assert value == Category.of("none") and verdict == "pass"


def test_what_it_was_meant_for_has_to_be_known() -> None:
    value, missing, verdict = positions("C99: {kind: film capacitor, fitted: no}")
    assert value is None and missing == ("C99: part.position",) and verdict == "not assessed"
    ledger, found = judged(("parts_list: complete ", "parts_list: main parts "))
    assert found["filter-positions-fitted", "supply"].verdict == "not assessed"
    row = ledger.find(SUPPLY, "empty_filter_positions")
    assert row is not None and row.missing == ("supply: supply.parts_list",)


def test_a_wired_over_part_stands_on_no_path() -> None:
    with pytest.raises(ReadingError) as caught:
        judged(
            ("  D9: {kind: diode, fitted: no}", "  D9: {kind: diode, fitted: wired over}"),
            ("line: [RF1, ", "line: [RF1, D9, "),
        )
    assert "D9 is not fitted, yet it stands on a path" in str(caught.value)


# ---- regulated or not ------------------------------------------------------------------------------------------------


def regulated(*edits: tuple[str, str]) -> tuple[object, str]:
    ledger, found = judged(*edits)
    row = ledger.find(SUPPLY, "supply.regulated")
    return (row.value if row is not None else None), found["output-regulation", "main"].verdict


def test_regulation_is_judged_where_the_supply_is_known_to_be_regulated() -> None:
    assert regulated() == (Category.of("yes"), "pass")
    assert regulated((", senses: T1.auxiliary", "")) == (None, "not assessed")
    assert regulated(("  topology: flyback\n", "  topology: flyback\n  regulated: no\n")) == (
        Category.of("no"), "not applicable")  # fmt: skip
    high = ("load: none}, voltage: {main: 12.21 V}", "load: none}, voltage: {main: 14.4 V}")
    assert regulated(high)[1] == "fail"
    assert regulated(high, ("  topology: flyback\n", "  topology: flyback\n  regulated: no\n"))[1] == "not applicable"


def test_every_fact_has_a_row_for_an_empty_position() -> None:
    design = read_design(SOUND, "sound.derate.yaml")
    rows = [one for one in facts(design) if one.quantity == "part.position"]
    assert [(str(one.subject), one.value) for one in rows] == [("D9", Category.of("other"))]
