"""Self-oscillating primary: balances, agreement with the fixed-frequency solution, the frequency range, signs."""

from __future__ import annotations

import random

import pytest
from converter_trials import draw, prove_signs

from derate.circuit.flyback import BOUNDARY_SIGNS, boundary_point, operating_point

RANGES = {"bulk": (60.0, 400.0), "power": (1.0, 100.0), "inductance": (2e-4, 3e-3), "reflected": (40.0, 180.0)}


@pytest.mark.parametrize("name", sorted(BOUNDARY_SIGNS))
def test_signs_hold(name):
    prove_signs(lambda **x: getattr(boundary_point(**x), name), RANGES | {"idle": (1e-7, 3e-6)}, BOUNDARY_SIGNS[name])


def test_points_balance_and_meet_the_fixed_frequency():
    source = random.Random(8)
    for _ in range(200):
        d = draw(RANGES, source)
        point = boundary_point(**d)
        assert point.mode == "boundary" and point.duty + point.secondary_duty == pytest.approx(1, rel=1e-9)
        fixed = operating_point(**d, frequency=point.frequency)  # the fixed-frequency solution at that frequency
        assert fixed.peak == pytest.approx(point.peak, rel=1e-6) and fixed.rms == pytest.approx(point.rms, rel=1e-5)
        waits = boundary_point(**d, idle=1e-6)
        assert 0.5 * d["inductance"] * waits.peak**2 * waits.frequency == pytest.approx(d["power"], rel=1e-9)
        assert (waits.duty + waits.secondary_duty) / waits.frequency + 1e-6 == pytest.approx(1 / waits.frequency)


def test_leakage_and_drain_capacitance_as_at_a_fixed_frequency():
    source, tried = random.Random(9), 0
    for _ in range(200):
        d = draw(RANGES | {"power": (10.0, 100.0)}, source)
        extra = {"leakage": 0.03 * d["inductance"], "drain_capacitance": 5e-11}
        point = boundary_point(**d, **extra, idle=5e-7)
        try:
            fixed = operating_point(**d, **extra, frequency=point.frequency)
        except ValueError:
            continue
        tried += 1
        assert fixed.mode == "discontinuous"
        assert fixed.peak == pytest.approx(point.peak, rel=1e-9)
        assert fixed.duty == pytest.approx(point.duty, rel=1e-9)
        assert fixed.average == pytest.approx(point.average, rel=1e-9)
    assert tried > 150


def test_frequency_range():
    free = boundary_point(300.0, 5.0, 1e-3, 100.0)
    held = boundary_point(300.0, 5.0, 1e-3, 100.0, frequency_range=(20e3, 130e3))
    assert free.frequency > 130e3 and held.frequency == 130e3 and held.mode == "discontinuous"
    with pytest.raises(ValueError, match="below the stated range"):
        boundary_point(80.0, 60.0, 1e-3, 100.0, frequency_range=(50e3, 130e3))


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: boundary_point(80.0, 60.0, 1e-3, 100.0, frequency_range=(130e3, 50e3)), "empty"),
        (lambda: boundary_point(0.0, 60.0, 1e-3, 100.0), "bulk is 0"),
        (lambda: boundary_point(80.0, 60.0, 1e-3, 100.0, idle=-1e-6), "idle is -1 us"),
        (lambda: boundary_point(80.0, 60.0, 1e-3, 100.0, leakage=3e-4), "leakage is 300 uH"),
        (lambda: boundary_point(375.0, 0.5, 1e-3, 75.0, drain_capacitance=3e-10), "state drain_capacitance 0"),
    ],
)
def test_refusals_give_the_range(call, text):
    with pytest.raises(ValueError, match=text):
        call()
