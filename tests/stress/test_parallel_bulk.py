"""Ripple of bulk capacitors in parallel: held to the currents of an ngspice netlist with their series resistances."""

from __future__ import annotations

import pytest
from mains_bench import BRIDGE, need_ngspice, ngspice, rms
from random_supplies import worked_out

from derate.ledger.entry import Case
from derate.stress.context import part
from derate.terms.quantities import RUNNING
from derate.terms.values import Value

CAPACITORS = {"C1": ("22 uF", 22e-6, 2.0), "C2": ("22 uF", 22e-6, 3.0), "C3": ("10 uF", 10e-6, 6.0)}


def _text(bulk: str, stated: bool, load: float = 20.0) -> str:
    parts = [
        f"  {name}: {{kind: electrolytic capacitor, capacitance: {words}, rated: {{voltage: 400 V"
        + (f", series_resistance: {ohms} ohm at 100 Hz" if stated else "")
        + "}}"
        for name, (words, _, ohms) in CAPACITORS.items()
    ]
    return "\n".join(
        [
            "derate: 1",
            "supply: {name: drawn, efficiency: 1.0, plate: {mains: 230 V, frequency: 50 Hz, "
            f"outputs: {{main: {{voltage: 10 V, current: {load / 10:g} A}}}}}}}}",
            "site: {ambient: 0..40 degC, mains_tolerance: 0%, inside_rise: 20 K, mains_inductance: 0 mH}",
            "parts:",
            "  R1: {kind: wirewound resistor, resistance: 5 ohm}",
            "  BR1: bridge rectifier 800 V 1 A",
            *parts,
            f"circuit: {{line: [R1, BR1, across {bulk}]}}",
        ]
    )


def _ripple(bulk: str, stated: bool = False) -> dict[str, tuple[float, float]]:
    _, ledger = worked_out(_text(bulk, stated))
    found = {}
    for name in CAPACITORS:
        rows = [
            one.value.numbers()
            for one in ledger.rows(part(name), "ripple_current")
            if isinstance(one.value, Value) and isinstance(one.case, Case) and one.case.group == RUNNING
        ]
        if rows:
            found[name] = (min(one[0] for one in rows), max(one[3] for one in rows))
    return found


@pytest.mark.parametrize("stated", [False, True])
@pytest.mark.parametrize("names", [("C1", "C2"), ("C1", "C3"), ("C1", "C2", "C3")])
def test_each_carries_its_share(names: tuple[str, ...], stated: bool) -> None:
    """The truth of each lies within its row, and no row reaches what all of them carry together."""
    need_ngspice()
    netlist = f"V1 s b SIN(0 {2**0.5 * 230.0} 50)\nR1 s a 5.02\n{BRIDGE}B1 p 0 I=20/max(v(p),20)\n"
    for name in names:
        _, farads, ohms = CAPACITORS[name]
        netlist += f"VS{name} p x{name} 0\nRS{name} x{name} y{name} {ohms}\n{name} y{name} 0 {farads} IC=320\n"
    t, *currents = ngspice(netlist, " ".join(f"i(VS{name})" for name in names), 2e-5, 0.2, 0.16, tight=False)
    found = _ripple(" || ".join(names), stated)
    alone = _ripple("C1")["C1"]
    for name, own in zip(names, currents, strict=True):
        truth = rms(t, own)
        assert found[name][0] < truth < found[name][1], (name, truth)
        assert found[name][1] < 0.85 * alone[1]
        assert found[name][0] > 0.08 * alone[0]


def test_what_stands_in_series_carries_all_of_its_branch() -> None:
    """Two of 22 uF in series are 11: beside 10 uF half of the whole, and both carry the same."""
    found = _ripple("(C1 + C2) || C3")
    assert found["C1"] == found["C2"]
    whole = _ripple("C1")["C1"]
    assert 0.3 * whole[0] < found["C1"][0] < 0.5 * whole[1] < found["C1"][1] < 0.85 * whole[1]
    assert _ripple("C1 + C2")["C1"] == _ripple("C1 + C2")["C2"]


def test_a_capacitor_nobody_measured_may_carry_all_or_nothing() -> None:
    text = _text("C1 || C2", False).replace("capacitance: 22 uF, rated: {voltage: 400 V}", "rated: {voltage: 400 V}", 1)
    _, ledger = worked_out(text)
    assert all(one.value is None for one in ledger.rows(part("C2"), "ripple_current"))
