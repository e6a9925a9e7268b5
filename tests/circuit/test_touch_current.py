"""Touch current and line-capacitor discharge against ngspice rows and published tables."""

from __future__ import annotations

from math import cos, exp, pi, sin, sqrt

import mains_bench as bench
import pytest

from derate.circuit.barrier import TIED, TOUCH_CURRENT_ERROR, bleeder_loss, discharge_voltage, touch_current


@pytest.mark.parametrize("row", bench.rows("touch_current_y_capacitor"), ids=lambda r: r["netlist"])
def test_reference_rows(row):
    """265 V, 50 Hz, 2.2 nF through 2 kohm: rms 1 %, peak inside the declared band (its sharp edge is the bridge's)."""
    found, wanted = touch_current(265.0, 50.0, 2.2e-9, row["capacitor_from"]), row["result"]
    assert found.rms == pytest.approx(wanted["rms_A"], rel=0.01)
    below, above = TOUCH_CURRENT_ERROR["peak"]
    assert below <= wanted["peak_A"] / found.peak - 1.0 <= above
    if row["capacitor_from"] == "line":
        assert found.rms == pytest.approx(wanted["ideal_2pifCV_A"], rel=1e-6)


def test_waveform_from_the_bulk():
    """The rail between max(v, 0) - Vp and min(v, 0), followed step by step: rms, peak and fundamental of its slope."""
    n, rail = 40_000, 0.0
    current = []
    for k in range(3 * n):
        v = sin(2.0 * pi * k / n)
        new = min(max(rail, max(v, 0.0) - 1.0), min(v, 0.0))
        current.append((new - rail) * n / (2.0 * pi))
        rail = new
    last = current[-n:]
    found = touch_current(1.0 / sqrt(2.0) * 100.0, 50.0, 1e-9, "bulk minus")
    scale = 2.0 * pi * 50.0 * 1e-9 * 100.0  # w C Vp
    assert found.rms == pytest.approx(scale * sqrt(sum(i * i for i in last) / n), rel=1e-3)
    assert found.peak == pytest.approx(scale * max(last), rel=1e-3)
    a = sum(i * cos(2.0 * pi * k / n) for k, i in enumerate(last)) * 2.0 / n
    b = sum(i * sin(2.0 * pi * k / n) for k, i in enumerate(last)) * 2.0 / n
    assert found.fundamental == pytest.approx(scale * sqrt(a * a + b * b) / sqrt(2.0), rel=1e-3)


def test_a_rail_behind_one_diode_carries_the_whole_line():
    """One diode, 0.6 mA drawn from the bulk, the plug turned: through 1 kohm and 4.7 nF to earth flows what flows from
    the line itself. A bridge would give 0.707 of it."""
    bench.need_ngspice()
    netlist = """Vl m 0 SIN(0 325.3 50)
D1 0 p DI
C1 p m 10u IC=325
R1 p m 540k
Cy m b 4.7n
Rb b 0 1k
"""
    t, body = bench.ngspice(netlist, "v(b)", 2e-5, 0.08, 0.04)
    wanted = touch_current(325.3 / sqrt(2.0), 50.0, 4.7e-9, "line").rms
    assert bench.rms(t, [v / 1e3 for v in body]) == pytest.approx(wanted, rel=0.01)
    assert touch_current(325.3 / sqrt(2.0), 50.0, 4.7e-9, "bulk minus").rms < 0.72 * wanted


@pytest.mark.parametrize(
    ("volts", "farads", "amperes", "digit"),
    [(240.0, 1e-7, 0.0075, 5e-5), (240.0, 4.7e-9, 0.000354, 5e-7)],
    ids=["Tooley, Electronic Circuits", "a forum's sum"],
)
def test_published_reactance_currents(volts, farads, amperes, digit):
    """Half the last printed digit."""
    assert touch_current(volts, 50.0, farads, "line").rms == pytest.approx(amperes, abs=digit)


def test_line_is_never_smaller():
    for tied in TIED:
        found = touch_current(264.0, 60.0, 4.7e-9, tied)
        assert found.rms <= touch_current(264.0, 60.0, 4.7e-9, "line").rms
        assert found.peak == touch_current(264.0, 60.0, 4.7e-9, "line").peak
        for changed in ((265.0, 60.0, 4.7e-9), (264.0, 61.0, 4.7e-9), (264.0, 60.0, 4.8e-9)):
            assert touch_current(*changed, tied).rms > found.rms


def test_three_rules_of_discharge():
    """From a 373 V crest: 37 % in 1 s allows R C 1.0 s, 34 V in 1 s 0.418 s, 60 V in 2 s 1.09 s.

    Half of the last digit of R C moves what is left by 0.5, 0.3 and 0.8 %.
    """
    assert discharge_voltage(373.0, 1e6, 1.0e-6, 1.0) == pytest.approx(373.0 * exp(-1.0), rel=5e-3)
    assert discharge_voltage(373.0, 1e6, 0.418e-6, 1.0) == pytest.approx(34.0, rel=3e-3)
    assert discharge_voltage(373.0, 1e6, 1.09e-6, 2.0) == pytest.approx(60.0, rel=8e-3)


TABLE = [
    (7.5e-7, 1e6, 66), (1e-6, 7.8e5, 86), (1.5e-6, 4.8e5, 142), (2e-6, 3.6e5, 191), (2.5e-6, 3e5, 230),
    (3.5e-6, 2e5, 347), (5e-6, 1.5e5, 464),
]  # fmt: skip


@pytest.mark.parametrize(("farads", "ohms", "saving"), TABLE)
def test_published_table_of_discharge_resistors(farads, ohms, saving):
    """Product page HF81: saving in mW by capacitor and resistance.

    V^2/R at 264 V less what their part itself takes, 0.6 to 3.7 mW: 4 mW; R C 0.70 to 0.78 s; 89 to 104 V after 1 s.
    """
    assert 0.0 < bleeder_loss(264.0, ohms) * 1e3 - saving < 4.0
    assert 0.70 <= ohms * farads <= 0.78
    assert 89.0 < discharge_voltage(373.0, ohms, farads, 1.0) < 104.5
    assert discharge_voltage(373.0, ohms, farads, 2.0) < 60.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: touch_current(264.0, 50.0, 1e-9, "chassis"), "state one of"),
        (lambda: touch_current(float("nan"), 50.0, 1e-9, "line"), "1 V to 600 V"),
        (lambda: discharge_voltage(373.0, 0.0, 1e-6, 1.0), "1 ohm to"),
    ],
)
def test_refuses_with_the_range(call, words):
    with pytest.raises(ValueError, match=words):
        call()
