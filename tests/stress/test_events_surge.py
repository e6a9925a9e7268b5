"""A surge into a path with inductance: stepped through by itself, against what the row allows for it."""

from __future__ import annotations

from math import sqrt

import pytest
from event_designs import exact, part, value

from derate.circuit.mains import ring_share
from derate.circuit.pulse import line_surge, open_circuit_wave

_CREST = 265.0 * sqrt(2.0)


def stepped(ohms: float, henries: float, farads: float, level: float = 1000.0, clamp: float = 1e9) -> float:
    """Bulk peak [V] by plain small steps: line, R, L, a diode and C; the drive held at a clamp."""
    t, i, v, h = 0.0, 0.0, _CREST, 1e-7
    while t < 2e-3:
        drive = min(_CREST + open_circuit_wave(level, t), clamp)
        i = max(0.0, i + h * (drive - ohms * i - v) / henries) if i > 0.0 or drive > v else 0.0
        v += h * i / farads
        t += h
        if t > 2e-4 and i == 0.0:
            break
    return v


@pytest.mark.parametrize("ohms", [2.2, 4.0, 8.0, 20.0])
@pytest.mark.parametrize("farads", [2e-6, 10e-6, 47e-6])
def test_the_envelope_over_the_inductance(ohms: float, farads: float) -> None:
    rise = line_surge(1000.0, _CREST, _CREST, ohms - 2.0 or 0.01, farads).bulk_peak - _CREST
    worst = max(stepped(ohms, henries, farads) - _CREST for henries in (1e-5, 3e-5, 1e-4, 2e-4, 4e-4, 1e-3, 3e-3))
    share = ring_share(ohms, farads)
    assert worst <= (1.0 + share) * rise
    assert worst > (1.0 + 0.5 * share) * rise  # and it is no slack bound


def _row(henries: str, *more: str, line: str = "[R1, BR1, across C1]") -> float:
    ledger = exact(
        line, "R1: {kind: wirewound resistor, resistance: 2 ohm}", "BR1: bridge rectifier 1000 V 4 A",
        "C1: electrolytic capacitor 10 uF 450 V", *more, mains="265 V",
        site=f", surge: 1 kV, mains_inductance: {henries}",
    )  # fmt: skip
    return value(ledger, part("C1"), "voltage_surge", "surge").far


def test_a_path_without_inductance_does_not_ring() -> None:
    assert _row("0 mH") < _row("0..0.8 mH") == _row("0.1 mH")
    assert _row("0.1 mH") >= max(stepped(4.0, henries, 10e-6) for henries in (3e-5, 1e-4, 3e-4))


def test_behind_a_varistor_the_ring_at_most_doubles_the_rise() -> None:
    rv = "RV1: {kind: varistor, nominal_voltage: 430 V, rated: {clamping_voltage: {1 A: 450 V, 100 A: 500 V}}}"
    held = _row("0.1 mH", rv, line="[across RV1, R1, BR1, across C1]")
    assert held <= _CREST + 2.0 * (500.0 - _CREST) + 1e-6
    assert held >= max(stepped(2.0, henries, 10e-6, clamp=500.0) for henries in (3e-5, 1e-4, 3e-4))
