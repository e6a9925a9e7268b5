"""The self-oscillating flyback by its demonstration: untouched nothing blocks; each single defect is found by its rule;
what names it, what speaks against its word, its rows by hand, gate and base, regulation by a winding, its faults."""

from __future__ import annotations

from math import pi, sqrt

import pytest
from defects import Demonstration, assert_found, defects, found
from law_bench import WORKSHOP

from derate.circuit.self_oscillating import cycle
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import BULK, part
from derate.study.faults import design_faults
from derate.study.work import worked
from derate.terms.quantity_names import QuantityName
from derate.terms.values import ReadingError, Value

LANTERN = Demonstration.shipped("pond-lantern")
changed, review, ledger = LANTERN.changed, LANTERN.judged, LANTERN.ledger
DEFECTS = defects("self_oscillating_defects.yaml")
Q1, T1, MAIN = part("Q1"), Subject("transformer", ("T1",)), Subject("output", ("main",))
PRIMARY = Subject("path", ("primary",))


def rows(book: Ledger, subject: Subject, quantity: QuantityName, group: str = "running") -> list[Entry]:
    every = [row for row in book.rows(subject, quantity) if row.case is not None and row.case.group == group]
    assert every, (subject, quantity)
    return every


def value(book: Ledger, subject: Subject, quantity: QuantityName, group: str = "running") -> Value:
    one = rows(book, subject, quantity, group)[-1]
    assert isinstance(one.value, Value), (one.note, one.missing)
    return one.value


def test_untouched_nothing_blocks() -> None:
    assert [(one.rule, str(one.subject)) for one in review().findings if one.blocks] == []
    verdicts = {one.rule: one.verdict for one in review().findings if one.verdict != "not applicable"}
    for rule in (
        "switch-voltage",
        "switch-voltage-in-overload",
        "switch-base-reverse-voltage",
        "output-capacitor-with-regulation-lost",
        "self-oscillation-above-hearing",
        "core-saturation",
        "start-up-resistor-voltage",
    ):
        assert verdicts[rule] == "pass", rule


def test_they_are_enough() -> None:
    assert len(DEFECTS) >= 15


@pytest.mark.parametrize("name", DEFECTS)
def test_each_single_defect_is_found_with_its_reason(name: str) -> None:
    defect = DEFECTS[name]
    one = review(changed(*((old, new) for old, new in defect["changes"])))
    assert_found(one, defect)


# ---- rows ------------------------------------------------------------------------------------------------------------


def test_the_limit_is_coldest_and_the_storage_adds_to_it() -> None:
    """(0.75 V + 2 mV/K × 25 K) / 3.9 ohm less 1 % at 0 degC; 0.6 us at 373 V in 5.6 mH less 7 %."""
    book = ledger()
    limit = value(book, part("Q2"), "current_limit", "converter")
    assert limit.high == pytest.approx((0.75 + 0.05) / (3.9 * 0.99))
    hottest = max(one.value.far for one in rows(book, part("Q2"), "air_temperature") if isinstance(one.value, Value))
    assert limit.low == pytest.approx((0.58 - 2e-3 * (hottest - 25.0)) / (3.9 * 1.01))
    bulk = value(book, BULK, "voltage_peak")
    peak = value(book, Q1, "current_peak", "overload")
    added = bulk.high * 0.6e-6 / (5.6e-3 * 0.93)
    assert peak.high == pytest.approx(limit.high + added)
    assert value(book, Q1, "added_current", "converter").high == pytest.approx(added)
    flux = value(book, T1, "flux_density", "overload")
    assert flux.high == pytest.approx((5.6e-3 * 1.07 * limit.high + bulk.high * 0.6e-6) / (240 * 23e-6), rel=2e-3)


def test_the_frequency_follows_mains_and_load() -> None:
    at = {(one.case.mains, one.case.load): one.value for one in rows(ledger(), SUPPLY, "frequency") if one.case}
    assert {load for _, load in at} == {"full", "none"} and {mains for mains, _ in at} == {198.0, 264.0}
    low, high = at[198.0, "full"], at[264.0, "full"]
    assert isinstance(low, Value) and isinstance(high, Value) and low.low < high.low and low.high < high.high
    idle = value(ledger(), PRIMARY, "idle_time", "converter")
    assert idle.high == pytest.approx(pi * sqrt(5.6e-3 * 1.07 * 20e-12) + 1.5e-6)
    valley = value(ledger(), BULK, "voltage_min")
    carried = rows(ledger(), PRIMARY, "power_carried")[0].value
    reflected = value(ledger(), PRIMARY, "reflected_voltage", "converter")
    assert isinstance(carried, Value)
    least = cycle(valley.low, carried.high, 5.6e-3 * 1.07, reflected.low, idle=idle.high, delay=0.6e-6).frequency
    assert low.low == pytest.approx(0.95 * least)
    light = [one for (_, load), one in at.items() if load == "none" and isinstance(one, Value)]
    assert max(one.high for one in light) > high.high


def test_a_stated_frequency_caps_nothing() -> None:
    """Where it runs is a reading of it: the peak at full load does not change with it."""
    other = changed(("frequency: 52..97 kHz", "frequency: 300 kHz"))
    assert value(ledger(other), Q1, "current_peak") == value(ledger(), Q1, "current_peak")


def test_the_switch_alone_goes_as_far_as_its_gain() -> None:
    """Without a second transistor: gain times base current, and no storage behind it."""
    text = changed(*DEFECTS["nothing holds the base, and a capacitor in the drive"]["changes"])
    text = text.replace("Q1, across Q2]", "Q1]").replace("[T1.drive, R4, C5, Q1]", "[T1.drive, R4, Q1]")
    text = text.replace("other: {Q2: load side, D4: load side}", "other: {Q2: load side, D4: load side, C5: load side}")
    book = ledger(text)
    drive = Subject("circuit", ("drive",))
    base = [one.value for one in rows(book, drive, "base_current", "converter") if isinstance(one.value, Value)][-1]
    bulk = value(book, BULK, "voltage_peak")
    assert base.high == pytest.approx((bulk.high / (240 / 17) - 0.6) / (470 * 0.95) + bulk.high / (2 * 2.2e6 * 0.95))
    assert value(book, PRIMARY, "current_limit", "converter").high == pytest.approx(35.0 * base.high)
    assert value(book, Q1, "storage_time", "converter").high == 0.0
    reversed_ = value(book, Q1, "base_reverse_voltage")
    top = value(book, Q1, "voltage_peak", "overload")
    assert reversed_.high == pytest.approx((top.high - bulk.low) / (240 / 17), rel=0.02)


MOSFET = (
    (
        "    kind: bipolar transistor\n    base_drive: negative at turn-off             # seen: the winding pulls it "
        "below the emitter, D4 holds it there\n    base_current: 44 mA 10% (measured; scope across R4)\n",
        "    kind: MOSFET\n",
    ),
)


def gated(*more: tuple[str, str]) -> str:
    head, _, rest = changed(*MOSFET).partition("    rated: {collector_base_voltage: 900 V")
    _, _, tail = rest.partition("800 V: 0.7 A}}\n")
    switch = "    rated: {voltage: 800 V, gate_voltage: 20 V, current: 2 A, on_resistance: 4 ohm at 25 degC}\n"
    return changed(*more, text=head + switch + tail)


def test_a_gate_sees_the_winding_at_the_highest_mains() -> None:
    book = ledger(gated(("[T1.drive, R4, C5, Q1, across D4, across Q2]", "[T1.drive, R4, Q1, across D4]"), ("  earth: none", "  earth: none\n  other: {C5: load side}")))  # noqa: E501
    bulk = value(book, BULK, "voltage_peak")
    assert value(book, Q1, "gate_voltage").high == pytest.approx(bulk.high / (240 / 17))
    with_charge = ledger(gated(("Q1, across D4, across Q2]", "Q1, across D4]")))
    reflected = value(with_charge, PRIMARY, "reflected_voltage", "converter")
    gate = value(with_charge, Q1, "gate_voltage")
    top = value(with_charge, Q1, "voltage_peak", "overload")
    assert top.high - bulk.low > reflected.high
    assert gate.high == pytest.approx(top.high / (240 / 17))
    assert gate.near == pytest.approx(bulk.high / (240 / 17), rel=0.01)
    (finding,) = found(review(gated(("Q1, across D4, across Q2]", "Q1, across D4]"))), "switch-gate-voltage")
    assert finding.verdict in ("fail", "not assessed")
    held = ("Q1, across D4, across Q2]", "Q1, across D4, across D8]")
    zener = gated(held, (", across C6, across D8]", ", across C6]"))
    assert value(ledger(zener), Q1, "gate_voltage").high == pytest.approx(6.8 * 1.05)


RAIL = (
    ("  earth: none", "  earth: none\n  auxiliary: [T1.drive, D9, across C9, D10]\n  other: {U3: spare, R20: spare, "
     "R22: spare, R21: spare, R23: spare, U2: spare}"),
    ("senses: main, through: U2, reference: U3, divider: {main: R20, lower: R22}, coupler_resistor: R21, "
     "bias_resistor: R23, coupler_supply: main}", "senses: T1.drive}"),
    ("bridging: {U2: [primary, secondary]}", "bridging: none"),
    ("  R20, R22: film", "  D9: signal diode 75 V 0.15 A\n  C9: electrolytic capacitor 22 uF 25 V\n"
     "  D10: zener diode 5.6 V 5%\n  R20, R22: film"),
)


def test_a_zener_on_the_rail_holds_the_output_by_turns() -> None:
    book = ledger(changed(*RAIL))
    held = [one for one in rows(book, MAIN, "voltage") if one.formula.startswith("by the zener of the rail")]
    assert held and isinstance(held[0].value, Value)
    drop = [one.value for one in book.rows(MAIN, "forward_drop") if isinstance(one.value, Value)][-1]
    rail = book.rows(Subject("circuit", ("auxiliary",)), "forward_drop")
    own = [one.value for one in rail if isinstance(one.value, Value)][-1]
    most = ((5.6 * 1.05 + 0.9 + own.high) / (17 / 16) - drop.low) * 1.05
    assert held[0].value.high == pytest.approx(most)
    one = review(changed(*RAIL, ("zener diode 5.6 V 5%", "zener diode 15 V 5%")))
    (finding,) = found(one, "output-voltage-by-its-winding")
    assert finding.verdict == "fail" and finding.blocks


# ---- the word --------------------------------------------------------------------------------------------------------


def test_the_word_is_found_from_drive_and_start_resistors() -> None:
    text = changed(("  topology: self-oscillating flyback\n", ""))
    design = read_design(text, LANTERN.path)
    assert design.file.supply.topology is not None
    assert design.file.supply.topology.word == "self-oscillating flyback"
    assert "a winding drives Q1" in design.file.supply.topology.note
    assert [(one.rule, str(one.subject)) for one in review(text).findings if one.blocks] == []
    started = changed(("  drive: [T1.drive, R4, C5, Q1, across D4, across Q2]   #", "  #"), text=text)
    started = started.replace("  earth: none", "  earth: none\n  other: {R4: base, C5: base, D4: base}")
    started = started.replace("drive: {turns: 17, wire", "drive: {turns: 17, tied_to: bulk minus, wire")
    design = read_design(started, LANTERN.path)
    assert design.file.supply.topology is not None
    assert "start resistors lead to Q1 itself" in design.file.supply.topology.note


def test_a_controller_anywhere_and_nothing_is_recognised() -> None:
    text = changed(("  topology: self-oscillating flyback\n", ""), ("U3: {kind: shunt reference, voltage: 2.495 V 1%}", "U3: {kind: controller}"))  # noqa: E501
    assert read_design(text, LANTERN.path).file.supply.topology is None


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ((("by: Q2, limits", "type: fixed frequency, by: Q2, limits"),), "is not that of a switch that drives itself"),
        ((("  Q2: {kind: bipolar transistor", "  Q2: {kind: controller"),), "Q2 controls the switch"),
        ((("topology: self-oscillating flyback", "topology: flyback"),), "drives itself"),
        ((("topology: self-oscillating flyback", "topology: dropper"),), "no dropper|not known here|no key"),
    ],
)
def test_a_word_that_the_circuit_speaks_against_is_refused(changes: tuple[tuple[str, str], ...], says: str) -> None:
    with pytest.raises(ReadingError, match=says):
        read_design(changed(*changes), LANTERN.path)


def test_a_flyback_of_that_control_is_told_its_own_word() -> None:
    text = LANTERN.text.replace("topology: self-oscillating flyback", "topology: flyback")
    text = text.replace("  drive: [T1.drive, R4, C5, Q1, across D4, across Q2]   #", "  #")
    text = text.replace("R3, Q1]", "R3, across C5]")
    text = text.replace("by: Q2, limits", "type: self-oscillating, by: Q2, limits")
    with pytest.raises(ReadingError, match="write topology: self-oscillating flyback"):
        read_design(text, LANTERN.path)


# ---- holes and faults ------------------------------------------------------------------------------------------------


def test_what_is_not_known_is_a_hole_with_its_reason() -> None:
    untraced = changed(("  drive: [T1.drive, R4, C5, Q1, across D4, across Q2]   #", "  #"))
    untraced = untraced.replace("  earth: none", "  earth: none\n  other: {R4: base, C5: base, D4: base}")
    untraced = untraced.replace("drive: {turns: 17, wire", "drive: {turns: 17, tied_to: bulk minus, wire")
    (row,) = rows(ledger(untraced), Q1, "base_reverse_voltage")
    assert row.value is None and "supply: circuit.drive" in row.missing
    odd = ledger(changed(("[T1.drive, R4, C5, Q1", "[T1.drive, R4, C5, L9, Q1"), ("  R4: film", "  L9: choke\n  R4: film")))  # noqa: E501
    row = rows(odd, Subject("circuit", ("drive",)), "current_limit", "converter")[-1]
    assert row.value is None and "L9 in the drive" in row.note


def test_its_faults_are_listed_and_worked_out() -> None:
    design = read_design(LANTERN.text, LANTERN.path)
    packs = WORKSHOP.packs_for(LANTERN.path, design, Settings())
    listed = design_faults(design.structure, worked(design, packs), packs.assumed)
    every = {one.fault: one for one in listed}
    names = set(every)
    for name in (
        "Q1 shorted", "R2 open", "R4 open", "C5 open", "Q2 open", "Q2 shorted", "R9 open", "R9 shorted", "U2 LED open",
        "U2 transistor shorted", "U3 open", "output main shorted", "D7 open", "D5 open", "Q1 replaced by a slower type",
    ):
        assert name in names, name
    # a switch that only its start resistors drive: 373 V squared times a gain of 35 by 4.4 Mohm less 5 %
    assert "turns that into heat" in every["R4 open"].note
    heat = dict(every["R4 open"].beside)["fault_power"]
    assert heat.high == pytest.approx((sqrt(2.0) * 264.0) ** 2 * 35.0 / (4.4e6 * 0.95), rel=0.01)
    short = every["output main shorted"]
    assert "waits for the secondary" in short.note
    assert short.current_rms is not None and short.current_rms.high < 15.0 * 0.4
    assert every["Q2 open"].opening == "not shown" and "gain of the switch" in every["Q2 open"].note


# ---- what only seems to hold or to be known --------------------------------------------------------------------------


@pytest.mark.parametrize("across", ["D8 + D11", "D8 + R30"])
def test_a_zener_with_something_in_series_does_not_hold_an_output_at_its_own_voltage(across: str) -> None:
    book = ledger(changed(
        (", across C6, across D8]", f", across C6, across {across}]"),
        ("  R20, R22: film", "  D11: suppressor diode 6.8 V 5%\n  R30: film resistor 1 kohm 5%\n  R20, R22: film"),
        *(() if "D11" in across else (("  earth: none", "  earth: none\n  other: {D11: spare}"),)),
        *(() if "R30" in across else (("  earth: none", "  earth: none\n  other: {R30: spare}"),)),
    ))  # fmt: skip
    assert value(book, part("C6"), "voltage_regulation_lost").high > 2.0 * 6.8


def test_zeners_in_series_hold_a_gate_to_nothing_known() -> None:
    held = ("Q1, across D4, across Q2]", "Q1, across D4, across D11 + D8]")
    text = gated(held, (", across C6, across D8]", ", across C6]"))
    text = text.replace("  R20, R22: film", "  D11: zener diode 12 V 5%\n  R20, R22: film")
    (row,) = rows(ledger(text), Q1, "gate_voltage")
    assert row.value is None and "D11 and D8 in the drive" in row.note


def test_a_diode_with_a_resistor_in_series_does_not_hold_a_base() -> None:
    text = changed(
        ("Q1, across D4, across Q2]", "Q1, across D11 + R30]"),
        ("control: {by: Q2, limits: R9", "other: {Q2: spare, D4: spare}\n  control: {limits: R9"),
        ("  R20, R22: film", "  D11: signal diode 75 V 0.15 A\n  R30: film resistor 1 kohm 5%\n  R20, R22: film"),
    )
    (row,) = rows(ledger(text), Q1, "base_reverse_voltage")
    assert row.value is None and "D11 in the drive" in row.note


def test_start_resistors_in_parallel_are_less_than_each() -> None:
    text = changed(("start_up: [R2 + R3, Q1]", "start_up: [R2 || R3, Q1]"))
    assert heat_of_an_open_drive(text) == pytest.approx((sqrt(2.0) * 264.0) ** 2 * 35.0 / (1.1e6 * 0.95), rel=0.01)


def test_without_start_resistors_known_an_open_drive_has_no_heat_of_its_own() -> None:
    spare = ("  earth: none", "  earth: none\n  other: {R2: start, R3: start}")
    untraced = changed(("  start_up: [R2 + R3, Q1]", "  #"), spare)
    assert heat_of_an_open_drive(untraced) is None
    unread = changed(("R2, R3: {kind: film resistor, resistance: 2.2 Mohm 5%,", "R2, R3: {kind: film resistor,"))
    assert heat_of_an_open_drive(unread) is None


def heat_of_an_open_drive(text: str) -> float | None:
    design = read_design(text, LANTERN.path)
    packs = WORKSHOP.packs_for(LANTERN.path, design, Settings())
    listed = {one.fault: one for one in design_faults(design.structure, worked(design, packs), packs.assumed)}
    heat = dict(listed["R4 open"].beside).get("fault_power")
    return heat.high if heat is not None else None


UNKNOWN_SECOND = ("  Q2: {kind: bipolar transistor, current", "  Q2: {kind: unknown, current")
WITHOUT_DIODE = (
    ("Q1, across D4, across Q2]", "Q1, across Q2]"),
    ("  earth: none", "  earth: none\n  other: {D4: spare}"),
)


def test_a_second_transistor_may_hold_a_base_and_may_not() -> None:
    """What its own base is fed by stands on no path: from one junction to all that winding and capacitor do."""
    text = changed(*WITHOUT_DIODE)
    book = ledger(text)
    top, bulk = value(book, Q1, "voltage_peak", "overload"), value(book, BULK, "voltage_peak")
    reverse = value(book, Q1, "base_reverse_voltage")
    assert (reverse.low, reverse.near) == (0.4, 0.4) and reverse.high > (top.high - bulk.high) / (240 / 17) + 9.0
    (finding,) = found(review(text), "switch-base-reverse-voltage", "Q1")
    assert finding.verdict == "not assessed" and finding.blocks
    assert value(ledger(), Q1, "base_reverse_voltage") == Value.between(0.4, 1.3)


@pytest.mark.parametrize("other", ["across Q2", "across D12"])
def test_only_a_diode_is_sure_to_empty_a_capacitor_in_the_drive(other: str) -> None:
    """Without it the capacitor may keep its charge, and the drive gives out at nothing that can be told.

    A suppressor diode may break down both ways: what it holds a base at is then its breakdown.
    """
    text = changed(
        ("Q1, across D4, across Q2]", f"Q1, {other}]"),
        ("  earth: none", "  earth: none\n  other: {D4: spare}"),
        *((("  R20, R22: film", "  D12: suppressor diode 15 V\n  R20, R22: film"),) if "D12" in other else ()),
    )
    drive = Subject("circuit", ("drive",))
    assert value(ledger(), drive, "current_limit", "converter").near > 0.1
    limit = value(ledger(text), drive, "current_limit", "converter")
    assert (limit.low, limit.near) == (0.0, 0.0)
    reverse = value(ledger(text), Q1, "base_reverse_voltage")
    assert reverse.low == 0.4 and reverse.high > 9.0
    zener = text.replace("D12: suppressor diode", "D12: zener diode")
    assert (value(ledger(zener), drive, "current_limit", "converter").near > 0.1) == (other == "across D12")


def test_a_second_transistor_of_unknown_kind_holds_nothing() -> None:
    text = changed(UNKNOWN_SECOND, *WITHOUT_DIODE)
    every = found(review(text), "switch-base-reverse-voltage", "Q1")
    assert [finding.verdict for finding in every] == ["not assessed"]
    row = rows(ledger(text), PRIMARY, "current_limit", "converter")[-1]
    assert row.value is None and "Q2: part.kind" in row.missing and not row.note
    (reverse,) = rows(ledger(text), Q1, "base_reverse_voltage")
    assert reverse.value is None and reverse.missing == ("Q2: part.kind",)


def test_a_limit_by_what_may_be_no_transistor_is_no_more_than_the_drive_gives() -> None:
    greater = ("  C4: {kind: film capacitor, capacitance: 1 nF", "  C4: {kind: film capacitor, capacitance: 4.7 nF")
    text = changed(UNKNOWN_SECOND, ("Q1, across D4, across Q2]", "Q1]"), WITHOUT_DIODE[1], greater)
    drive = Subject("circuit", ("drive",))
    asked, sure = (rows(ledger(one), PRIMARY, "current_limit", "converter")[-1].value for one in (text, LANTERN.text))
    by_drive = value(ledger(text), drive, "current_limit", "converter")
    assert isinstance(asked, Value) and isinstance(sure, Value)
    assert asked.low == 0.0 and asked.high == pytest.approx(by_drive.high) and asked.high > sure.high
    assert value(ledger(text), Q1, "base_reverse_voltage").high > 9.0


def test_a_diode_across_the_winding_holds_no_base_behind_a_capacitor() -> None:
    text = changed(
        ("[T1.drive, R4, C5, Q1, across D4, across Q2]", "[T1.drive, across D11, R4, C5, Q1]"),
        ("control: {by: Q2, limits: R9", "other: {Q2: spare, D4: spare}\n  control: {limits: R9"),
        ("  R20, R22: film", "  D11: signal diode 75 V 0.15 A\n  R20, R22: film"),
    )
    (row,) = rows(ledger(text), Q1, "base_reverse_voltage")
    assert row.value is None and row.note == "not covered: D11 in the drive is not worked out"
    behind = text.replace("[T1.drive, across D11, R4, C5, Q1]", "[T1.drive, R4, C5, across D11, Q1]")
    assert value(ledger(behind), Q1, "base_reverse_voltage").high == 1.3


@pytest.mark.parametrize(("between", "kind", "holds"), [
    ("R30", "film resistor 1 ohm 5%", False),
    ("D11", "signal diode 75 V 0.15 A", False),
    ("L9", "choke 10 uH", True),
])  # fmt: skip
def test_a_zener_behind_a_resistor_does_not_hold_the_first_capacitor(between: str, kind: str, holds: bool) -> None:
    text = changed(
        ("across C6, across D8]", f"across C6, {between}, across D8]"),
        ("  R20, R22: film", f"  {between}: {kind}\n  R20, R22: film"),
    )
    assert (value(ledger(text), part("C6"), "voltage_regulation_lost").high < 1.06 * 6.8) == holds


def test_what_lies_beside_a_start_resistor_takes_the_current_past_it() -> None:
    text = changed(
        ("start_up: [R2 + R3, Q1]", "start_up: [R2 + (R3 || D11), Q1]"),
        ("  R20, R22: film", "  D11: signal diode 75 V 0.15 A\n  R20, R22: film"),
    )
    assert heat_of_an_open_drive(text) is None


def test_a_switch_that_the_primary_path_leaves_out_is_told() -> None:
    text = changed(("primary: [T1.primary, Q1, R9]", "primary: [T1.primary, R9]"))
    with pytest.raises(ReadingError, match="no switch stands on circuit.primary"):
        read_design(text, LANTERN.path)


def test_without_start_resistors_the_drive_gives_out_nobody_knows_where() -> None:
    unread = changed(("R2, R3: {kind: film resistor, resistance: 2.2 Mohm 5%,", "R2, R3: {kind: film resistor,"))
    row = rows(ledger(unread), Subject("circuit", ("drive",)), "current_limit", "converter")[-1]
    assert row.value is None and "R2: part.resistance" in row.missing


def test_at_low_mains_a_gate_sees_most_as_the_switch_opens() -> None:
    spare = ("  earth: none", "  earth: none\n  other: {C5: load side}")
    text = gated(("[T1.drive, R4, C5, Q1, across D4, across Q2]", "[T1.drive, R4, Q1, across D4]"), spare)
    text = text.replace("mains: 220..240 V", "mains: 100..120 V")
    book = ledger(text)
    top = value(book, Q1, "voltage_peak", "overload")
    bulk = value(book, BULK, "voltage_peak")
    assert value(book, Q1, "gate_voltage").high >= (top.high - bulk.high) / (240 / 17)


@pytest.mark.parametrize(
    ("stated", "verdict"), [("52..97 kHz (measured; at full load)", "pass"), ("9 kHz 5%", "fail"), ("3 MHz 5%", "fail")]
)
def test_a_stated_frequency_that_the_stage_cannot_have_is_said(stated: str, verdict: str) -> None:
    text = changed(("frequency: 52..97 kHz (measured; at full load)", f"frequency: {stated}"))
    (one,) = found(review(text), "switching-frequency-agrees", "supply")
    assert one.verdict == verdict
