"""Primary currents: published examples, round trips, balances, signs, refusals."""

from __future__ import annotations

import math
import random

import pytest
from converter_trials import draw, prove_signs

from derate.circuit.flyback import (
    SIGNS,
    SIGNS_WITH_DRAIN,
    limit_power,
    operating_point,
    peak_at_limit,
    reflected_voltage,
)


def highest_continuous_bulk(power, inductance, reflected, frequency):
    """AN-4137 eq 12: the bulk voltage above which the current is no longer continuous."""
    remainder = 1 / (2 * inductance * frequency * power) ** 0.5 - 1 / reflected
    return 1 / remainder if remainder > 0 else math.inf


RANGES = {
    "bulk": (60.0, 400.0),
    "power": (1.0, 100.0),
    "inductance": (2e-4, 3e-3),
    "reflected": (40.0, 180.0),
    "frequency": (30e3, 150e3),
}


@pytest.mark.parametrize("name", ["peak", "rms", "average", "duty", "secondary_duty"])
def test_signs_hold(name):
    prove_signs(lambda **x: getattr(operating_point(**x), name), RANGES, SIGNS[name])


@pytest.mark.parametrize("name", ["peak", "rms"])
def test_signs_hold_with_a_drain_capacitance(name):
    ranges = RANGES | {"drain_capacitance": (1e-11, 3e-10), "power": (5.0, 100.0)}
    ranges["inductance"] = (2e-4, 5e-3)
    prove_signs(lambda **x: getattr(operating_point(**x), name), ranges, SIGNS_WITH_DRAIN[name], designs=400)


def test_signs_hold_at_the_current_limit():
    ranges = {"limit": (0.2, 5.0), "bulk": (60.0, 400.0), "inductance": (2e-4, 3e-3), "delay": (5e-8, 1e-6)}
    prove_signs(peak_at_limit, ranges, SIGNS["peak_at_limit"])
    ranges = {k: v for k, v in RANGES.items() if k != "power"} | {"peak": (0.2, 4.0)}
    prove_signs(limit_power, ranges, SIGNS["limit_power"])


def test_every_point_balances():
    """Volt-seconds of the inductance, charge and energy of the bulk, over 400 random designs in both modes."""
    source, modes = random.Random(7), set()
    for _ in range(400):
        d = draw(RANGES, source)
        point = operating_point(**d)
        modes.add(point.mode)
        assert d["bulk"] * point.duty == pytest.approx(d["reflected"] * point.secondary_duty, rel=1e-9)
        assert 0.5 * (point.peak + point.valley) * point.duty == pytest.approx(point.average, rel=1e-9)
        assert d["bulk"] * point.average == pytest.approx(d["power"], rel=1e-9)
        stored = 0.5 * d["inductance"] * (point.peak**2 - point.valley**2) * d["frequency"]
        assert stored == pytest.approx(d["power"], rel=1e-9)
        assert point.duty + point.secondary_duty <= 1 + 1e-9
        assert limit_power(point.peak, d["bulk"], d["inductance"], d["reflected"], d["frequency"]) == pytest.approx(
            d["power"], rel=1e-9
        )
    assert modes == {"discontinuous", "continuous"}


def test_mode_changes_at_the_boundary_bulk():
    source = random.Random(9)
    found = 0
    for _ in range(200):
        d = draw({k: v for k, v in RANGES.items() if k != "bulk"}, source)
        bulk = highest_continuous_bulk(**d)
        if bulk > 1000:
            continue
        found += 1
        assert operating_point(bulk * 0.999, **d).mode == "continuous"
        assert operating_point(bulk * 1.001, **d).mode == "discontinuous"
    assert found > 50


# AN-4137 (Fairchild, 2004) p13 to p15: 47 W set-top box. Peaks and RMS printed to 0.01 A; the note rounds 2.0157 A to
# 2.01 and the inputs (92 V, 0.48, 671 uH) to two or three digits, which moves the peak by up to 0.5 %: 0.01 A.
def test_an4137_primary():
    low = operating_point(92.0, 67.0, 671e-6, 85.0, 66e3)
    assert low.mode == "continuous" and low.duty == pytest.approx(0.48, abs=0.005)
    assert low.peak == pytest.approx(2.01, abs=0.01) and low.rms == pytest.approx(1.07, abs=0.01)
    high = operating_point(375.0, 67.0, 671e-6, 85.0, 66e3)
    assert high.peak == pytest.approx(1.75, abs=0.01)
    assert 375 + 85 == 460  # nominal switch voltage, printed
    assert highest_continuous_bulk(67.0, 671e-6, 85.0, 66e3) == pytest.approx(812, rel=0.02)
    # Printed 375 V: clipped at the highest bulk voltage and then read as a boundary. It is none: still continuous
    # above.
    assert operating_point(400.0, 67.0, 671e-6, 85.0, 66e3).mode == "continuous"
    # measured on the bench: 2.0 A at 85 V, efficiency 73 %, 682 uH, 90 V; read off a scope to about 5 %
    assert operating_point(90.0, 46.9 / 0.73, 682e-6, 85.0, 66e3).peak == pytest.approx(2.0, rel=0.05)


# Texas Instruments SLUS223F section 9.2: 48 W, efficiency 0.85, 75 V valley, 1.5 mH, n 10, 110 kHz. The printed duty of
# 0.627 is 126 V over 126 + 75; the peak formula takes 120 V. Printed to 0.01 A; the note's arithmetic has both
# frequencies, so 1.36 A is held to the range between 100 and 110 kHz, and the RMS to 0.01 A.
def test_slus223_primary():
    assert operating_point(75.0, 48 / 0.85, 1.5e-3, 126.0, 110e3).duty == pytest.approx(0.627, abs=0.0005)
    peaks = [operating_point(75.0, 48 / 0.85, 1.5e-3, 120.0, f).peak for f in (100e3, 110e3)]
    assert peaks[1] - 0.005 <= 1.36 <= peaks[0] + 0.005
    assert operating_point(75.0, 48 / 0.85, 1.5e-3, 120.0, 110e3).rms == pytest.approx(0.97, abs=0.01)
    # The chosen 0.75 ohm at 1 V limits at 1.33 A, below the computed peak: full load is not carried at the valley.
    limited = limit_power(1 / 0.75, 75.0, 1.5e-3, 120.0, 110e3)
    assert limited < 48 / 0.85


# Micrel AN-18 (1998) p4: 12 W, 100 V, 2.4 us on at 200 kHz, 414.72 uH. Printed 0.579 A = Vdc ton / L. Printed RMS 0.22
# A (p5) and 0.19 A (p7) contradict each other; a triangle of 0.579 A and duty 0.48 has 0.232 A, held here.
def test_an18_primary():
    power = 0.5 * 414.72e-6 * 0.579**2 * 200e3
    point = operating_point(100.0, power, 414.72e-6, 1000.0, 200e3)  # high reflected voltage: discontinuous for certain
    assert point.peak == pytest.approx(100.0 * 2.4e-6 / 414.72e-6, abs=0.0005)
    assert point.duty == pytest.approx(0.48, abs=0.0005)
    assert point.rms == pytest.approx(0.232, abs=0.0005)
    assert abs(point.rms - 0.22) > 0.005 and abs(point.rms - 0.19) > 0.005  # neither printed figure


# Texas Instruments SLUA700 (2014) p3 and p4: 5 W, 1.44 mH, 74 kHz, Dmag 0.425, D 0.501. 358 mA follows from efficiency
# 0.73; RMS 146 mA = 0.358 sqrt(0.501 / 3).
def test_slua700_primary():
    power = 0.5 * 1.44e-3 * 0.358**2 * 74e3
    assert power == pytest.approx(5 / 0.73, rel=0.005)
    reflected = 1.44e-3 * 0.358 * 74e3 / 0.425
    bulk = 1.44e-3 * 0.358 * 74e3 / 0.501
    point = operating_point(bulk, power, 1.44e-3, reflected, 74e3)
    assert point.mode == "discontinuous" and point.secondary_duty == pytest.approx(0.425, rel=1e-6)
    assert point.rms == pytest.approx(0.146, abs=0.0005)
    # turns ratio 15.7: 4.71 A of secondary peak would take 13.2; the note multiplies by what its drop leaves
    assert point.average == pytest.approx(0.090, abs=0.001)  # switch average current, p10


# AN1272 (Philips, 1996) p5: 25 W at 0.75 from 48 V, D 0.5, 25 us, 205 uH: 33.3 W, peak 2.9 A. With D 0.5 the reflected
# voltage is 48 V. Printed to 0.1 A.
def test_an1272_peak():
    point = operating_point(48.0, 25 / 0.75, 205e-6, 48.0, 40e3)
    assert point.duty == pytest.approx(0.5, abs=0.02)  # within 5 % of the boundary
    assert point.peak == pytest.approx(2.9, abs=0.05)
    # Shunt: the note prints 3 W with a 2 where 0.33 ohm belongs; 0.33 x 2.9^2 x 0.5 / 3 = 0.46 W.
    triangle = operating_point(48.0, 0.5 * 205e-6 * 2.9**2 * 40e3, 205e-6, 1000.0, 40e3)
    assert 0.33 * triangle.rms**2 == pytest.approx(0.33 * 2.9**2 * triangle.duty / 3, rel=1e-9)
    assert pytest.approx(0.46, abs=0.005) == 0.33 * 2.9**2 * 0.5 / 3


def test_small_pieces():
    assert reflected_voltage(22.37, 3.3, 0.5) == pytest.approx(85.0, abs=0.05)
    assert peak_at_limit(2.5, 375.0, 671e-6, 0.0) == 2.5


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: operating_point(0.0, 10, 1e-3, 100, 65e3), "bulk is 0"),
        (lambda: operating_point(math.nan, 10, 1e-3, 100, 65e3), "bulk is nan"),
        (lambda: operating_point(100, -1, 1e-3, 100, 65e3), "power is -1"),
        (lambda: operating_point(100, 10, math.inf, 100, 65e3), "inductance is inf"),
        (lambda: operating_point(375, 0.1, 1e-3, 75, 65e3, drain_capacitance=1e-10), "drain_capacitance 0"),
        (lambda: peak_at_limit(1.0, 375.0, 1e-3, -1e-7), "delay"),
    ],
)
def test_refusals_give_the_range(call, text):
    with pytest.raises(ValueError, match=text):
        call()
