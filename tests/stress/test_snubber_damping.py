"""Ringing of an output rectifier worked out from its snubber: which source counts, and what is missing."""

from __future__ import annotations

from datetime import date
from math import inf

import pytest
from test_converter_rows import TEXT, part, row, value, worked

from derate.circuit.secondary import junction_equivalent, ringing_crest
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Finding
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs
from derate.stress.context import BULK
from derate.study.work import Work, review_of
from derate.study.work import worked as worked_out
from derate.terms.values import Value

RULE = "output-rectifier-reverse-voltage"
SNUBBED = (
    TEXT.replace("  R2, R3:", "  RS: film resistor 22 ohm 0.5 W\n  CS: ceramic capacitor 1 nF\n  R2, R3:")
    .replace("  control:", "  snubbers: {D7: [RS, CS]}\n  control:")
    .replace("forward_voltage: 0.6 V, junction: 150", "forward_voltage: 0.6 V, junction_capacitance: 150 pF at 4 V, "
             "junction: 150")
)  # fmt: skip
FLAT = 12.0 + 2**0.5 * 264.0 / 7.0
D7 = part("D7")
PACKS = load_packs(["commercial-practice", "converter"])


def changed(*pairs: tuple[str, str]) -> str:
    text = SNUBBED
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def finding(text: str) -> Finding:
    design = read_design(text, "bench.derate.yaml")
    review = review_of(Work(design, Settings(), PACKS, worked_out(design, PACKS), {}), date(2026, 11, 25))
    return next(one for one in review.findings if one.rule == RULE and one.subject == D7)


def _greatest_bulk(ledger: Ledger) -> float:
    """The bulk at full load and the highest mains, as it rings above the crest [V]."""
    rows = ledger.rows(BULK, "voltage_peak")
    running = [one for one in rows if one.case is not None and one.case.group == "running"]
    return max(one.value.far for one in running if isinstance(one.value, Value))


def reverse(text: str) -> Value:
    return value(worked(text), D7, "reverse_voltage")


def test_the_far_end_is_that_of_the_formula_at_the_worst_of_every_range() -> None:
    """By hand: 12 uH over 7², up to 20 nH of wiring; 150 pF at 4 V, a quarter more, 50 pF of winding; 22 ohm, 1 nF."""
    # at the bad end the bulk rings above the crest of the mains with inductance ahead, and the flat part with it
    flat = 12.0 + _greatest_bulk(worked(SNUBBED)) / 7.0
    assert FLAT < flat < 1.05 * FLAT
    greatest = junction_equivalent(1.25 * 150e-12, 4.0, FLAT)[1] + 50e-12  # most where the voltage is least
    highest = max(
        ringing_crest(leakage, greatest, 22.0, 1e-9, flat).high for leakage in (12e-6 / 49, 12e-6 / 49 + 20e-9)
    )  # fmt: skip
    found = reverse(SNUBBED)
    assert found.far == pytest.approx(flat * highest, rel=1e-4)
    assert found.near == pytest.approx(0.95 * FLAT, rel=1e-6)  # a slow edge makes no crest at all
    assert 1.3 < highest < 1.6
    assert finding(SNUBBED).verdict in ("pass", "marginal")


def test_without_the_snubber_it_is_a_floor_again() -> None:
    bare = reverse(changed(("  snubbers: {D7: [RS, CS]}\n", ""), ("  RS: film resistor 22 ohm 0.5 W\n", ""),
                           ("  CS: ceramic capacitor 1 nF\n", "")))  # fmt: skip
    assert bare.far == inf and bare.near == pytest.approx(0.95 * FLAT)


MISSING = (
    ((", junction_capacitance: 150 pF at 4 V", ""), "without the junction_capacitance of D7"),
    (("junction_capacitance: 150 pF at 4 V", "junction_capacitance: 150 pF"), "without the junction_capacitance of D7"),
    (("RS: film resistor 22 ohm", "RS: film resistor"), "find out resistance (RS)"),
    (("CS: ceramic capacitor 1 nF", "CS: {kind: ceramic capacitor}"), "find out capacitance (CS)"),
    (("primary: {turns: 84, ", "primary: {"), "winding.turns"),
    (("CS: ceramic capacitor 1 nF", "CS: ceramic capacitor 47 pF"), "snubber over junction"),
    (("RS: film resistor 22 ohm", "RS: film resistor 22 kohm"), "resistance over sqrt"),
    (("{D7: [RS, CS]}", "{D7: RS || CS}"), "only one resistor and capacitor"),
    (("D7: {kind: Schottky diode,", "D7: {kind: ultrafast diode,"), "without the recovery_current of D7"),
)  # fmt: skip


@pytest.mark.parametrize(("change", "told"), MISSING, ids=lambda one: str(one)[:60])
def test_what_is_not_known_keeps_the_floor(change: tuple[str, str], told: str) -> None:
    """Never a pass: the far end stays open, the gate stays shut and the reason is told."""
    text = changed(change)
    found = row(worked(text), D7, "reverse_voltage")
    assert found.value is None or (isinstance(found.value, Value) and found.value.far == inf)
    assert told in found.note or any(told in one for one in found.missing), (found.note, found.missing)
    judged = finding(text)
    assert judged.verdict in ("fail", "not assessed") and judged.blocks


def test_a_recovery_current_makes_it_a_figure_and_a_worse_one() -> None:
    ultrafast = ("D7: {kind: Schottky diode,", "D7: {kind: ultrafast diode, recovery_current: 0.8 A (measured),")
    assert reverse(SNUBBED).far < reverse(changed(ultrafast)).far < inf


def test_stated_then_read_then_worked_out() -> None:
    stated = changed(("D7: {kind: Schottky diode,", "D7: {kind: Schottky diode, ringing: 1.1..1.15 (measured),"))
    highest = 12.0 + _greatest_bulk(worked(SNUBBED)) / 7.0
    assert reverse(stated).far == pytest.approx(1.15 * highest)
    read = SNUBBED.rstrip() + "\n  - {at: {mains: 230 V, load: full}, reverse_voltage: {D7: 70 V}}\n"
    flat = 12.0 + 2**0.5 * 230.0 / 7.0
    assert reverse(read).far == pytest.approx(1.05 * 70.0 / flat * highest, rel=1e-6)


def test_blurring_any_of_its_facts_never_lowers_the_far_end() -> None:
    sound = reverse(SNUBBED).far
    for old, new in (
        ("22 ohm", "15..30 ohm"), ("CS: ceramic capacitor 1 nF", "CS: ceramic capacitor 0.8..1.2 nF"),
        ("150 pF at 4 V", "100..220 pF at 4 V"), ("leakage: 12 uH", "leakage: 8..20 uH"),
        ("leakage: 12 uH", "leakage: unknown"),
    ):  # fmt: skip
        assert reverse(changed((old, new))).far >= sound, new
    assumed = row(worked(changed(("    leakage: 12 uH\n", ""))), D7, "reverse_voltage")
    assert "T1: transformer.leakage" in assumed.rests_on
    assert finding(changed(("    leakage: 12 uH\n", ""))).verdict == "not assessed"  # no critical pass on it


def test_several_outputs_need_the_leakage_of_their_own_winding() -> None:
    """Shorted together the outputs share what is measured at the primary: it says nothing of one of them."""
    two = changed(
        ("main: {voltage: 12 V, current: 1.5 A}",
         "main: {voltage: 12 V, current: 1.5 A}, 5V: {voltage: 5 V, current: 0.2 A}"),
        ("  R2, R3:", "  D8: Schottky diode 60 V 2 A\n  C8: electrolytic capacitor 220 uF 10 V\n  R2, R3:"),
        ("outputs: {main: [T1.secondary, D7, across C6]}",
         "outputs: {main: [T1.secondary, D7, across C6], 5V: [T1.second, D8, across C8]}"),
        ("auxiliary: {turns: 14, bare: 0.15 mm}",
         "auxiliary: {turns: 14, bare: 0.15 mm}, second: {turns: 5, bare: 0.3 mm}"),
    )  # fmt: skip
    found = row(worked(two), D7, "reverse_voltage")
    assert isinstance(found.value, Value) and found.value.far == inf
    assert "leakage inductance seen at this winding (T1.secondary)" in found.note
    own = two.replace("secondary: {turns: 12, bare: 0.45 mm,", "secondary: {turns: 12, leakage: 0.3 uH, bare: 0.45 mm,")
    assert own != two
    assert reverse(own).far < inf
