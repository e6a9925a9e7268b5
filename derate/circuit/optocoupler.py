"""The optocoupler of a feedback path: what its LED gets, and what its transistor draws from the controller.

Contents: `led_current`, `coupled_current`, `led_current_needed`.

Currents are [A], ratios plain numbers. The loop needs the reference fully on only where the controller has to stop
switching, so the LED current here is the greatest there is; it says nothing of the one in regulation.
"""

from __future__ import annotations

import math

from derate.circuit.bands import Band, in_range

# Ohm's law and a definition: no error of their own. What is not known sits in the drop, the ratio and the ageing.
ERROR: dict[str, Band] = {"led_current": (0.0, 0.0), "coupled_current": (0.0, 0.0), "led_current_needed": (0.0, 0.0)}

SIGNS: dict[str, dict[str, int]] = {
    "led_current": {"output": 1, "reference": -1, "drop": -1, "resistance": -1, "bias": 1},
    "coupled_current": {"led": 1, "ratio": 1, "left": 1, "warm": 1},
    "led_current_needed": {"needed": 1, "ratio": -1, "left": -1, "warm": -1},
}


def led_current(
    output: float, reference: float, drop: float, resistance: float, bias: float | None = None
) -> float:  # fmt: skip
    """Greatest current of the LED [A]: (output - reference - drop) / resistance - drop / bias, never below zero.

    output: of the rail that feeds the LED [V]; reference: least voltage the reference can pull its cathode to [V]
    drop: of the LED [V]; resistance: in series with LED and reference [ohm], above 0
    bias: resistor across the LED that keeps the reference alive while it is dark [ohm], above 0; None: there is none

    Source: Kirchhoff; the same balance stands in makers' notes on shunt references.

    >>> round(1e3 * led_current(5.0, 2.5, 1.0, 750.0, 1e3), 3)
    1.0
    """
    in_range("output", output, 0.0, math.inf, "V")
    in_range("reference", reference, 0.0, math.inf, "V")
    in_range("LED drop", drop, 0.0, 10.0, "V")
    in_range("resistance of the LED", resistance, 0.0, math.inf, "ohm", open_low=True)
    whole = max(0.0, output - reference - drop) / resistance
    if bias is None:
        return whole
    in_range("bias resistor", bias, 0.0, math.inf, "ohm", open_low=True)
    return max(0.0, whole - drop / bias)


def coupled_current(led: float, ratio: float, left: float, warm: float) -> float:
    """Current the transistor can draw [A] = LED current x transfer ratio, new x share left x share at temperature.

    >>> round(1e3 * coupled_current(5e-3, 0.8, 0.5, 0.7), 3)
    1.4
    """
    in_range("LED current", led, 0.0, math.inf, "A")
    for name, value in (("transfer ratio", ratio), ("share left", left), ("share at temperature", warm)):
        in_range(name, value, 0.0, math.inf, "")
    return led * ratio * left * warm


def led_current_needed(needed: float, ratio: float, left: float, warm: float) -> float:
    """LED current that draws `needed` [A] from the controller at the end of life [A].

    >>> round(1e3 * led_current_needed(1.4e-3, 0.8, 0.5, 0.7), 3)
    5.0
    """
    in_range("current needed", needed, 0.0, math.inf, "A")
    for name, value in (("transfer ratio", ratio), ("share left", left), ("share at temperature", warm)):
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    return needed / (ratio * left * warm)
