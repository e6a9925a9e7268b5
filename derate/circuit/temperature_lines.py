"""Ratings and resistances that follow temperature: re-rating lines, thermistors by B equation and self-heating."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log

from derate.circuit.bands import Band, in_range

# true / computed - 1. The line is the maker's own; B is constant to about 5 % of resistance between 25 and 100 degC.
# Dissipation is defined by the body temperature; what its value was measured at goes with the value.
ERROR: dict[str, Band] = {"power": (0.0, 0.0), "resistance": (-0.05, 0.05), "rise": (0.0, 0.0)}
SIGNS: dict[str, dict[str, int]] = {
    "power": {"rated": 1, "reference": 1, "zero": 1, "temperature": -1},
    "resistance": {"at_25": 1, "b_value": 0, "temperature": -1},
    "rise": {"power": 1, "dissipation": -1},
    "body": {"at_25": 1, "b_value": -1, "hot": -1},  # at a hot resistance below that at 25 degC
}
_KELVIN = 273.15


def rerated_power(rated: float, reference: float, zero: float, temperature: float) -> float:
    """Power a part may take at a temperature [W]: rated up to the reference, then straight down to nothing.

    rated [W], 0 to 1e5; reference: up to which the rating holds [degC], -55 to 300; zero: where the line ends [degC],
    above reference to 500; temperature: ambient, or whatever the line is drawn over [degC], -273.15 to 1000

    >>> rerated_power(1.0, 70.0, 155.0, 112.5)
    0.5
    """
    in_range("rated power", rated, 0.0, 1e5, "W")
    in_range("reference temperature", reference, -55.0, 300.0, "degC")
    in_range("zero-power temperature", zero, reference, 500.0, "degC", open_low=True)
    in_range("temperature", temperature, -_KELVIN, 1000.0, "degC")
    return rated * min(1.0, max(0.0, (zero - temperature) / (zero - reference)))


def line_between(points: Sequence[tuple[float, float]], x: float) -> float:
    """Straight lines between given points, x rising; refused outside the first and the last."""
    xs = [a for a, _ in points]
    if len(points) < 2 or any(b <= a for a, b in zip(xs, xs[1:], strict=False)):
        raise ValueError("a line needs at least two points that rise in the first value: put them in order")
    if not xs[0] <= x <= xs[-1]:
        raise ValueError(f"{x:g} is outside the line: state a value from {xs[0]:g} to {xs[-1]:g}, or more points")
    k = next(n for n in range(1, len(xs)) if x <= xs[n])
    (x0, y0), (x1, y1) = points[k - 1], points[k]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


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
