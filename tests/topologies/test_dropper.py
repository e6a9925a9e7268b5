"""The dropper by its demonstration: untouched nothing blocks; each single defect is found, on its part, by its rule."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import pytest
from defects import Demonstration, assert_found, defects, found

from derate.design.load import read_design
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import LINE, part
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, ReadingError, Value

HERE = Path(__file__).parent
BELL = Demonstration.shipped("porch-bell")
changed, review, ledger = BELL.changed, BELL.judged, BELL.ledger
DEFECTS = defects("dropper_defects.yaml")
BOARD = Subject("output", ("board",))


def test_untouched_nothing_blocks() -> None:
    assert [(one.rule, str(one.subject)) for one in review().findings if one.blocks] == []
    verdicts = {one.rule: one.verdict for one in review().findings if one.verdict != "not applicable"}
    for rule in (
        "dropper-carries-the-load",
        "dropper-carries-the-load-at-end-of-life",
        "dropper-clamp-power",
        "dropper-rail-with-clamp-open",
        "dropping-capacitor-class",
        "dropping-capacitor-voltage",
        "dropping-capacitor-short-is-cleared",
        "dropper-resistor-replug-energy",
        "household-plug-voltage",
        "household-non-isolated-output-enclosed",
        "line-resistor-running-power",
        "short-is-cleared",
    ):
        assert verdicts[rule] == "pass", rule


def test_they_are_enough() -> None:
    assert len(DEFECTS) >= 15


@pytest.mark.parametrize("name", DEFECTS)
def test_each_single_defect_is_found_with_its_reason(name: str) -> None:
    defect = DEFECTS[name]
    one = review(defective(name))
    assert_found(one, defect)


def defective(name: str) -> str:
    return changed(*((old, new) for old, new in DEFECTS[name]["changes"]))


def value(book: Ledger, subject: Subject, quantity: QuantityName, group: str) -> list[Value]:
    rows = [row for row in book.rows(subject, quantity) if row.case is not None and row.case.group == group]
    assert rows
    return [row.value for row in rows if isinstance(row.value, Value)]


def available(book: Ledger) -> Entry:
    rows = book.rows(BOARD, "current_available")
    return next(row for row in rows if row.case is not None and row.case.group == "running")


def test_rows_by_hand() -> None:
    """4 f C (crest - rail - 2 drops) less what 150 ohm take off, at 207 V, 47 Hz, 423 nF; shunt, re-plug and short."""
    book = ledger()
    (least,) = value(book, BOARD, "current_available", "running")
    bare = 4 * 47 * 423e-9 * (sqrt(2) * 207 - 12.6 - 2.4)
    assert 0.975 * bare < least.low < bare
    (aged,) = value(book, BOARD, "current_available", "end of life")
    assert aged.low == pytest.approx(0.9 * least.low, rel=2e-3)
    power = max(one.high for one in value(book, part("D1"), "power", "running"))
    assert power == pytest.approx(12.6 * 4 * 53 * 517e-9 * (sqrt(2) * 253 - 11.4), rel=0.02)
    assert all(one.high == 0.0 for one in value(book, part("D2"), "power", "running"))
    (first,), (again,) = (value(book, part("R1"), "current_peak", group) for group in ("switch-on", "re-plug"))
    assert again.far == pytest.approx(2 * sqrt(2) * 253 / 150, rel=0.02) and again.far / first.far == pytest.approx(
        2.0, rel=0.02
    )
    (first,), (again,) = (value(book, part("R1"), "i2t", group) for group in ("switch-on", "re-plug"))
    assert again.far == pytest.approx((2 * sqrt(2) * 253) ** 2 * 470e-9 / (2 * 150), rel=0.02)
    assert again.far / first.far == pytest.approx(4.0, rel=0.03)
    (open_,) = value(book, part("C2"), "voltage_clamp_open", "running")
    assert (open_.low, open_.high) == pytest.approx((14.25, 15.75))
    drawn = max(one.far for one in value(book, SUPPLY, "mains_current", "running"))
    assert drawn == pytest.approx(2 * 3.14159 * 53 * 470e-9 * 253, rel=0.05)  # a reading raises it


def test_a_short_of_the_capacitor_at_half_an_ampere_opens_no_fuse() -> None:
    """113 W in 470 ohm at 230 V: a fuse of 1 A is not sure to open, and the note says what the resistor takes."""
    (row,) = ledger(defective("fuse ahead of a plain resistor")).rows(part("C1"), "short_cleared")
    assert row.value == Category.of("not shown")
    assert "R1 takes 8" in row.note or "R1 takes 9" in row.note  # at 207 V
    assert "below what F1 is sure to open at" in row.note


RAIL = "C1 || (R2 + R3), BR1, across C2, across D1, across D2]"
HALF = (
    ("  BR1: {kind: bridge rectifier,", "  BR1: {kind: line diode,"),
    (RAIL, "C1 || (R2 + R3), across D1, BR1, across C2, across D2]"),
)


@pytest.mark.parametrize(("amps", "word"), [("0.2 A", "not shown"), ("0.15 A", "shown")])
def test_what_opens_at_the_highest_mains_alone_is_not_shown(amps: str, word: str) -> None:
    """0.41 A at the least at the low end, 0.5 A at the high one: of 0.2 A it is sure to open at the high one only."""
    text = defective("fuse ahead of a plain resistor")
    text = text.replace("current: 1 A, voltage: 250", f"current: {amps}, voltage: 250")
    (row,) = ledger(text).rows(part("C1"), "short_cleared")
    assert row.value == Category.of(word)


def test_half_a_wave_with_its_zener_ahead() -> None:
    """Half of the current; the zener conducts forward too, and its drop counts."""
    book, whole = ledger(changed(*HALF)), ledger()
    (half,) = value(book, BOARD, "current_available", "running")
    (both,) = value(whole, BOARD, "current_available", "running")
    assert half.near / both.near == pytest.approx(0.51, abs=0.01)
    power = max(one.high for one in value(book, part("D1"), "power", "running"))
    of_bridge = max(one.high for one in value(whole, part("D1"), "power", "running"))
    assert power / of_bridge == pytest.approx(0.5 * (12.6 + 1.2) / 12.6, rel=0.03)
    assert max(one.high for one in value(book, part("BR1"), "reverse_voltage", "running")) == pytest.approx(13.8)


def test_half_a_wave_with_its_zener_behind_doubles_when_it_opens() -> None:
    """A plain diode carries the other half cycle: without the zeners the rail climbs to twice the crest."""
    behind = (
        HALF[0],
        (
            "C1 || (R2 + R3), BR1, across C2, across D1, across D2]",
            "C1 || (R2 + R3), across D9, BR1, across C2, across D1]",
        ),
        (
            "  D2: {kind: suppressor diode, voltage: 15 V 5%, rated: {power: {50 degC: 1 W, 150 degC: 0 W}}}",
            "  D9: {kind: line diode, rated: {reverse_voltage: 600 V, current: 0.8 A, surge_current: 30 A at 8.3 ms}}",
        ),
    )
    book = ledger(changed(*behind))
    (open_,) = value(book, part("C2"), "voltage_clamp_open", "running")
    assert open_.high == pytest.approx(2 * sqrt(2) * 253)
    power = max(one.high for one in value(book, part("D1"), "power", "running"))
    (least,) = value(book, BOARD, "current_available", "running")
    assert power < 12.7 * 2 * 53 * 517e-9 * (sqrt(2) * 253) and least.low > 0.0


def test_nothing_flows_where_nothing_carries_the_other_half_cycle() -> None:
    alone = (HALF[0], ("C1 || (R2 + R3), BR1,", "C1 || (R2 + R3), BR1,"))
    (row,) = [
        row
        for row in ledger(changed(*alone)).rows(BOARD, "current_available")
        if row.case and row.case.group == "running"
    ]
    assert row.value is None and "nothing carries the other half cycle" in row.note


def test_a_string_of_leds_as_load() -> None:
    """No clamp: the string holds the rail while it is lit, and takes the whole current."""
    lamp = (
        ("board: {voltage: 12 V 10%, current: 16 mA", "board: {voltage: 90..100 V, current: 16 mA"),
        (
            "  D1: {kind: zener diode, voltage: 12 V 5%, rated: {power: {50 degC: 1.3 W, 150 degC: 0 W}}}",
            "  D1: {kind: LED, rated: {current: 20 mA}}",
        ),
        ("  D2: {kind: suppressor diode, voltage: 15 V 5%, rated: {power: {50 degC: 1 W, 150 degC: 0 W}}}", "  #"),
        (", across C2, across D1, across D2]", ", across C2]"),
        ("board: [across C2]", "board: [D1]"),
    )
    text = changed(*lamp)
    (least,) = value(ledger(text), BOARD, "current_available", "running")
    assert least.low == pytest.approx(4 * 47 * 423e-9 * (sqrt(2) * 207 - 100 - 2.4), rel=0.03)
    (finding,) = [one for one in found(review(text), "dropper-lights-current", "D1") if one.verdict == "fail"]
    assert finding.blocks
    (rail,) = value(ledger(text), part("C2"), "voltage", "running")
    assert rail.high == pytest.approx(sqrt(2) * 253)  # the string opens


RESISTORS = (HERE / "dropping_resistors.derate.yaml").read_text(encoding="utf-8")


def test_twenty_resistors_are_judged_for_power_and_voltage_and_are_no_surge_part() -> None:
    one, book = review(RESISTORS), ledger(RESISTORS)
    each_one = [found(one, "dropping-resistor-power", f"R{k}") for k in range(1, 21)]
    assert all(each and each[0].verdict in ("pass", "marginal") for each in each_one)
    assert len([each for each in found(one, "dropping-resistor-voltage") if each.verdict == "pass"]) == 20
    hot = review(RESISTORS.replace("70 degC: 0.25 W", "70 degC: 0.1 W"))
    assert len([each for each in found(hot, "dropping-resistor-power") if each.verdict == "fail" and each.blocks]) == 20
    assert [each.verdict for each in found(one, "surge-part-fitted")] == ["fail"]
    assert not found(one, "plain-resistor-as-fuse") or all(
        each.verdict == "not applicable" for each in found(one, "plain-resistor-as-fuse")
    )
    rms = max(value_.far for value_ in value(book, LINE, "current_rms", "running"))
    assert max(each.far for each in value(book, part("R7"), "power", "running")) == pytest.approx(
        500 * rms**2, rel=0.02
    )


FLAWED = """\
derate: 1
supply:
  name: Board of five volts
  sample: invented demonstration data, after a board whose flaws its own maker listed
  basis: opened sample
  protection_class: II
  connection: plug-in
  parts_list: complete
  plate: {mains: 230 V, frequency: 50 Hz, mains_current: 0.2 A, outputs: {board: {voltage: 5 V, current: 100 mA}}}
site: {ambient: 0..40 degC, pollution_degree: 2, overvoltage_category: II, mains_tolerance: 10%}
packs: [commercial-practice, mains-fusing, insulation-household]
known_by: {parts: marked, rated: data sheet, circuit: seen, barriers: measured}
parts:
  C1: {kind: film capacitor, class: X2, capacitance: 2.2 uF 10%, rated: {voltage: 275 Vac}}
  R3: film resistor 1 Mohm 5% 0.25 W 350 V
  BR1: {kind: bridge rectifier, rated: {reverse_voltage: 600 V, current: 1 A, surge_current: 30 A at 8.3 ms}}
  C2: electrolytic capacitor 1000 uF 20% 25 V
  Z1, Z2: {kind: zener diode, voltage: 12 V 5%, rated: {power: 0.5 W}}
  R1, R2: {kind: film resistor, resistance: 20 kohm 5%, rated: {power: 0.25 W}}
  U1: {kind: linear regulator, rated: {voltage: 35 V}}
circuit:
  line: [C1 || R3, BR1, across C2, across R1 + Z1, across R2 + Z2]
  outputs: {board: [U1]}
  bridging: none
"""


@pytest.mark.parametrize(
    ("rule", "subject", "verdict"),
    [
        ("output-capacitor-voltage", "C2", "fail"),  # 25 V, and the rail climbs to the crest: the zeners hold nothing
        ("rating-is-asked", "U1", "not assessed"),  # 35 V at the regulator: nobody worked it out, and it blocks
        ("household-plug-voltage", "supply", "fail"),  # 206 V and more a second after
        ("mains-protective-part", "supply", "fail"),  # no fuse
        ("mains-rectifier-surge-at-switch-on", "BR1", "not assessed"),  # no inrush limit: mains alone holds it
        ("rating-is-asked", "R1", "not assessed"),  # the branch of a zener takes watts
        ("dropping-capacitor-short-is-cleared", "C1", "fail"),
    ],
)
def test_a_board_with_its_flaws_listed(rule: str, subject: str, verdict: str) -> None:
    (told,) = found(review(FLAWED), rule, subject)
    assert told.verdict == verdict and told.blocks, told.message


def test_the_word_is_found_from_the_parts_where_nobody_says_it() -> None:
    text = changed(("  topology: dropper\n", ""))
    design = read_design(text, BELL.path)
    assert design.file.supply.topology is not None and design.file.supply.topology.word == "dropper"
    assert "C1 in series with the mains" in design.file.supply.topology.note
    (row,) = ledger(text).rows(SUPPLY, "supply.topology")
    assert row.known_by == "computed"
    assert [(one.rule, str(one.subject)) for one in review(text).findings if one.blocks] == []


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ((("topology: dropper", "topology: flyback"),), "capacitive dropper and no flyback"),
        ((("topology: dropper", "topology: buck"),), "capacitive dropper and no buck"),
        (
            (("line: [R1, across RV1, C1 || (R2 + R3), BR1", "line: [across RV1, BR1"),),
            "nothing in series drops the mains",
        ),
    ],
)
def test_a_word_that_the_line_speaks_against_is_refused(changes: tuple[tuple[str, str], ...], says: str) -> None:
    with pytest.raises(ReadingError, match=says):
        read_design(changed(*changes), BELL.path)


def test_a_line_that_ends_before_its_rectifier_is_judged_as_far_as_it_is_written() -> None:
    text = changed(
        ("C1 || (R2 + R3), BR1, across C2, across D1, across D2]", "C1]"),
        ("parts_list: complete", "parts_list: main parts"),
    )
    text = text.replace("  R2, R3:", "  #").replace("board: [across C2]", "{}")
    one = BELL.review(text)
    assert one is None or any(each.blocks for each in one.findings)


def test_what_is_not_worked_out_says_so() -> None:
    odd = changed(
        ("C1 || (R2 + R3), BR1,", "C1 || (R2 + R3), across RV9, BR1,"), ("  RV1:", "  RV9: {kind: choke}\n  RV1:")
    )
    row = available(ledger(odd))
    assert row.value is None and "RV9 across behind what drops the mains" in row.note
