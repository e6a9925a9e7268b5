"""Resistances that follow temperature: the B equation of a thermistor."""

from __future__ import annotations

from math import exp

from derate.circuit.bands import Band, in_range

# true / computed - 1. B is constant to about 5 % of resistance between 25 and 100 degC.
ERROR: dict[str, Band] = {"resistance": (-0.05, 0.05)}
SIGNS: dict[str, dict[str, int]] = {
    "resistance": {"at_25": 1, "b_value": 0, "temperature": -1},
}
_KELVIN = 273.15


def thermistor_resistance(at_25: float, b_value: float, temperature: float) -> float:
    """Resistance of a thermistor at a temperature [ohm].

    at_25: at 25 degC, tolerance applied [ohm], 1e-3 to 1e7; b_value: B from 25 degC [K], 500 to 7000
    temperature: of its body; "cold" is the air inside the supply, not 25 degC [degC], -55 to 250

    R = R25 exp(B (1/T - 1/298.15)), the definition of B (IEC 60539-1).
    """
    in_range("resistance at 25 degC", at_25, 1e-3, 1e7, "ohm")
    in_range("B value", b_value, 500.0, 7000.0, "K")
    in_range("temperature", temperature, -55.0, 250.0, "degC")
    return at_25 * exp(b_value * (1.0 / (temperature + _KELVIN) - 1.0 / (25.0 + _KELVIN)))
