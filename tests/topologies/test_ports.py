"""Ports behind one stage by their demonstration: untouched nothing blocks; each single defect is found by its rule.

One defect in three in an ordinary run, all of them by brute force. Rows are held to arithmetic by hand.
"""

from __future__ import annotations

from math import acos, cos, hypot, inf, sin, sqrt

import pytest
from brute_force import share
from defects import Demonstration, assert_found, defects, found
from law_bench import WORKSHOP

from derate.circuit import buck
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import Subject
from derate.report.circuit.joined import joined
from derate.stress.context import part
from derate.study.faults import FaultRow, design_faults
from derate.study.work import worked
from derate.terms.quantity_names import QuantityName
from derate.terms.values import ReadingError, Value

BENCH = Demonstration.shipped("night-stand")
changed, review, ledger = BENCH.changed, BENCH.judged, BENCH.ledger
DEFECTS = defects("port_defects.yaml")
BUS, C, A = Subject("output", ("bus",)), Subject("port", ("C",)), Subject("port", ("A",))
SHARED = "sharing: {by: U8, power: 14 W (data sheet)}"
NO_SHARER = ("  U8: {kind: port controller}", "  #")
STOP = "at: 5.28..5.38 V (data sheet), within: 0.6..1 us (data sheet)"
GUARD = f'      overvoltage: {{by: U7, opens: Q5, blocks: "yes", {STOP}}}'
RULES = (
    "port-is-worked-out",
    "ports-together-within-stage",
    "port-alone-within-stage",
    "port-reaches-its-voltage",
    "port-asks-the-cable",
    "port-lead-current",
    "port-when-switch-shorts",
    "port-when-feedback-opens",
    "port-stop-follows-what-is-advertised",
    "port-capacitor-when-switch-shorts",
    "load-switch-voltage",
    "load-switch-current",
    "port-switch-voltage",
    "port-switch-current",
    "port-rectifier-voltage",
    "port-rectifier-current",
    "port-second-switch-voltage",
    "port-second-switch-current",
    "port-inductor-saturation",
    "port-inductor-current",
    "port-capacitor-voltage",
    "port-capacitor-ripple-current",
    "bus-capacitor-ripple-with-ports",
    "port-switch-junction",
    "port-rectifier-junction",
    "port-switch-when-regulation-lost",
    "port-rectifier-when-regulation-lost",
)


def value(subject: Subject, quantity: QuantityName, text: str = "") -> Value:
    row = ledger(text).find(subject, quantity)
    assert row is not None and isinstance(row.value, Value), row
    return row.value


def test_a_table_of_on_resistance_that_ends_short_of_a_hot_channel_is_carried_on() -> None:
    """9 to 12 mohm at 25 degC and no more than 16 at 100 degC: 24 mohm at the 150 degC of a hot channel."""
    said = "on_resistance: 9..12 mohm at 25 degC"
    text = changed((said, "on_resistance: {25 degC: 9..12 mohm, 100 degC: 16 mohm}"))
    for given, hot in ((text, 16e-3 * 2.8**0.4), ("", 12e-3 * 2.8)):
        (row,) = ledger(given).rows(Subject("part", ("Q2",)), "hot_resistance")
        assert isinstance(row.value, Value) and row.value.high == pytest.approx(hot)


def test_untouched_nothing_blocks() -> None:
    one = review()
    assert [(each.rule, str(each.subject)) for each in one.findings if each.blocks] == []
    assert not [each.rule for each in one.findings if each.verdict == "fail"]
    for rule in RULES:
        verdicts = {each.verdict for each in found(one, rule)} - {"not applicable"}
        assert verdicts and verdicts <= {"pass", "marginal"}, (rule, verdicts)


def test_there_are_enough_defects() -> None:
    assert len(DEFECTS) >= 15


@pytest.mark.parametrize("name", list(DEFECTS)[:: share(3)])
def test_each_single_defect_is_found_with_its_reason(name: str) -> None:
    defect = DEFECTS[name]
    one = review(changed(*map(tuple, defect["changes"])))
    if defect.get("blocks", True):
        assert_found(one, defect)
        return
    (own,) = found(one, defect["rule"], defect["subject"])
    assert own.verdict == "fail" and defect["says"] in own.message


# ---- the sum ---------------------------------------------------------------------------------------------------------


def test_each_alone_by_hand() -> None:
    """15 W at 93 % and 12 W at 88 %, from the 10.8 V that the stage leaves of 12 V."""
    assert value(C, "bus_current").high == pytest.approx(15.0 / 0.93 / 10.8)
    assert value(A, "bus_current").high == pytest.approx(12.0 / 0.88 / 10.8)


def test_together_the_sum_counts_unless_a_part_shares_it_out() -> None:
    """Shared: 14 W by the worse efficiency; not shared: both offers at once; at the low end of the bus."""
    assert value(BUS, "ports_bus_current").high == pytest.approx(15.0 / 0.93 / 10.8)  # as much as C has alone
    more = changed(("power: 14 W (data sheet)", "power: 16 W (data sheet)"))
    assert value(BUS, "ports_bus_current", more).high == pytest.approx(16.0 / 0.88 / 10.8)
    assert value(BUS, "ports_bus_current", more).low == pytest.approx(16.0 / 0.88 / 13.2)
    whole = 15.0 / 0.93 / 10.8 + 12.0 / 0.88 / 10.8
    for text in (
        changed((SHARED, "sharing: {by: none, power: 14 W (data sheet)}"), NO_SHARER),
        changed((SHARED, "sharing: {power: 14 W (data sheet)}"), NO_SHARER),
        changed((SHARED, "sharing: {by: U8}")),
        changed((SHARED, "sharing: {by: U8, power: unknown}")),
    ):
        assert value(BUS, "ports_bus_current", text).high == pytest.approx(whole)


def test_shared_to_less_than_one_port_has_alone_that_port_counts() -> None:
    text = changed(("power: 14 W (data sheet)", "power: 6 W (data sheet)"))
    assert value(BUS, "ports_bus_current", text).high == pytest.approx(15.0 / 0.93 / 10.8)


LEFT = "{U6: left, D8: left, L4: left, U7: left, U8: left}"
MORE = (
    "{U6: left, D8: left, L4: left, U7: left, U8: left, Q2: left, Q3: left, L3: left, C11: left, C12: left, U4: left}"
)
STRAIGHT = changed(
    ("path: [U6, across D8, L4, across C14, Q5, across C15]", "path: [Q5, across C14, across C15]"),
    ("      control: {by: U6, frequency: 400 kHz 10% (data sheet)}", "      #"),
    (GUARD, "      #"),
    ("      efficiency: 88..90% (measured; at full current)", "      #"),
    ("      advertised: 2.4 A at 5 V", "      advertised: {5 V: 2.4 A, 9 V: 1 A}"),
    ("  ports:                                         # each", f"  other: {LEFT}\n  ports:  # each"),
    (SHARED, "sharing: {by: none}"),
)


def test_a_bus_that_moves_is_summed_at_each_voltage() -> None:
    """At 5 V, held to a tenth like the plate, the straight port has 2.4 A and the other draws 15 W from 4.5 V."""
    assert value(BUS, "ports_bus_current", STRAIGHT).high == pytest.approx(2.4 + 15.0 / 0.93 / 4.5)
    bus = value(BUS, "bus_voltage", STRAIGHT)
    assert (bus.low, bus.high) == (pytest.approx(4.5), pytest.approx(13.2))
    assert value(A, "bus_current", STRAIGHT).high == 2.4


# ---- over-voltage ----------------------------------------------------------------------------------------------------


def test_behind_a_load_switch_by_hand() -> None:
    """Port A: 15 uH and 230 uF less their tolerance, from 13.2 V; 5.38 V passed, one microsecond later it is open."""
    bus, before, stop = 13.2, 5.0, 5.38
    inductance, capacitance = 0.7 * 12e-6, 0.8 * 220e-6 + 9e-6
    swing = value(part("L4"), "current_swing").high
    crest = hypot(bus - before, swing * sqrt(18e-6 / capacitance))
    end = bus - crest * cos(acos((bus - stop) / crest) + 1e-6 / sqrt(inductance * capacitance))
    end += 0.016 * (bus - before) * 1e-6 / inductance  # on the series resistance of C14
    assert value(A, "overvoltage_switch_shorted").high == pytest.approx(end / before, rel=1e-6)


CHOKE = "resistance: 30 mohm, rated: {current: 3.5 A, saturation_current: 22 A}}"


def test_the_choke_until_the_load_switch_is_open_by_hand() -> None:
    """Port A: 12 uH, 275 uF at their bad ends and all of the swing besides, 2.4 A for what is plugged in.

    Of the inductance 0.7 are left at the current that is marked, which is a fifth less when hot.
    """
    bus, before, stop = 13.2, 5.0, 5.38
    inductance, capacitance = 0.7 * 12e-6, 1.2 * 220e-6 + 11e-6
    kick = value(part("L4"), "current_swing").high * sqrt(18e-6 / (0.8 * 220e-6 + 9e-6))
    crest = hypot(bus - before, kick)
    angle = acos((bus - stop) / crest) + 1e-6 / sqrt(inductance * capacitance)
    carries = 2.4 + crest * sqrt(capacitance / inductance) * sin(angle)
    (row,) = [one for one in ledger("").rows(part("L4"), "current_peak") if "until the load switch" in one.formula]
    assert isinstance(row.value, Value) and row.value.high == pytest.approx(carries, rel=1e-6)

    def at(amperes: str) -> Value:
        text = changed((CHOKE, f"resistance: 30 mohm, rated: {{current: 3.5 A, saturation_current: {amperes}}}}}"))
        assert value(A, "overvoltage_feedback_open", text) == value(A, "overvoltage_feedback_open")
        return value(A, "overvoltage_switch_shorted", text)

    assert at(f"{1.001 * carries / 0.8:.5f} A") == value(A, "overvoltage_switch_shorted")
    late = at(f"{0.999 * carries / 0.8:.5f} A")
    assert late.low == pytest.approx(5.28 / 5.0)
    assert late.high == pytest.approx((bus + crest) / before)  # a wire charges the port as fast as it likes


def test_a_choke_of_unknown_saturation_is_asked_for() -> None:
    text = changed((CHOKE, "resistance: 30 mohm, rated: {current: 3.5 A}}"))
    (own,) = found(review(text), "port-when-switch-shorts", "A")
    assert own.verdict == "not assessed" and own.blocks
    assert "L4: rated.saturation_current" in [str(fact) for fact in own.rests_on]
    high = text.replace(STOP, "at: 5.8..5.9 V (data sheet), within: 0.6..1 us (data sheet)")
    (own,) = found(review(high), "port-when-switch-shorts", "A")
    assert own.verdict == "fail"  # it has passed its stop whatever the choke does


def test_capacitors_of_unknown_resistance_are_no_pass() -> None:
    """10 to 100 mohm is what is usual, and nobody has looked at it."""
    text = changed((", series_resistance: 16 mohm at 100 kHz", ""))
    stands = value(A, "overvoltage_switch_shorted", text).high - value(A, "overvoltage_switch_shorted").high
    assert stands == pytest.approx((0.1 - 0.016) * 8.2 * 1e-6 / 8.4e-6 / 5.0)
    quick = text.replace("at: 5.28..5.38 V (data sheet), within: 0.6..1 us", "at: 5.28..5.30 V, within: 0.1..0.2 us")
    assert value(A, "overvoltage_switch_shorted", quick).high < 1.1
    (own,) = found(review(quick), "port-when-switch-shorts", "A")
    assert own.verdict == "not assessed" and own.blocks
    assert "C14: rated.series_resistance" in [str(fact) for fact in own.rests_on]


def test_the_worst_of_all_offers_counts_end_by_end() -> None:
    """At 5 V it may be 1.6 times, at 9 V it is 1.2 for certain: both are said. One offer that is over is a fail,
    whatever is not known of another."""
    stop = "at: {5 V: 5.28..5.38 V, 9 V: 9.5..9.7 V}"
    both = value(C, "overvoltage_switch_shorted", changed((stop, "at: {5 V: 5.28..8 V, 9 V: 12..12.4 V}")))
    assert both.low == pytest.approx(10.8 / 9.0) and both.high > 8.0 / 5.0
    text = changed((stop, "at: {5 V: 6..6.1 V}"))
    one = value(C, "overvoltage_switch_shorted", text)
    assert (one.low, one.high) == (pytest.approx(1.2), inf)
    assert [each.verdict for each in found(review(text), "port-when-switch-shorts", "C")] == ["fail"]


@pytest.mark.parametrize(
    ("connector", "asks"), [("USB-C", True), ("unknown", True), ("cable", True), ("barrel", False)]
)
def test_offers_that_were_not_all_read_are_no_pass(connector: str, asks: bool) -> None:
    """The line at 9 V left out, the sums would be better; a barrel has what it has."""
    (told,) = [line for line in BENCH.text.splitlines(keepends=True) if "stepped through all" in line]
    for new in ("", "      every_offer: unknown\n", '      every_offer: "no"\n'):
        text = changed((told, new), ("connector: USB-C", f"connector: {connector}"))
        row = ledger(text).find(C, "bus_current")
        assert row is not None and (row.value is None) == asks
        assert not asks or [str(fact) for fact in row.missing] == ["C: port.every_offer"]
        assert asks or isinstance(ledger(text).find(BUS, "ports_bus_current").value, Value)  # type: ignore[union-attr]


def test_with_nothing_that_opens_it_settles_at_the_bus_and_rings_past_it() -> None:
    text = changed((GUARD, "      #"), ("  U7: {kind: port controller}", "  #"))
    shorted = value(A, "overvoltage_switch_shorted", text)
    assert shorted.low == pytest.approx(10.8 / 5.0)
    assert shorted.high > (13.2 + 8.2) / 5.0
    assert value(part("C14"), "voltage_switch_shorted", text).high == pytest.approx(5.0 * shorted.high)
    opened = value(A, "overvoltage_feedback_open", text)
    assert opened.low == pytest.approx(0.9 * 10.8 / 5.0)
    assert opened.high > shorted.high  # the choke carries the limit, and not its swing


def test_a_guard_whose_facts_are_missing_is_not_assessed_and_one_that_is_gone_fails() -> None:
    for old, new in (("within: 0.6..1 us (data sheet)}\n    A:", "}\n    A:"), ("at: 5.28..5.38 V (data sheet), ", "")):
        text = BENCH.text.replace(old, new, 1)
        assert text != BENCH.text
        own = [each for each in found(review(text), "port-when-switch-shorts") if each.verdict not in ("pass",)]
        assert [each.verdict for each in own] == ["not assessed"]


def test_a_switch_that_has_shorted_guards_nothing_and_a_guard_that_nobody_named_is_asked_for() -> None:
    """U6 is switch and guard: shorted it opens nothing; with its feedback open it does where it senses the port by a
    path of its own, and only then. No guard named: not known."""
    gone = ("  U7: {kind: port controller}", "  #")
    own = changed(("overvoltage: {by: U7,", 'overvoltage: {by: U6, sensed_apart: "yes",'), gone)
    assert value(A, "overvoltage_switch_shorted", own).low == pytest.approx(10.8 / 5.0)
    assert value(A, "overvoltage_feedback_open", own).high < 1.1
    shared = own.replace('sensed_apart: "yes"', 'sensed_apart: "no"')
    assert value(A, "overvoltage_feedback_open", shared).low == pytest.approx(0.9 * 10.8 / 5.0)
    for silent in (
        own.replace('sensed_apart: "yes",', ""),
        own.replace('sensed_apart: "yes"', "sensed_apart: unknown"),
    ):
        row = ledger(silent).find(A, "overvoltage_feedback_open")
        assert row is not None and row.value is None and [str(one) for one in row.missing] == ["A: port.sensed_apart"]
    apart = changed(("overvoltage: {by: U7,", 'overvoltage: {by: U7, sensed_apart: "no",'))
    assert value(A, "overvoltage_feedback_open", apart).low == pytest.approx(0.9 * 10.8 / 5.0)
    assert value(A, "overvoltage_switch_shorted", apart).high < 1.1
    external = changed(
        ("overvoltage: {by: U5,", 'overvoltage: {by: U4, sensed_apart: "no",'), ("  U5: {kind: port controller}", "  #")
    )
    assert value(C, "overvoltage_switch_shorted", external).high < 1.1  # Q2 has shorted, and U4 still looks on
    unnamed = changed(
        ("control: {by: U4, ", "control: {"),
        ("Q2, Q3: {kind: MOSFET,", "Q2, Q3: {kind: MOSFET, limit_current: 4.6..5.4 A, limit_delay: 90..150 ns,"),
        text=external.replace('sensed_apart: "no",', ""),
    )
    row = ledger(unnamed).find(C, "overvoltage_feedback_open")  # what guards it may be its controller
    assert row is not None and row.value is None and [str(one) for one in row.missing] == ["C: port.sensed_apart"]
    rows = ledger(changed(("overvoltage: {by: U7,", "overvoltage: {"), gone))
    for quantity in ("overvoltage_switch_shorted", "overvoltage_feedback_open"):
        row = rows.find(A, quantity)
        assert row is not None and row.value is None and [fact.quantity for fact in row.missing] == ["circuit.ports"]


@pytest.mark.parametrize(("fuse", "holds"), [("0.7 A", True), ("0.75 A", True), ("0.8 A", False), ("none", False)])
def test_a_clamp_may_hold_behind_a_fuse_for_half_of_what_the_stage_gives(fuse: str, holds: bool) -> None:
    """1.5 A into the bus; a clamp alone, or behind a fuse that need not open, holds nothing; behind one that opens
    after seconds nobody knows whether it is still there."""
    ahead = "" if fuse == "none" else "F2, "
    text = changed(
        (GUARD, "      #"),
        ("  U7: {kind: port controller}", "  Z2: zener diode 5.1 V"),
        (
            "path: [U6, across D8, L4, across C14, Q5, across C15]",
            f"path: [{ahead}U6, across D8, L4, across C14, Q5, across C15, across Z2]",
        ),
        (
            "  U8: {kind: port controller}",
            "  U8: {kind: port controller} #"
            if not ahead
            else f"  F2: {{kind: fuse, rated: {{current: {fuse}}}}}\n  U8: {{kind: port controller}} #",
        ),
    )
    shorted = value(A, "overvoltage_switch_shorted", text)
    free = value(A, "overvoltage_switch_shorted", changed((GUARD, "      #"), ("  U7: {kind: port controller}", "  #")))
    assert shorted.high == pytest.approx(free.high)
    if holds:
        assert shorted.low == 1.0
        (own,) = found(review(text), "port-when-switch-shorts", "A")
        assert own.verdict == "not assessed" and own.blocks
    else:
        assert shorted.low == pytest.approx(10.8 / 5.0)


def test_a_clamp_begins_above_all_that_a_bus_has_in_use() -> None:
    """9 V straight from a bus held to a tenth is up to 9.9 V: 10 V less a tenth begins below, 12 V above."""
    near = changed(
        ("Q5, across C14, across C15]", "Q5, across C14, across C15, across Z2]"),
        ("  U7: {kind: port controller}", "  U7: {kind: port controller}\n  Z2: zener diode 10 V"),
        ("bus: {voltage: 12 V", "bus: {voltage: 9 V"),
        text=STRAIGHT,
    )
    margin = value(A, "clamp_margin", near)
    assert (margin.low, margin.high) == (pytest.approx(9.0 / 9.9), pytest.approx(10.0 / 8.1))
    for text, verdict in ((near, "not assessed"), (near.replace("zener diode 10 V", "zener diode 12 V"), "pass")):
        (own,) = found(review(text), "port-clamp-above-what-is-advertised", "A")
        assert own.verdict == verdict
    # figures that nobody should write end in a verdict, never in a traceback
    assert value(A, "clamp_margin", near.replace("bus: {voltage: 9 V", "bus: {voltage: 0..9 V")).high == inf
    assert value(A, "clamp_margin", near.replace("zener diode 10 V", "{kind: zener diode, voltage: -5 V}")).high == 0.0
    row = ledger(changed(("bus: {voltage: 9 V, ", "bus: {"), text=near)).find(A, "clamp_margin")
    assert row is not None and row.value is None and [fact.quantity for fact in row.missing] == ["plate.voltage"]


def test_a_clamp_ahead_of_its_fuse_holds_nothing() -> None:
    """A fuse on the far side of the clamp carries nothing of what the clamp takes."""
    text = changed(
        (GUARD, "      #"),
        ("  U7: {kind: port controller}", "  Z2: zener diode 5.1 V"),
        ("Q5, across C15]", "Q5, across C15, across Z2, F2]"),
        (
            "  U8: {kind: port controller}",
            "  F2: {kind: fuse, rated: {current: 0.7 A}}\n  U8: {kind: port controller} #",
        ),
    )
    assert value(A, "overvoltage_switch_shorted", text).low == pytest.approx(10.8 / 5.0)
    behind = text.replace("across C15, across Z2, F2]", "across C15, F2, across Z2]")
    assert value(A, "overvoltage_switch_shorted", behind).low == 1.0
    idle = behind.replace("zener diode 5.1 V", "zener diode 24 V")  # it begins above its bus
    assert value(A, "overvoltage_switch_shorted", idle).low == pytest.approx(10.8 / 5.0)


def test_a_part_of_unknown_kind_is_asked_for_and_what_is_not_traced_too() -> None:
    text = changed(("L4: {kind: choke, inductance: 15 uH 20%, resistance: 30 mohm,", "L4: {kind: unknown,"))
    (own,) = found(review(text), "port-is-worked-out", "A")
    assert own.verdict == "not assessed" and [str(fact) for fact in own.missing] == ["L4: part.kind"]
    bus = value(BUS, "bus_voltage", text)
    assert bus.low == pytest.approx(4.5)  # it may be joined to it straight
    (own,) = found(review(text), "ports-together-within-stage")
    assert own.verdict == "not assessed" and own.blocks  # at 5 V all of it is drawn at 5 V, whatever shares it out
    both = value(BUS, "ports_bus_current", text)
    assert both.high == pytest.approx(15.0 / 0.93 / 4.5) and both.low < 1.5
    odd = changed(
        (
            "path: [U6, across D8, L4, across C14, Q5, across C15]",
            "path: [L4, across U6, D8, across C14, Q5, across C15]",
        ),
        ("      control: {by: U6, frequency: 400 kHz 10% (data sheet)}", "      #"),
    )
    row = ledger(odd).find(A, "port.shape")
    assert row is not None and row.value is None and "not covered: D8 in series" in row.note
    assert value(BUS, "bus_voltage", odd).low == pytest.approx(10.8)
    assert value(A, "bus_current", odd).high == pytest.approx(12.0 / 0.88 / 10.8)  # its share of the sum counts
    dropped = changed(  # behind a diode alone it has the voltage of the bus, and may have asked for it
        ("path: [U6, across D8, L4, across C14, Q5, across C15]", "path: [D8, across C14, Q5, across C15]"),
        ("      control: {by: U6, frequency: 400 kHz 10% (data sheet)}", "      #"),
        ("  ports:                                         # each", "  other: {U6: left, L4: left}\n  ports:  # each"),
    )
    assert value(BUS, "bus_voltage", dropped).low == pytest.approx(4.5)
    together = value(BUS, "ports_bus_current", dropped)
    assert together.low < 1.5 < together.high == pytest.approx(15.0 / 0.93 / 4.5)
    (own,) = found(review(dropped), "ports-together-within-stage")
    assert own.verdict == "not assessed" and own.blocks


@pytest.mark.parametrize("kind", ["common-mode choke", "NTC thermistor", "thermal link"])
def test_a_filter_ahead_of_a_port_keeps_its_bus_apart_from_nothing(kind: str) -> None:
    """What is not covered and switches nothing: the bus may stand at the 5 V that the port asked for."""
    text = changed(
        ("path: [U6, across D8, L4, across C14, Q5, across C15]", "path: [N9, L4, across C14, across C15]"),
        ("      control: {by: U6, frequency: 400 kHz 10% (data sheet)}", "      #"),
        (GUARD, "      #"),
        ("  U8: {kind: port controller}", f"  N9: {{kind: {kind}}}\n  U8: {{kind: port controller}}"),
        ("  ports:                                         # each", f"  other: {LEFT}\n  ports:  # each"),
    ).replace("L4: left, U7", "Q5: left, U7")
    bus = value(BUS, "bus_voltage", text)
    assert (bus.low, bus.high) == (pytest.approx(4.5), pytest.approx(13.2))


def test_a_converter_whose_bus_does_not_lie_above_its_port_is_on_for_good() -> None:
    """9 V and more from a bus of 10.8 to 13.2 V: with 12 V on offer the switch carries all of it at the low end."""
    text = changed(("{5 V: 3 A, 9 V: 1.6 A}", "{5 V: 1 A, 12 V: 1.2 A}"))
    assert value(part("Q2"), "current_rms", text).high == pytest.approx(1.2, rel=0.05)
    assert value(part("L3"), "current_rms", text).high >= 1.2
    (own,) = found(review(text), "port-reaches-its-voltage", "C")
    assert own.verdict == "not assessed"  # 95 % of 10.8 V to 98 % of 13.2 V


def test_the_parts_between_by_hand() -> None:
    """Port C at 3 A and 5 V from 10.8 to 13.2 V, 8 to 12 uH, 225 to 275 kHz, drops of switch and rectifier besides."""
    worst = {"bulk": 13.2, "output": 5.0, "on_drop": 0.0, "inductance": 8e-6, "current": 3.0, "frequency": 225e3}
    period = buck.fixed(drop=1.5, **worst)
    assert value(part("L3"), "current_peak").high == pytest.approx(1.01 * period.peak, rel=1e-6)
    assert value(part("L3"), "current_swing").high == pytest.approx(1.02 * period.swing, rel=1e-6)
    bare = buck.fixed(drop=0.0, **worst)  # what freewheels conducts longest where nothing drops
    assert value(part("Q3"), "current_rms").high == pytest.approx(1.015 * bare.diode_rms, rel=1e-3)
    least = buck.fixed(drop=1.5, **{**worst, "bulk": 10.8, "on_drop": 1.0})
    assert value(part("Q2"), "current_average").high == pytest.approx(1.01 * least.switch_average, rel=1e-3)
    at_limit = 5.4 + 13.2 * 150e-9 / 8e-6
    assert value(part("Q2"), "current_at_limit").high == pytest.approx(1.01 * at_limit, rel=1e-6)
    assert value(part("Q2"), "voltage_peak").high == pytest.approx(1.25 * 13.2)
    assert value(part("Q4"), "current_rms").high == 3.0
    assert value(part("C13"), "voltage").high == 9.0
    assert value(C, "voltage_reached").low == pytest.approx(0.95 * 10.8)


def test_ripple_beside_a_converter_by_hand() -> None:
    """The swing of the choke over √12 behind it, √(D (1 − D)) of the current ahead: 1.5 A of 3 A from 12 V to 5 V."""
    worst = {"inductance": 8e-6, "frequency": 225e3}
    behind = max(
        buck.fixed(bulk=13.2, output=volts, drop=1.5, on_drop=0.0, current=amps, **worst).swing
        for volts, amps in ((5.0, 3.0), (9.0, 1.6))
    )
    assert value(C, "ripple_current").high == pytest.approx(1.03 * behind / sqrt(12.0), rel=1e-3)
    assert value(part("C11"), "ripple_current").high == pytest.approx(0.6 * value(C, "ripple_current").high)
    assert value(part("C13"), "ripple_current").high == value(C, "ripple_current").high  # alone behind the load switch
    assert value(part("C11"), "ripple_current").low == 0.0
    ends = [
        buck.drawn_ripple(bulk=volts, output=5.0, drop=drop, on_drop=on, current=3.0, **worst)
        for volts in (10.8, 12.0, 13.2)
        for drop in (0.0, 1.5)
        for on in (0.0, 1.0)
    ]
    assert value(C, "ripple_drawn").high == pytest.approx(1.02 * max(ends), rel=2e-3)
    duty = 5.0 / 12.0
    assert 1.0 < value(C, "ripple_drawn").high / (3.0 * sqrt(duty * (1.0 - duty))) < 1.1


LARGE = "{kind: film capacitor, capacitance: 22 uF 10%, rated: {voltage: 63 V, series_resistance: 10 mohm at 100 kHz}}"


def test_the_last_capacitor_of_the_bus_takes_the_pulses_of_every_converter() -> None:
    """Alone there it has them for certain; beside another, or with one at a switch, perhaps none of them."""
    own = max(row.value.high for row in ledger().rows(part("C8"), "ripple_current") if isinstance(row.value, Value))
    drawn = [value(port, "ripple_drawn") for port in (A, C)]
    whole = value(part("C8"), "ripple_with_ports")
    assert whole.high == pytest.approx(sqrt(own**2 + sum(one.high for one in drawn) ** 2))
    assert whole.low == pytest.approx(sqrt(sum(one.low**2 for one in drawn)), rel=1e-3)
    assert found(review(), "bus-capacitor-ripple-with-ports", "C8")[0].verdict == "pass"
    assert found(review(), "bus-capacitor-ripple-with-ports", "C6")[0].verdict == "not applicable"  # ahead of the choke
    beside = changed(("across C8]", "across C8 || C9]"), ("  U8: {kind", f"  C9: {LARGE}\n  U8: {{kind"))
    assert value(part("C8"), "ripple_with_ports", beside).low < 0.05
    assert value(part("C8"), "ripple_with_ports", beside).high == pytest.approx(whole.high, rel=1e-3)
    at_a_switch = changed(
        ("path: [U6, across D8", "path: [across C9, U6, across D8"), ("  U8: {kind", f"  C9: {LARGE}\n  U8: {{kind")
    )
    assert value(part("C8"), "ripple_with_ports", at_a_switch).low < 0.05
    assert value(part("C9"), "ripple_current", at_a_switch).high == value(A, "ripple_drawn").high


def test_what_the_parts_between_lose_by_hand() -> None:
    """Diode: the point of its curve above its peak; second switch: hot channel and its body; switch: edges besides."""
    assert value(part("D8"), "power").high == pytest.approx(0.52 * value(part("D8"), "current_average").high)
    rms, peak = value(part("Q3"), "current_rms").high, value(part("Q3"), "current_peak").high
    second = rms**2 * 2.8 * 12e-3 + 2.0 * 1.2 * peak * 60e-9 * 275e3
    assert value(part("Q3"), "power").high == pytest.approx(second, rel=1e-3)
    rms, peak = value(part("Q2"), "current_rms").high, value(part("Q2"), "current_peak").high
    valley = value(C, "current_valley").high
    edges = (peak + valley) / 2.0 * 13.2 * 15e-9 * 275e3
    most = rms**2 * 2.8 * 12e-3 + edges + 0.5 * 800e-12 * 13.2**2 * 275e3 + valley * 60e-9 * 13.2 * 275e3
    assert value(part("Q2"), "power").high == pytest.approx(1.2 * most, rel=1e-3)  # the band of its formula
    air = 40.0 + 26.0
    (row,) = [row for row in ledger().rows(part("Q3"), "junction_temperature") if row.case is not None]
    assert isinstance(row.value, Value) and row.value.high == pytest.approx(air + 50.0 * second, abs=0.6)
    steeper = changed(("{1 A: 0.36 V, 5 A: 0.52 V}", "{1 A: 0.36 V, 2 A: 0.42 V}"))  # its peak lies above the curve
    (open_,) = [row for row in ledger(steeper).rows(part("D8"), "power") if row.case is None]
    assert open_.value is None and [str(fact) for fact in open_.missing] == ["D8: rated.forward_voltage at 2.85 A"]


def test_a_switch_that_holds_its_second_one_is_not_worked_out() -> None:
    text = changed(("path: [U6, across D8, L4", "path: [U6, L4")).replace("  D8: {kind", "  #")
    (row,) = [row for row in ledger(text).rows(part("U6"), "power") if row.case is None]
    assert row.value is None and "both heat one die" in row.note
    (told,) = found(review(text), "port-switch-junction", "U6")
    assert told.verdict == "not assessed" and told.blocks


def test_a_port_raised_by_another() -> None:
    """Two ports on one bus without a converter: the one that agreed to 5 V gets 9 V."""
    both = changed(
        ("path: [Q2, across Q3, L3, across C11 || C12, Q4, across C13]", "path: [Q4, across C13]"),
        ("      control: {by: U4, frequency: 250 kHz 10% (data sheet)}", "      #"),
        (LEFT, MORE),
        ("advertised: {5 V: 2.4 A, 9 V: 1 A}", "advertised: 2.4 A at 5 V"),
        ("bus: {voltage: 12 V", "bus: {voltage: 9 V"),
        text=STRAIGHT,
    )
    assert value(A, "overvoltage_by_another", both).high == pytest.approx(9.0 / 5.0)
    (own,) = found(review(both), "port-by-itself-on-its-bus", "A")
    assert own.verdict == "fail" and own.blocks
    unseen = both.replace("sharing: {by: none}", "sharing: {by: U8}")
    row = ledger(unseen).find(A, "overvoltage_by_another")
    assert row is not None and [str(fact) for fact in row.missing] == ["A: port.blocks"]
    held = unseen.replace(
        "      advertised: 2.4 A at 5 V",
        '      overvoltage: {opens: Q5, blocks: "yes"}\n      advertised: 2.4 A at 5 V',
    )
    backward = held.replace('opens: Q5, blocks: "yes"', 'opens: Q5, blocks: "no"')
    assert value(A, "overvoltage_by_another", backward).high == pytest.approx(9.0 / 5.0)
    assert value(A, "overvoltage_by_another", held).high == 1.0
    assert value(A, "overvoltage_load_switch_shorted", held).high == pytest.approx(9.0 / 5.0)
    (own,) = found(review(held), "port-when-load-switch-shorts", "A")
    assert own.verdict == "fail" and own.blocks
    unstated = changed(("bus: {voltage: 9 V, ", "bus: {"), text=held)  # it may stand above every port
    row = ledger(unstated).find(A, "overvoltage_by_another")
    assert row is not None and row.value is None and [fact.quantity for fact in row.missing] == ["plate.voltage"]
    assert value(A, "overvoltage_load_switch_shorted", unstated).low == pytest.approx(9.0 / 5.0)


def test_a_power_shared_out_holds_no_current_at_a_bus_of_unknown_voltage() -> None:
    """Two ports straight on one bus, held to 14 W: 3.1 A at 5 V; with no voltage on the plate nothing is known."""
    both = changed(
        ("path: [Q2, across Q3, L3, across C11 || C12, Q4, across C13]", "path: [Q4, across C13]"),
        ("      control: {by: U4, frequency: 250 kHz 10% (data sheet)}", "      #"),
        (LEFT, MORE.replace(", U8: left", "")),
        ("sharing: {by: none}", SHARED),
        text=STRAIGHT,
    )
    assert value(BUS, "ports_bus_current", both).high == pytest.approx(14.0 / 4.5)
    row = ledger(changed(("bus: {voltage: 12 V, ", "bus: {"), text=both)).find(BUS, "ports_bus_current")
    assert row is not None and row.value is None
    assert [fact.quantity for fact in row.missing] == ["plate.voltage"]


def test_a_bus_that_stands_above_all_its_ports_may_be_on_them() -> None:
    """5 V straight from a bus stated at 12 V: up to 2.4 times; at 5.5 V none of it; unstated nothing is known."""
    alone = changed(("advertised: {5 V: 2.4 A, 9 V: 1 A}", "advertised: 2.4 A at 5 V"), text=STRAIGHT)
    rules = {
        "overvoltage_by_another": "port-by-itself-on-its-bus",
        "overvoltage_load_switch_shorted": "port-when-load-switch-shorts",
    }
    shared = alone.replace("sharing: {by: none}", "sharing: {by: U8}").replace(", U8: left", "")
    kept = shared.replace(
        "      advertised: 2.4", '      overvoltage: {opens: Q5, blocks: "yes"}\n      advertised: 2.4'
    )
    for text in (alone, kept):
        for quantity, rule in rules.items():
            ratio = value(A, quantity, text)
            assert (ratio.low, ratio.high) == (1.0, pytest.approx(12.0 / 5.0))
            (own,) = found(review(text), rule, "A")
            assert own.verdict == "not assessed"
    near = alone.replace("bus: {voltage: 12 V", "bus: {voltage: 5.5 V")
    assert all(value(A, quantity, near).high == 1.0 for quantity in rules)
    unstated = ledger(changed(("bus: {voltage: 12 V, ", "bus: {"), text=alone))
    for quantity in rules:
        row = unstated.find(A, quantity)
        assert row is not None and [fact.quantity for fact in row.missing] == ["plate.voltage"]


@pytest.mark.parametrize(
    ("connector", "offer", "asks"),
    [
        ("USB-C", 9, "port.advertised"),
        ("unknown", 9, "port.connector"),
        ("USB-C", 5, ""),
        ("unknown", 5, ""),
        ("barrel", 9, ""),
    ],
)
def test_a_usb_port_whose_line_at_five_volts_is_left_out_is_asked_for_it(connector: str, offer: int, asks: str) -> None:
    """Each begins at 5 V, where a fault is worst; a barrel has what it has."""
    own = f"advertised: {{{offer} V: 1.6 A}}"
    text = changed(("advertised: {5 V: 3 A, 9 V: 1.6 A}", own), ("connector: USB-C", f"connector: {connector}"))
    rows = ledger(text)
    for quantity in ("overvoltage_switch_shorted", "overvoltage_feedback_open", "stop_margin", "bus_current"):
        row = rows.find(C, quantity)
        assert row is not None and isinstance(row.value, Value) == (not asks)
        assert not asks or [fact.quantity for fact in row.missing] == [asks]


# ---- the stage without its regulation --------------------------------------------------------------------------------


def test_the_bus_that_rises_is_on_the_parts_ahead_of_every_port() -> None:
    """What the list of faults says of the stage, times what the node rings; never below the bus that it makes."""
    rises = value(BUS, "voltage_regulation_lost")
    told = dict(listed()["U1 without feedback"].beside)["voltage_peak"]
    assert (rises.low, rises.high) == (told.low, told.high)
    assert rises.low >= 0.9 * 12.0
    for name, ringing in (("Q2", 1.25), ("Q3", 1.25), ("U6", 1.2), ("D8", 1.2)):
        assert value(part(name), "voltage_regulation_lost").high == pytest.approx(ringing * rises.high), name
    unknown = ledger(changed(("overvoltage_stop: 25..27 V (data sheet), ", "")))
    row = unknown.find(part("Q2"), "voltage_regulation_lost")
    assert row is not None and row.value is None and [str(one) for one in row.missing] == ["U1: part.overvoltage_stop"]


def test_a_port_that_is_joined_to_the_bus_rises_with_it() -> None:
    """A load switch that opens may keep it off, one whose body diode conducts does not."""
    rises = value(BUS, "voltage_regulation_lost", STRAIGHT)
    alone = value(A, "overvoltage_regulation_lost", STRAIGHT)
    assert (alone.low, alone.high) == (pytest.approx(rises.low / 5.0), pytest.approx(rises.high / 5.0))
    (own,) = found(review(STRAIGHT), "port-when-regulation-lost", "A")
    assert own.verdict == "fail" and own.blocks
    guard = 'overvoltage: {by: U5, opens: Q5, blocks: "yes", at: 5.28..5.38 V, within: 0.6..1 us}'
    held = STRAIGHT.replace("      advertised: {5 V: 2.4", f"      {guard}\n      advertised: {{5 V: 2.4")
    ratio = value(A, "overvoltage_regulation_lost", held)
    assert (ratio.low, ratio.high) == (1.0, alone.high)
    (own,) = found(review(held), "port-when-regulation-lost", "A")
    assert own.verdict == "not assessed" and own.blocks
    backward = held.replace('opens: Q5, blocks: "yes"', 'opens: Q5, blocks: "no"')
    assert value(A, "overvoltage_regulation_lost", backward) == alone
    for gone in ("by: U5, ", "at: 5.28..5.38 V, "):  # nobody said what opens it: it may not
        assert value(A, "overvoltage_regulation_lost", held.replace(gone, "", 1)).high == alone.high


# ---- what is refused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("opens: Q5, blocks", "opens: U6, blocks", "U6 is no load switch between the choke and port A"),
        ("    A:\n      from: bus", "    A:\n      from: buss", "'buss' is no output"),
        ("sharing: {by: U8,", "sharing: {by: C15,", "C15 can share no power out"),
        ("path: [U6, across D8, L4,", "path: [U6, across D8, L44,", "'L44' is no part"),
        ("    A:\n      from: bus", "    A:\n      from: unknown", "nothing says what output port A is fed from"),
        ("  sharing: {by: U8", "    B: unknown\n  sharing: {by: U8", "nothing says what output port B is fed from"),
        ("connector: USB-A", "connector: USB-Z", "'USB-Z' is no word"),
    ],
)
def test_what_disagrees_is_an_error(old: str, new: str, what: str) -> None:
    with pytest.raises(ReadingError, match=what):
        read_design(changed((old, new)), BENCH.path)


def test_a_control_without_a_converter_is_an_error() -> None:
    text = changed(("path: [U6, across D8, L4, across C14, Q5, across C15]", "path: [Q5, across C15]"))
    with pytest.raises(ReadingError, match="A has no converter on its path"):
        read_design(text, BENCH.path)


def test_a_port_has_a_name_of_its_own() -> None:
    with pytest.raises(ReadingError, match="'bus' is an output of the circuit already"):
        read_design(changed(("    A:\n      from: bus", "    bus:\n      from: bus")), BENCH.path)


# ---- faults and the drawing ------------------------------------------------------------------------------------------


def listed(text: str = "") -> dict[str, FaultRow]:
    design = read_design(text or BENCH.text, BENCH.path)
    packs = WORKSHOP.packs_for(BENCH.path, design, Settings())
    rows = design_faults(design.structure, worked(design, packs), packs.assumed)
    return {row.fault: row for row in rows}


def test_the_faults_of_every_port_are_listed() -> None:
    rows = listed()
    assert (rows["Q2 shorted"].opening, rows["Q2 shorted"].clears) == ("shown", "Q4")
    assert (rows["feedback of port A open"].opening, rows["feedback of port A open"].clears) == ("shown", "Q5")
    limit = value(part("L3"), "current_at_limit")
    for name in ("port C shorted", "C11 shorted", "C13 shorted"):
        assert rows[name].current_peak == limit and rows[name].opening == "nothing to open"
    assert not rows["Q3 shorted"].computed and not rows["L4 shorted"].computed and not rows["C14 open"].computed
    for name in ("Q2 open", "L3 open", "Q4 open", "Q4 shorted", "U5 blind"):
        assert rows[name].opening == "nothing to open", name


def test_a_fault_that_nothing_holds_is_not_shown_to_open() -> None:
    rows = listed(changed((GUARD, "      #"), ("  U7: {kind: port controller}", "  #")))
    assert rows["U6 shorted"].opening == rows["feedback of port A open"].opening == "not shown"
    assert rows["U6 shorted"].clears == "" and "U7 blind" not in rows
    series = listed(
        changed(
            (
                "path: [U6, across D8, L4, across C14, Q5, across C15]",
                "path: [F2, U6, across D8, L4, across C14, R7, Q5, across C15, across Z2]",
            ),
            (
                "  U8: {kind: port controller}",
                "  F2: {kind: fuse, rated: {current: 2 A}}\n  R7: film resistor 10 mohm 1 W\n  Z2: zener diode 6.2 V\n"
                "  U8: {kind: port controller}   #",
            ),
        )
    )
    for name in ("F2 open", "R7 open", "Z2 open"):
        assert series[name].opening == "nothing to open", name
    assert series["Z2 shorted"].current_peak == value(part("L4"), "current_at_limit")
    late = listed(changed(("at: {5 V: 5.28..5.38 V, 9 V: 9.5..9.7 V}", "at: 9.5..9.7 V")))
    assert late["Q2 shorted"].opening == "not shown"


def test_a_load_switch_that_has_shorted_opens_nothing() -> None:
    """5 and 9 V straight from its bus, and no other port: shorted, its own load switch is not what holds the port."""
    guard = 'overvoltage: {by: U5, opens: Q5, blocks: "yes", at: {5 V: 5.3 V, 9 V: 9.6 V}, within: 1 us}'
    alone = STRAIGHT.replace("bus: {voltage: 12 V", "bus: {voltage: 9 V")
    guarded = alone.replace("      advertised: {5 V: 2.4", f"      {guard}\n      advertised: {{5 V: 2.4")
    row = listed(guarded)["Q5 shorted"]
    assert (row.opening, row.clears) == ("nothing to open", "") and not row.note.endswith(": ")


def test_the_drawing_has_each_port_behind_its_bus() -> None:
    told = joined(read_design(BENCH.text, BENCH.path), review())
    rows = {row.output: row for row in told.outputs if row.key == "ports"}
    assert [(name, row.begins) for name, row in rows.items()] == [("C", "bus plus"), ("A", "bus plus")]
    assert told.at_outputs["C"].value == "up to 9 V 1.6 A" and told.at_outputs["A"].value == "5 V 2.4 A"
    assert {one.rule for one in told.at_outputs["C"].findings} >= {"port-when-switch-shorts", "port-alone-within-stage"}
    assert dict(told.apart) == {
        "U4": "controls port C",
        "U5": "guards port C",
        "U7": "guards port A",
        "U8": "shares the power out",
    }


def test_a_choke_that_gives_way_before_it_saturates_lifts_the_port_no_further_than_is_said() -> None:
    """Fixed steps: hot, and down to 0.7 of its inductance at what it is marked with, as makers mark it."""
    bus, before, stop, load, delay = 13.2, 5.0, 5.38, 2.4, 1e-6
    whole, saturates, step = 12e-6, 22.0, 1e-9
    ends = {}
    for farads in (0.8 * 220e-6 + 9e-6, 1.2 * 220e-6 + 11e-6):
        for soft in (0.0, 0.3):
            volts, current, passed = before, load, -1.0
            most, at = current, 0.0
            while passed < 0.0 or at < passed + delay:
                current += step * (bus - volts) / (whole * (1.0 - soft * min(1.0, current / (0.8 * saturates)) ** 2))
                volts += step * (current - load) / farads
                most, at = max(most, current), at + step
                passed = at if passed < 0.0 and volts >= stop else passed
            ends[farads, soft] = (volts, most)
    told = value(A, "overvoltage_switch_shorted").high * before
    (row,) = [one for one in ledger("").rows(part("L4"), "current_peak") if "until the load switch" in one.formula]
    assert isinstance(row.value, Value)
    assert max(volts for volts, _ in ends.values()) < told and max(most for _, most in ends.values()) < row.value.high
    few, many = 0.8 * 220e-6 + 9e-6, 1.2 * 220e-6 + 11e-6
    assert ends[few, 0.3][0] > ends[few, 0.0][0] and ends[many, 0.3][1] > ends[many, 0.0][1]
