"""Single faults of a doubler against ngspice: a capacitor or a diode shorted; shorts with inductance."""

from __future__ import annotations

import random
from math import pi, sqrt

import mains_bench as bench
import pytest
from event_designs import exact, part

from derate.circuit.line_faults import ERROR, bridge_diode_shorted, half_wave_diode_shorted, shorted
from derate.circuit.rectifier import doubler_steady_state
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.stress.faults.mains_path import fault_cases
from derate.terms.values import Value

PARTS = (
    "F1: {kind: fuse, resistance: 50 mohm, standard: IEC 60127, rated: {current: 2 A, voltage: 250 Vac}}",
    "R1: wirewound resistor 2.2 ohm", "D1, D2: line diode 1000 V 3 A", "C1, C2: electrolytic capacitor 100 uF 200 V",
)  # fmt: skip
LINE, DOUBLER = "[F1, R1, D1 || D2, across C1 + C2]", ", input: doubler"


def _doubler() -> dict[str, float]:
    return {"mains": 115.0, "frequency": 60.0, "resistance": 2.25, "capacitance": 100e-6}


def _ngspice(given: dict[str, float], faulty: str, load: float) -> tuple[float, float, float]:
    """Line rms, greatest and least voltage of the capacitor of the negative half cycles: the last six cycles."""
    crest, period = sqrt(2.0) * given["mains"], 1.0 / given["frequency"]
    d1 = "R9 a p 1e-4" if faulty == "diode" else "D1 a p DI"
    c1 = "R8 p m 1e-4" if faulty == "capacitor" else f"C1 p m {given['capacitance']} IC=0"
    deck = f"""Vac a1 m SIN(0 {crest} {given["frequency"]} 0 0 0)
Vs a1 a2 0
R1 a2 a {given["resistance"]}
{d1}
D2 0 a DI
{c1}
C2 m 0 {given["capacitance"]} IC={crest}
Rm m 0 1e9
Bload p 0 I = {load}/max(v(p),40)*min(1,max(0,v(p)-10)/30)
"""
    t, line, other, first = bench.ngspice(deck, "i(Vs) v(m) v(p,m)", 2e-5, 24.0 * period, 18.0 * period)
    assert first
    return bench.rms(t, line), max(other), min(first)


@pytest.mark.parametrize("seed", range(8))
def test_a_shorted_capacitor_shorts_alternate_half_cycles(seed: int) -> None:
    """Random doublers with their load on what is left: within the band, and the other capacitor at the crest."""
    bench.need_ngspice()
    rng = random.Random(500 + seed)
    while True:
        supply = bench.random_supply(rng)
        given = {
            "mains": rng.uniform(85.0, 132.0), "frequency": supply["frequency"],
            "resistance": 0.3 * supply["series_resistance"], "capacitance": 2.5 * supply["capacitance"],
        }  # fmt: skip
        whole = doubler_steady_state(
            given["mains"], given["frequency"], max(1e-3, given["resistance"]), given["capacitance"], supply["load"]
        )
        if whole is not None and given["resistance"] > 0.05:
            break
    rms, other, _ = _ngspice(given, "capacitor", supply["load"])
    computed = bridge_diode_shorted(given["mains"], given["frequency"], given["resistance"]).rms
    below, above = ERROR["doubler_rms"]
    assert computed * (1.0 + below) <= rms <= computed * (1.0 + above)
    assert other <= sqrt(2.0) * given["mains"] * 1.002


@pytest.mark.parametrize("reactance", [0.05, 0.3, 1.0])
def test_inductance_takes_from_the_short_of_alternate_half_cycles(reactance: float) -> None:
    """0.5 ohm, and inductance of 0.05 to 1 times as much: 1 %. Left out it read up to a quarter too much."""
    bench.need_ngspice()
    inductance = reactance * 0.5 / (2.0 * pi * 60.0)
    deck = f"""Vac a1 m SIN(0 {sqrt(2.0) * 115.0} 60 0 0 0)
R1 a1 a3 0.5
L1 a3 a {inductance} IC=0
D1 a m DI
Rm m 0 1
Ra a 0 1e5
"""
    t, line = bench.ngspice(deck, "i(L1)", 1e-5, 2.0 / 60.0)
    rms = bench.rms(t, line)
    found = bridge_diode_shorted(115.0, 60.0, 0.5, inductance)
    assert found.rms == pytest.approx(rms, rel=0.01)
    assert found.rms < bridge_diode_shorted(115.0, 60.0, 0.5).rms


def test_signs_of_the_short_of_alternate_half_cycles() -> None:
    rng = random.Random(51)
    for _ in range(200):
        given = {
            "mains": rng.uniform(85.0, 265.0), "frequency": rng.uniform(47.0, 63.0),
            "resistance": 10 ** rng.uniform(-1.0, 1.5), "inductance": 10 ** rng.uniform(-5.0, -2.0),
        }  # fmt: skip
        low = bridge_diode_shorted(**given)
        for key, sign in {"mains": 1, "frequency": -1, "resistance": -1, "inductance": -1}.items():
            high = bridge_diode_shorted(**given | {key: 1.01 * given[key]})
            assert (high.rms / low.rms - 1.0) * sign > -1e-6, (key, given)
        half, full = low.rms, shorted(**given).rms
        assert full / 2.0**0.5 * 0.9999 <= half <= 3.0**0.5 * full * 1.0001  # of a resistive and an inductive line
        assert 1.62 * half < low.peak <= 2.0 * half * 1.0005
        none = bridge_diode_shorted(given["mains"], given["frequency"], given["resistance"], 1e-12)
        assert none.rms == pytest.approx(given["mains"] / given["resistance"] / 2.0**0.5)


def test_a_shorted_diode_drives_its_capacitor_into_reverse() -> None:
    """115 V, 2.25 ohm, 100 uF, no load: 1 %, diodes of 0.1 V left out."""
    bench.need_ngspice()
    given = _doubler()
    rms, other, least = _ngspice(given, "diode", 0.0)
    found = half_wave_diode_shorted(**given)
    assert found.rms == pytest.approx(rms, rel=0.01)
    assert found.reverse == pytest.approx(-least, rel=0.01)
    assert other == pytest.approx(found.reverse, rel=0.01)  # the other one is charged to what is left of the crest


def _row(ledger: Ledger, name: str, fault: str, quantity: str) -> Entry:
    case = fault_cases(ledger.plan, fault)[-1]  # type: ignore[arg-type]
    found = ledger.find(part(name), quantity, case)
    assert found is not None, (fault, quantity)
    return found


def test_the_rows_of_a_doubler() -> None:
    ledger = exact(LINE, *PARTS, mains="100..120 V", more=DOUBLER)
    shorted_one = _row(ledger, "C1", "C1 shorted", "fault_current").value
    assert isinstance(shorted_one, Value)
    assert shorted_one.near == pytest.approx(120.0 * sqrt(2.0) / (2.0 * 2.25) * 0.98, rel=1e-3)
    assert "shown" in str(_row(ledger, "C1", "C1 shorted", "opening").value)
    reverse = _row(ledger, "C1", "D1 shorted", "reverse_voltage").value
    assert isinstance(reverse, Value) and 160.0 < reverse.far < 170.0
    assert "driven into reverse" in _row(ledger, "D1", "D1 shorted", "opening").note
    for name, fault in (("D1", "D1 open"), ("C1", "C1 open")):
        row = _row(ledger, name, fault, "opening")
        assert row.value is None and row.note.startswith("for the bench:")


def test_a_bridge_with_a_strap_and_a_lone_bulk_stay_for_the_bench() -> None:
    strap = exact("[F1, R1, BR1, across C1 + C2]", *PARTS[:2], "BR1: bridge rectifier 1000 V 3 A", PARTS[3],
                  more=DOUBLER)  # fmt: skip
    assert "which is which" in _row(strap, "BR1", "BR1 one diode shorted", "opening").note
    lone = exact("[F1, R1, BR1, across C1]", *PARTS[:2], "BR1: bridge rectifier 1000 V 3 A",
                 "C1: electrolytic capacitor 100 uF 400 V")  # fmt: skip
    assert "overload entries" in _row(lone, "C1", "C1 open", "opening").note
    two = exact("[F1, R1, BR1, across C1 || C2]", *PARTS[:2], "BR1: bridge rectifier 1000 V 3 A", PARTS[3])
    assert "what is left of the bulk" in _row(two, "C1", "C1 open", "opening").note
