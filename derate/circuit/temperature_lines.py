"""Resistances that follow temperature: thermistors by the B equation and by self-heating."""

from __future__ import annotations

from math import exp, log

from derate.circuit.bands import Band, in_range

# true / computed - 1. B is constant to about 5 % of resistance between 25 and 100 degC. Dissipation is defined by the
# body temperature; what its value was measured at goes with the value.
ERROR: dict[str, Band] = {"resistance": (-0.05, 0.05), "rise": (0.0, 0.0)}
SIGNS: dict[str, dict[str, int]] = {
    "resistance": {"at_25": 1, "b_value": 0, "temperature": -1},
    "rise": {"power": 1, "dissipation": -1},
    "body": {"at_25": 1, "b_value": -1, "hot": -1},  # at a hot resistance below that at 25 degC
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


def self_heating(power: float, dissipation: float) -> float:
    """Rise of a thermistor's body above the air beside it [K], in equilibrium.

    power lost in it [W], 0 to 100; dissipation: power for a rise of 1 K [W/K], 1e-4 to 1

    P / delta, the definition of the dissipation factor (IEC 60539-1, as two makers print it).
    """
    in_range("power", power, 0.0, 100.0, "W")
    in_range("dissipation factor", dissipation, 1e-4, 1.0, "W/K")
    return power / dissipation


def body_temperature(at_25: float, b_value: float, hot: float) -> float:
    """Temperature of a thermistor's body from its resistance [degC]: the B equation turned round.

    at_25: resistance at 25 degC [ohm], 1e-3 to 1e7; b_value [K], 500 to 7000; hot: resistance now [ohm], above 0
    """
    in_range("resistance at 25 degC", at_25, 1e-3, 1e7, "ohm")
    in_range("B value", b_value, 500.0, 7000.0, "K")
    in_range("hot resistance", hot, 0.0, at_25, "ohm", open_low=True)
    inverse = 1.0 / (25.0 + _KELVIN) - log(at_25 / hot) / b_value
    in_range("inverse of the temperature", inverse, 1e-3, 1.0, "1/K")
    return 1.0 / inverse - _KELVIN
