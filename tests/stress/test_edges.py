"""Slopes and pulse currents of the capacitors in clamp and snubbers, against i = C dv/dt by hand and ngspice."""

from __future__ import annotations

from math import inf

import pytest
from mains_bench import need_ngspice, ngspice
from test_converter_rows import TEXT, part, row, value, worked

from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.terms.values import Value

FITTED = TEXT.replace("  R2, R3:", "  RS: film resistor 39 ohm 0.25 W\n  CS: ceramic capacitor 1 nF\n  R2, R3:")


def across(what: str) -> str:
    """The bench design with a snubber somewhere."""
    return FITTED.replace("  control:", f"  snubbers: {what}\n  control:")


def swing(ledger: Ledger) -> float:
    """Greatest voltage of the switch while it runs."""
    rows = [one for one in ledger.rows(part("Q1"), "voltage_peak") if one.case and one.case.group == "running"]
    return max(one.value.far for one in rows if isinstance(one.value, Value))


def test_clamp_capacitor_takes_the_peak_of_the_primary() -> None:
    ledger = worked()
    for group in ("running", "overload"):
        peak = value(ledger, part("Q1"), "current_peak", group)
        slope = value(ledger, part("C4"), "voltage_slope", group)
        assert slope.far == pytest.approx(1.02 * peak.far / 2.2e-9, rel=1e-6)
        assert slope.near < 0.2 * slope.far  # the diode may take less: never a proof of a fail
        assert value(ledger, part("C4"), "current_peak", group).far == pytest.approx(1.02 * peak.far, rel=1e-6)
    assert value(ledger, part("C4"), "voltage_slope", "overload").far > value(ledger, part("C4"), "voltage_slope").far


def test_snubber_capacitor_behind_its_resistor() -> None:
    """Swing over R C, an upper figure: at the switch its peak, at a rectifier the reverse voltage with its ringing."""
    ledger = worked(across("{Q1: [RS, CS]}"))
    top = swing(ledger)
    assert value(ledger, part("CS"), "voltage_slope").far == pytest.approx(1.02 * top / (39.0 * 1e-9), rel=1e-6)
    floor = worked(across("{D7: [RS, CS]}"))
    assert value(floor, part("CS"), "voltage_slope").far == inf  # ringing not known: nothing is promised
    ringing = ("D7: {kind: Schottky diode,", "D7: {kind: Schottky diode, ringing: 1.4,")
    known = worked(across("{D7: [RS, CS]}").replace(*ringing))
    rows = known.rows(Subject("path", ("bulk",)), "voltage_peak")
    bulk = max(one.value.far for one in rows if isinstance(one.value, Value))
    assert 2**0.5 * 264.0 <= bulk < 1.02 * 2**0.5 * 264.0
    flat = 12.0 + bulk / 7.0
    assert value(known, part("CS"), "voltage_slope").far == pytest.approx(1.02 * 1.4 * flat / 39e-9, rel=1e-6)


def test_bare_capacitor_goes_by_edge_or_current() -> None:
    ledger = worked(across("{Q1: CS}").replace("  RS: film resistor 39 ohm 0.25 W\n", "").replace(
        "Q1: {kind: MOSFET,", "Q1: {kind: MOSFET, switching_time: 20..50 ns (measured),"))  # fmt: skip
    top = swing(ledger)
    assert value(ledger, part("CS"), "voltage_slope").far == pytest.approx(1.02 * top / 20e-9, rel=1e-6)
    assumed = worked(across("{Q1: CS}").replace("  RS: film resistor 39 ohm 0.25 W\n", ""))
    assert "Q1: part.switching_time" in row(assumed, part("CS"), "voltage_slope").rests_on


def test_snubber_with_a_diode_and_what_is_not_covered() -> None:
    text = across("{Q1: [RS || DS, CS]}").replace("  R2, R3:", "  DS: fast diode 600 V 1 A\n  R2, R3:")
    ledger = worked(text)
    top = swing(ledger)
    peak = value(ledger, part("Q1"), "current_peak").far
    slope = value(ledger, part("CS"), "voltage_slope")
    assert slope.far == pytest.approx(1.02 * max(peak, top / 39.0) / 1e-9, rel=1e-6)
    for elsewhere in ("{BR1: [RS, CS]}", "{D7: RS || CS}"):
        found = row(worked(across(elsewhere)), part("CS"), "voltage_slope")
        assert found.value is None and "not covered" in found.note


@pytest.mark.parametrize(("rise", "resistance"), [(20e-9, 39.0), (60e-9, 39.0), (20e-9, 470.0)])
def test_the_upper_figure_against_ngspice(rise: float, resistance: float) -> None:
    """400 V through a resistor into 1 nF: never steeper than swing / R C, and near it where the edge is short."""
    need_ngspice()
    circuit = f"V1 a 0 PWL(0 0 {rise} 400)\nR1 a c {resistance}\nC1 c 0 1n IC=0\n"
    t, v = ngspice(circuit, "v(c)", rise / 400.0, rise + 2.0 * resistance * 1e-9)
    steepest = max((v[k + 1] - v[k]) / (t[k + 1] - t[k]) for k in range(len(t) - 1) if t[k + 1] - t[k] > rise / 1e4)
    upper = 400.0 / (resistance * 1e-9)
    assert steepest <= 1.02 * upper
    if rise < 0.1 * resistance * 1e-9:
        assert steepest > 0.9 * upper


def test_a_bare_capacitor_across_a_mosfet_heats_it() -> None:
    """C V² f / 2 of a nanofarad at 65 kHz and some 460 V: 6.9 W, and nothing but the switch to take it."""
    bare = across("{Q1: CS}").replace("  RS: film resistor 39 ohm 0.25 W\n", "")
    more = 0.5 * 1e-9 * (2**0.5 * 264.0 + 7.0 * 12.6) ** 2 * 65e3
    rows = [worked(text).rows(part("Q1"), "power") for text in (bare, TEXT)]
    with_it, without = (
        next(one.value for one in found if one.case is not None and one.case.load == "highest mains") for found in rows
    )
    assert isinstance(with_it, Value) and isinstance(without, Value)
    assert with_it.far - without.far == pytest.approx(1.3 * more, rel=0.1)
