"""Primary currents: published examples, round trips, balances, signs, refusals."""

from __future__ import annotations

import math
import random

import pytest
from converter_trials import draw, hold_range, prove_signs

from derate.circuit.flyback import (
    SIGNS,
    SIGNS_WITH_DRAIN,
    lifted_peak,
    limit_power,
    operating_point,
    peak_at_limit,
    reflected_voltage,
    trapezoid_rms,
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


# AN-4137 (2004) p13 to p15: 47 W set-top box. Peaks and RMS printed to 0.01 A; the note rounds 2.0157 A to
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


# SLUS223F section 9.2: 48 W, efficiency 0.85, 75 V valley, 1.5 mH, n 10, 110 kHz. The printed duty of
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


# AN-18 (1998) p4: 12 W, 100 V, 2.4 us on at 200 kHz, 414.72 uH. Printed 0.579 A = Vdc ton / L. Printed RMS 0.22
# A (p5) and 0.19 A (p7) contradict each other; a triangle of 0.579 A and duty 0.48 has 0.232 A, held here.
def test_an18_primary():
    power = 0.5 * 414.72e-6 * 0.579**2 * 200e3
    point = operating_point(100.0, power, 414.72e-6, 1000.0, 200e3)  # high reflected voltage: discontinuous for certain
    assert point.peak == pytest.approx(100.0 * 2.4e-6 / 414.72e-6, abs=0.0005)
    assert point.duty == pytest.approx(0.48, abs=0.0005)
    assert point.rms == pytest.approx(0.232, abs=0.0005)
    assert abs(point.rms - 0.22) > 0.005 and abs(point.rms - 0.19) > 0.005  # neither printed figure


# SLUA700 (2014) p3 and p4: 5 W, 1.44 mH, 74 kHz, Dmag 0.425, D 0.501. 358 mA follows from efficiency
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


# AN1272 (1996) p5: 25 W at 0.75 from 48 V, D 0.5, 25 us, 205 uH: 33.3 W, peak 2.9 A. With D 0.5 the reflected
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
        (lambda: operating_point(100, 10, math.inf, 100, 65e3), "inductance has no upper limit"),
        (lambda: operating_point(375, 0.1, 1e-3, 75, 65e3, drain_capacitance=1e-10), "drain_capacitance 0"),
        (lambda: peak_at_limit(1.0, 375.0, 1e-3, -1e-7), "delay"),
    ],
)
def test_refusals_give_the_range(call, text):
    with pytest.raises(ValueError, match=text):
        call()


# Held to the circuit: leakage and drain capacitance in, over 400 random designs


def test_every_point_balances_with_leakage_and_drain_capacitance():
    """Volt-seconds, charge and energy with what the leakage takes over and what the drain capacitance brings.

    With L the whole inductance and Lm without the leakage: on-time L (Ipk - Iv) = Vdc D' T; off-time and take-over
    Lm (Ilift - Iv) = VR (1 - D') T, D' the on-time after the leakage has taken Iv over, which it does at
    (Vdc + VR) / Llk; the lift from L Ilift^2 = L Ipk^2 + C (Vdc^2 - VR^2). What the bulk gives is the charge under the
    switch's current times Vdc, and with the capacitance's C (Vdc^2 - VR^2) f / 2 it is the power asked for.
    """
    source, modes = random.Random(17), set()
    for k in range(400):
        d = draw(RANGES | {"share": (0.0, 0.19), "drain_capacitance": (1e-11, 3e-10)}, source)
        leakage, period = d.pop("share") * d["inductance"], 1 / d["frequency"]
        if k % 4 == 0:
            d["drain_capacitance"] = 0.0
        bulk, reflected, total, drain = (d[x] for x in ("bulk", "reflected", "inductance", "drain_capacitance"))
        brought = 0.5 * drain * (bulk**2 - reflected**2) / period
        if brought >= d["power"]:
            continue
        point = operating_point(**d, leakage=leakage)
        modes.add((point.mode, drain > 0))
        lifted = math.sqrt(point.peak**2 + drain * (bulk**2 - reflected**2) / total)
        taken = leakage * point.valley / (bulk + reflected) / period
        main = point.duty - taken
        assert total * (point.peak - point.valley) == pytest.approx(bulk * main * period, rel=1e-9)
        conducting = point.secondary_duty if point.mode == "discontinuous" else 1 - main
        assert (total - leakage) * (lifted - point.valley) == pytest.approx(reflected * conducting * period, rel=1e-9)
        if point.mode == "continuous":
            assert point.secondary_duty == pytest.approx(1 - point.duty, rel=1e-12)
        else:
            assert point.valley == 0.0 and point.duty + point.secondary_duty <= 1 + 1e-12
        charge = 0.5 * (point.peak + point.valley) * main + 0.5 * point.valley * taken
        assert point.average == pytest.approx(charge, rel=1e-9)
        assert bulk * charge + brought == pytest.approx(d["power"], rel=1e-9)
        # the switch's current: a ramp to the valley, then one from the valley to the peak, squared by midpoints
        steps = 400
        ramp = sum((point.valley * (k + 0.5) / steps) ** 2 for k in range(steps)) / steps
        along = [point.valley + (point.peak - point.valley) * (k + 0.5) / steps for k in range(steps)]
        square = ramp * taken + sum(i * i for i in along) / steps * main
        assert point.rms == pytest.approx(math.sqrt(square), rel=1e-5)
        assert (point.power, point.frequency) == (d["power"], d["frequency"])
        inverse = limit_power(point.peak, bulk, total, reflected, d["frequency"], leakage, drain)
        assert inverse == pytest.approx(d["power"], rel=1e-9)
    assert modes == {(mode, drain) for mode in ("discontinuous", "continuous") for drain in (True, False)}


def test_the_boundary_itself():
    """Equal volts on and off ask for half the period each: Ipk = Vdc / (2 L f), and the power that goes with it."""
    peak = 100.0 / (2 * 1e-3 * 50e3)
    power = 0.5 * 1e-3 * peak**2 * 50e3
    at = operating_point(100.0, power, 1e-3, 100.0, 50e3)
    assert (at.mode, at.valley) == ("boundary", 0.0)
    assert (at.duty, at.secondary_duty, at.peak) == pytest.approx((0.5, 0.5, peak))
    assert operating_point(100.0, power * (1 - 1e-6), 1e-3, 100.0, 50e3).mode == "discontinuous"
    above = operating_point(100.0, power * (1 + 1e-6), 1e-3, 100.0, 50e3)
    assert above.mode == "continuous" and above.valley > 0.0
    assert above.rms == pytest.approx(at.rms, rel=1e-5)


def test_the_boundary_of_random_designs():
    """D = VR / (Vdc + VR) puts it on the boundary however the sum of the two duties rounds: 200 designs."""
    source = random.Random(19)
    for _ in range(200):
        d = draw({k: v for k, v in RANGES.items() if k != "power"}, source)
        peak = d["bulk"] * d["reflected"] / (d["bulk"] + d["reflected"]) / (d["inductance"] * d["frequency"])
        at = operating_point(power=0.5 * d["inductance"] * peak**2 * d["frequency"], **d)
        assert (at.mode, at.valley) == ("boundary", 0.0)


def test_power_that_the_drain_capacitance_carries_alone():
    """C (Vdc^2 - VR^2) f / 2 in powers of two: 2^-20 (32^2 - 16^2) 2^10 / 2 = 0.375 W, and nothing is left to store."""
    given = {"inductance": 1e-3, "reflected": 16.0, "frequency": 2.0**10, "drain_capacitance": 2.0**-20}
    for power in (0.375, 0.3):
        with pytest.raises(ValueError, match=f"power {power:g} W is below the 0.375 W"):
            operating_point(32.0, power, **given)
    more = operating_point(32.0, 0.376, **given)
    assert 0.5 * 1e-3 * more.peak**2 * 2.0**10 == pytest.approx(0.001, rel=1e-9)


def test_lift_by_energy():
    """Below the reflected voltage the drain takes from the winding; all of it at most."""
    assert lifted_peak(0.5, 50.0, 150.0, 1e-3, 1e-10) == pytest.approx(
        math.sqrt((1e-3 * 0.25 - 1e-10 * (150.0**2 - 50.0**2)) / 1e-3)
    )
    assert lifted_peak(0.01, 50.0, 150.0, 1e-3, 1e-9) == 0.0
    # reflected 0: all the energy of the drain at the bulk's voltage
    assert lifted_peak(0.5, 300.0, 0.0, 1e-3, 1e-10) == pytest.approx(math.sqrt(0.25 + 1e-10 * 300.0**2 / 1e-3))


def test_limit_by_its_ramp():
    """What the bulk adds to the current in the delay, as the slope says: 375 V / 0.5 mH x 0.4 us = 0.3 A."""
    assert peak_at_limit(2.0, 375.0, 5e-4, 4e-7) == pytest.approx(2.3, rel=1e-12)


def test_rms_of_straight_lines():
    """Text-book: a rectangle I sqrt(D), a triangle I sqrt(D / 3), and one between them by midpoints."""
    assert trapezoid_rms(2.0, 2.0, 0.25) == pytest.approx(1.0, rel=1e-12)
    assert trapezoid_rms(0.0, 3.0, 0.3) == pytest.approx(3.0 * math.sqrt(0.1), rel=1e-12)
    steps = 4000
    along = [1.0 + 2.0 * (k + 0.5) / steps for k in range(steps)]
    assert trapezoid_rms(1.0, 3.0, 0.4) == pytest.approx(math.sqrt(sum(i * i for i in along) / steps * 0.4), rel=1e-6)


def test_reflected_voltage_takes_output_and_drop():
    """A drop alone is reflected (a shorted output), a rail below zero is as long as the sum is not."""
    assert reflected_voltage(10.0, 0.2, 0.5) == pytest.approx(7.0)
    assert reflected_voltage(10.0, 0.0, 0.5) == pytest.approx(5.0)
    assert reflected_voltage(0.5, -0.25, 0.5) == 0.125
    for output in (-0.5, -0.75):
        with pytest.raises(ValueError, match="output plus drop is"):
            reflected_voltage(10.0, output, 0.5)


POINT = {"bulk": 100.0, "power": 10.0, "inductance": 1e-3, "reflected": 100.0, "frequency": 65e3}
LIMIT = {"peak": 1.0, "bulk": 100.0, "inductance": 1e-3, "reflected": 100.0, "frequency": 65e3}


@pytest.mark.parametrize(
    ("call", "name", "low", "high", "open_low"),
    [
        *[(lambda x, n=n: operating_point(**POINT | {n: x}), n, 0.0, math.inf, True) for n in POINT],
        *[(lambda x, n=n: limit_power(**LIMIT | {n: x}), n, 0.0, math.inf, True) for n in LIMIT],
        *[
            (
                lambda x, n=n: lifted_peak(
                    **{"peak": 1.0, "bulk": 99.0, "reflected": 80.0, "inductance": 1e-3}
                    | {"drain_capacitance": 0.0, n: x}
                ),
                n,
                0.0,
                math.inf,
                open_low,
            )
            for n, open_low in (
                ("peak", True),
                ("bulk", True),
                ("inductance", True),
                ("reflected", False),
                ("drain_capacitance", False),
            )
        ],
        *[
            (
                lambda x, n=n: peak_at_limit(
                    **{"limit": 1.0, "bulk": 99.0, "inductance": 1e-3, "delay": 1e-7} | {n: x}
                ),
                n,
                0.0,
                math.inf,
                n != "delay",
            )
            for n in ("limit", "bulk", "inductance", "delay")
        ],
        (lambda x: operating_point(**POINT, leakage=x), "leakage", 0.0, 0.2 * 1e-3, False),
        (lambda x: limit_power(**LIMIT, leakage=x), "leakage", 0.0, 0.2 * 1e-3, False),
        (lambda x: operating_point(**POINT, drain_capacitance=x), "drain_capacitance", 0.0, math.inf, False),
        (lambda x: limit_power(**LIMIT, drain_capacitance=x), "drain_capacitance", 0.0, math.inf, False),
        (lambda x: reflected_voltage(x, 5.0, 0.5), "turns_ratio", 0.0, math.inf, True),
        (lambda x: reflected_voltage(10.0, x, 0.0), "output plus drop", 0.0, math.inf, True),
    ],
)
def test_ranges_are_held_at_both_ends(call, name, low, high, open_low):
    hold_range(call, name, low, high, open_low=open_low)
