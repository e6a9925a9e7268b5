"""Turn-off of a bipolar switch into a clamped winding: loss of the edge, and the current it carries at a voltage.

Contents: `fall_loss`, `locus_current`.

The collector current falls in a straight line while the winding holds its own current: what the switch no longer takes
charges whatever capacitance lies across it, until the clamp takes over. Source: text-book turn-off snubber; with no
capacitance the voltage is at the clamp before the current falls, V I t / 2.
"""

from __future__ import annotations

import math

from derate.circuit.bands import Band, in_range

# true / computed - 1 of the loss with no capacitance. Below: a resistive load takes a third of it, and a capacitance
# that nobody stated can take nearly all. Above: the voltage rises while the current is still whole. Data sheets of
# 13003 and 13005 types print that crossover time beside the fall time, 0.29 and 0.15 us, 0.32 and 0.16 us: 2.0 times.
ERROR: dict[str, Band] = {"fall_loss": (-1.0, 1.25)}

SIGNS: dict[str, dict[str, int]] = {
    "fall_loss": {"voltage": 1, "current": 1, "fall": 1, "frequency": 1, "capacitance": -1},
    "locus_current": {"voltage": -1, "current": 1, "fall": 1, "capacitance": -1},
}


def fall_loss(voltage: float, current: float, fall: float, frequency: float, capacitance: float = 0.0) -> float:
    """Loss of the fall of the collector current [W].

    voltage: at which the clamp holds it [V]; current: before the fall [A]; fall: time from all to nothing [s];
    frequency [Hz]; capacitance: directly across the switch, empty before each turn-off [F]
    Rise ends within the fall: V I (tf/2 - 2 t1/3 + t1^2/(4 tf)), t1 = sqrt(2 C tf V / I); later: I^2 tf^2 / (24 C).

    >>> round(fall_loss(600.0, 0.3, 0.4e-6, 60e3), 3), round(fall_loss(600.0, 0.3, 0.4e-6, 60e3, 1e-9), 4)
    (2.16, 0.036)
    """
    for name, value in {
        "voltage": voltage, "current": current, "fall": fall, "frequency": frequency, "capacitance": capacitance,
    }.items():  # fmt: skip
        in_range(name, value, 0.0, math.inf, "")
    if current == 0.0 or fall == 0.0:
        return 0.0
    rise = math.sqrt(2.0 * capacitance * fall * voltage / current)
    if rise >= fall:
        return current**2 * fall**2 / (24.0 * capacitance) * frequency
    # rise: integral of V (t/t1)^2 I (1 - t/tf); then V I (tf - t1)^2 / (2 tf)
    own = voltage * current * (rise / 3.0 - rise**2 / (4.0 * fall))
    return (own + voltage * current * (fall - rise) ** 2 / (2.0 * fall)) * frequency


def locus_current(voltage: float, current: float, fall: float, capacitance: float) -> float:
    """Collector current left when the voltage has reached `voltage` [A]: I (1 - sqrt(2 C V / (I tf))), not below zero.

    voltage [V]; current: before the fall [A]; fall: time from all to nothing [s]; capacitance: directly across the
    switch, empty before each turn-off [F].  Source: text-book, v = I t^2 / (2 C tf).

    >>> round(locus_current(600.0, 0.3, 0.4e-6, 50e-12), 4), locus_current(600.0, 0.3, 0.4e-6, 1e-9)
    (0.0879, 0.0)
    """
    for name, value in {"voltage": voltage, "current": current, "fall": fall, "capacitance": capacitance}.items():
        in_range(name, value, 0.0, math.inf, "")
    if current == 0.0:
        return 0.0
    if capacitance == 0.0 or voltage == 0.0:
        return current
    if fall == 0.0:
        return 0.0
    return max(0.0, current * (1.0 - math.sqrt(2.0 * capacitance * voltage / (current * fall))))
