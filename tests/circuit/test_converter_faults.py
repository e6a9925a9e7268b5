"""Single faults of the converter: equations, the list of what is for the bench, signs, refusals."""

from __future__ import annotations

import random

import pytest
from converter_trials import prove_signs

from derate.circuit import barrier as touch_current
from derate.circuit import clamp, converter_faults
from derate.circuit import converter_faults as lost_regulation
from derate.circuit import converter_faults as shorted_parts
from derate.circuit.converter_faults import (
    ERROR,
    FAULTS,
    SIGNS,
    ForTheBench,
    NothingFlows,
    WorkedOut,
    clamp_open,
    output_shorted,
    rectifier_shorted_peak,
    winding_shorted_peak,
)
from derate.circuit.flyback import limit_power
from derate.circuit.numerics import widened

SHORT = {"drop": 0.5, "shortest_on": 0.3e-6}


def test_every_fault_is_computed_or_listed_with_its_reason():
    modules = (converter_faults, lost_regulation, shorted_parts, clamp, touch_current)
    for fault, entry in FAULTS.items():
        match entry:
            case WorkedOut(function):
                assert any(callable(getattr(module, function, None)) for module in modules), fault
            case NothingFlows(why):
                assert len(why.split()) >= 3, fault
            case ForTheBench(why):
                assert len(why.split()) >= 5, fault
    # where only one side has a bound the band says so: a floor for the current no limit sees, a ceiling for the voltage
    assert shorted_parts.SHORTED_ERROR["sense_shorted_peak"][1] == float("inf")
    assert shorted_parts.SHORTED_ERROR["open_rectifier_voltage"][0] == -1.0
    # and what is set by a leakage nobody measures stays for the bench
    for unknown in ("winding layer shorted", "part of a winding shorted"):
        assert isinstance(FAULTS[unknown], ForTheBench)


def test_output_shorted():
    short = output_shorted(1.0, 375.0, 1e-3, 0.2e-6, 15.0, 66e3, **SHORT)
    assert short.peak == pytest.approx(1.075)
    assert short.secondary == pytest.approx(1.075 * 15 * 0.9)
    assert output_shorted(1.0, 375.0, 1e-3, 0.2e-6, 15.0, 66e3, rectifier="PN", **SHORT).secondary == pytest.approx(
        1.075 * 15 * 0.8
    )
    assert short.power == pytest.approx(0.5 * 1e-3 * 1.075**2 * 66e3)
    restarts = output_shorted(1.0, 375.0, 1e-3, 0.2e-6, 15.0, 66e3, restart_duty=0.05, **SHORT)
    assert restarts.power == pytest.approx(0.05 * short.power)


def test_ratcheting():
    """Volt-seconds in the shortest on-time against those the drop takes out: stepping cycles agrees with the flag."""
    source, both = random.Random(1), set()
    for _ in range(200):
        bulk, drop, n = source.uniform(100, 400), source.uniform(0.2, 2.0), source.uniform(5, 25)
        shortest, frequency, inductance = source.uniform(1e-7, 6e-7), source.uniform(3e4, 1.3e5), 1e-3
        flag = output_shorted(1.0, bulk, inductance, 1e-7, n, frequency, drop=drop, shortest_on=shortest).ratchets
        current = 1.2  # above the limit, so only the shortest on-time is left
        for _ in range(50):
            current += bulk * shortest / inductance
            current -= n * drop * (1 / frequency - shortest) / inductance
        assert (current > 1.2) == (flag == 1.0)
        both.add(flag)
    assert both == {0.0, 1.0}


def test_power_into_a_short_is_an_upper_figure():
    """With the output at the drop alone the inductor works continuous and hands over less than L I^2 f / 2."""
    short = output_shorted(1.0, 375.0, 1e-3, 0.0, 15.0, 66e3, drop=0.5, shortest_on=1e-7)
    assert limit_power(short.peak, 375.0, 1e-3, 15.0 * 0.5, 66e3) < short.power


def test_rectifier_shorted_is_far_above_the_limit():
    peak = rectifier_shorted_peak(1.0, 375.0, 5.0, 15.0, 20e-6, 0.3e-6)
    assert peak == pytest.approx(1 + (375 + 75) * 0.3e-6 / 20e-6)
    assert peak > 5 * 1.0


# ngspice 39, own netlist: leakage and magnetising inductance with 1 ohm, secondary through 10 milliohm straight into 1
# mF at the output voltage, ideal switch closed until the limit is passed and the delay is over; first pulse.
@pytest.mark.parametrize(
    ("bulk", "leakage", "ratio", "output", "limit", "delay", "spice"),
    [
        (375.0, 20e-6, 15.0, 5.0, 1.0, 0.40e-6, 9.68),
        (120.0, 20e-6, 15.0, 5.0, 1.0, 0.40e-6, 4.71),
        (375.0, 5e-6, 8.0, 12.0, 2.0, 0.50e-6, 44.29),
        (375.0, 60e-6, 15.0, 5.0, 0.36, 0.30e-6, 2.61),
        (300.0, 4.5e-6, 22.4, 3.3, 2.5, 0.25e-6, 19.33),
    ],
)
def test_rectifier_shorted_against_ngspice(bulk, leakage, ratio, output, limit, delay, spice):
    low, high = widened(
        rectifier_shorted_peak(limit, bulk, output, ratio, leakage, delay), ERROR["rectifier_shorted_peak"]
    )
    assert low <= spice <= high


@pytest.mark.parametrize("ohms", [0.0, 1.0, 5.0])
def test_winding_shorted_stepped_in_time(ohms):
    """Two loops stepped in time: bulk, resistance, leakage, and magnetising inductance with the short, 20 milliohm at
    turns of 10, across it. The switch opens a delay after the limit. Resistance only lowers it: inside the band.
    """
    source = random.Random(7)
    for _ in range(20):
        limit, bulk = source.uniform(0.3, 2.0), source.uniform(120.0, 400.0)
        leakage, delay = source.uniform(5e-6, 5e-5), source.uniform(1e-7, 5e-7)
        magnetising, short, step = 1e-3, 2.0, 2e-10
        through, field, passed, time = 0.0, 0.0, None, 0.0
        while passed is None or time - passed < delay:
            across = short * (through - field)
            through += (bulk - ohms * through - across) / leakage * step
            field += across / magnetising * step
            time += step
            if passed is None and through >= limit:
                passed = time
        low, high = widened(winding_shorted_peak(limit, bulk, leakage, delay), ERROR["winding_shorted_peak"])
        assert low <= through <= high
        if not ohms:
            assert through == pytest.approx(winding_shorted_peak(limit, bulk, leakage, delay), rel=0.15)


def test_clamp_open():
    fault = clamp_open(375.0, 85.0, 20e-6, 1.0, 700.0, 66e3, 50e-12)
    assert fault.avalanches == 1.0 and fault.power == pytest.approx(fault.energy * 66e3)
    # energy: at least what the leakage holds above the breakdown, at most all of it times BV / (BV - Vdc - VR)
    assert 0 < fault.energy <= 0.5 * 20e-6 * 700 / 240
    calm = clamp_open(300.0, 85.0, 1e-6, 0.3, 700.0, 66e3, 200e-12)
    assert calm.avalanches == 0.0 and calm.energy == 0.0 and calm.switch_peak < 700


def test_signs_hold():
    base = {
        "limit": (0.3, 3.0),
        "bulk": (100.0, 400.0),
        "inductance": (2e-4, 2e-3),
        "delay": (5e-8, 5e-7),
        "turns_ratio": (5.0, 25.0),
        "frequency": (3e4, 1.3e5),
        "restart_duty": (0.02, 1.0),
    }
    prove_signs(lambda **x: output_shorted(**x, **SHORT).secondary, base, SIGNS["short_secondary"])
    # with a long delay a larger inductance can carry less: (I + V td / L)^2 L has a minimum
    wide = base | {"delay": (5e-8, 2e-6), "inductance": (1e-4, 2e-3), "limit": (0.1, 2.0)}
    prove_signs(lambda **x: output_shorted(**x, **SHORT).power, wide, SIGNS["short_power"], designs=400)
    prove_signs(
        rectifier_shorted_peak,
        {
            "limit": (0.3, 3),
            "bulk": (100, 400),
            "output": (3, 24),
            "turns_ratio": (5, 25),
            "leakage": (2e-6, 5e-5),
            "delay": (5e-8, 5e-7),
        },
        SIGNS["rectifier_shorted_peak"],
    )
    prove_signs(
        winding_shorted_peak,
        {"limit": (0.3, 3), "bulk": (100, 400), "leakage": (2e-6, 5e-5), "delay": (5e-8, 5e-7)},
        SIGNS["winding_shorted_peak"],
    )


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: output_shorted(1, 375, 1e-3, 1e-7, 15, 66e3, rectifier="valve", **SHORT), "state 'Schottky' or 'PN'"),
        (lambda: output_shorted(1, 375, 1e-3, 1e-7, 15, 66e3, drop=0.5, shortest_on=1.0), "shortest_on is 1 s"),
        (lambda: output_shorted(1, 375, 1e-3, 1e-7, 15, 66e3, restart_duty=0.0, **SHORT), "restart_duty is 0"),
        (lambda: clamp_open(375, 85, 2e-5, 1.0, 450.0, 66e3, 5e-11), "not above bulk plus reflected"),
    ],
)
def test_refusals_give_the_range(call, text):
    with pytest.raises(ValueError, match=text):
        call()
