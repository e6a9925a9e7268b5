"""Resistor-capacitor-diode clamp of a flyback primary and the voltage of the switch.

Contents: `RcdClamp`, `rcd_clamp`, `leakage_excess`.  Zener clamp, no clamp and avalanche: `clamp_zener`.

Sources: AN-4137 (Fairchild, 2004) eq 26 to 28; the drain capacitance in them: own, from the energy left in the leakage
inductance when the drain has risen from the plateau to the clamp.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from derate.circuit.bands import Band, in_range

# true / computed - 1, against ngspice with the drain capacitance given: ten rows (tests/data/ngspice_flyback.json) and
# 36 random ones (ngspice_flyback_random.json). Voltage -4.4..-0.5 % (-6.2 % with a clamp diode of 0.5 us transit time),
# loss -8.4..-1.0 % (-12 %), switch peak -1.7..-0.1 %: all read high, for the ringing and the clamp diode's drop are
# left out. The upper end of the switch peak is what a diode's forward recovery is allowed without `stray`.
ERROR: dict[str, Band] = {
    "voltage": (-0.05, 0.005),
    "loss": (-0.10, 0.01),
    "switch_peak": (-0.022, 0.01),
    "diode_average": (-0.05, 0.005),
    "diode_peak": (-0.05, 0.02),
}
# Clamp diode with slow recovery (0.5 us or more): it hands charge back to the primary.
ERROR_SLOW_DIODE: dict[str, Band] = ERROR | {
    "voltage": (-0.08, 0.005),
    "loss": (-0.16, 0.01),
    "diode_average": (-0.08, 0.005),
}
# Drain capacitance not known and taken as zero, up to 200 pF of it: the same rows.
ERROR_NO_CAPACITANCE: dict[str, Band] = ERROR | {
    "voltage": (-0.20, 0.005),
    "loss": (-0.35, 0.01),
    "switch_peak": (-0.08, 0.01),
    "diode_average": (-0.20, 0.005),
    "diode_peak": (-0.50, 0.02),
}

SIGNS: dict[str, dict[str, int]] = {
    "voltage": {
        "reflected": 1,
        "leakage": 1,
        "peak": 1,
        "frequency": 1,
        "resistance": 1,
        "drain_capacitance": -1,
    },
    "loss": {
        "reflected": 1,
        "leakage": 1,
        "peak": 1,
        "frequency": 1,
        "resistance": -1,
        "drain_capacitance": -1,
    },
    "switch_peak": {
        "bulk": 1,
        "reflected": 1,
        "leakage": 1,
        "peak": 1,
        "frequency": 0,
        "resistance": 0,  # small ones leave much ripple
        "capacitance": -1,
        "drain_capacitance": -1,
        "stray": 1,
    },
    "diode_average": {"reflected": 1, "leakage": 1, "peak": 1, "frequency": 1, "resistance": -1},
}


class RcdClamp(NamedTuple):
    """voltage: mean across the clamp capacitor [V]; ripple: peak to peak [V]; loss: in the resistor [W]
    diode_peak, diode_average [A]; commutation: time the diode conducts [s]; switch_peak: drain to bulk minus [V]
    capacitor_rms: of the clamp capacitor [A]
    """

    voltage: float
    ripple: float
    loss: float
    diode_peak: float
    diode_average: float
    commutation: float
    capacitor_rms: float
    switch_peak: float


def leakage_excess(leakage: float, peak: float, drain_capacitance: float, rise: float) -> float:
    """Square of the current left in the leakage inductance after the drain rose by `rise` [A^2]; may be negative.

    leakage [H]; peak [A]; drain_capacitance [F]; rise above the plateau Vdc + VR [V].  Source: own.
    """
    return peak**2 - drain_capacitance * rise**2 / leakage


def rcd_clamp(
    bulk: float,
    reflected: float,
    leakage: float,
    peak: float,
    frequency: float,
    resistance: float,
    capacitance: float,
    *,
    drain_capacitance: float = 0.0,
    stray: float = 0.0,
) -> RcdClamp:
    """Steady state of a resistor-capacitor-diode clamp returned to bulk plus.

    bulk, reflected [V]; leakage referred to the primary [H]; peak primary current at turn-off [A]; frequency [Hz]
    resistance [ohm], capacitance [F] of the clamp; drain_capacitance: lumped, drain to any rail [F]
    stray: forward recovery of the clamp diode and stray inductance, 5 V to 10 V usual (common practice, no source) [V]
    range: ripple up to half the clamp voltage; beyond it the mean stands for nothing and the call is refused

    >>> clamp = rcd_clamp(375.0, 85.0, 4.5e-6, 1.75, 66e3, 33.1e3, 9.2e-9)
    >>> round(clamp.voltage), round(clamp.switch_peak - clamp.ripple / 2)
    (172, 547)
    """
    for name, value in {
        "bulk": bulk,
        "reflected": reflected,
        "leakage": leakage,
        "peak": peak,
        "frequency": frequency,
        "resistance": resistance,
        "capacitance": capacitance,
    }.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("drain_capacitance", drain_capacitance, 0.0, math.inf, "F")
    in_range("stray", stray, 0.0, math.inf, "V")
    # eq 26 = eq 28's balance with Ipk^2 less Coss x^2 / Llk, x = Vc - VR: a quadratic in x
    #   x (x + VR) = R fs (Llk Ipk^2 - Coss x^2) / 2
    lead = 1 + 0.5 * resistance * frequency * drain_capacitance
    drive = 0.5 * resistance * frequency * leakage * peak**2
    rise = 2 * drive / (reflected + (reflected**2 + 4 * lead * drive) ** 0.5)  # the root, free of cancellation
    voltage = reflected + rise
    ripple = voltage / (resistance * capacitance * frequency)  # eq 27
    if ripple > 0.5 * voltage:
        raise ValueError(
            f"clamp ripple is {ripple:.4g} V on {voltage:.4g} V: outside the range of this formula (up to half); "
            f"state a clamp capacitor of {2 / (resistance * frequency):.3g} F or more"
        )
    left = max(0.0, leakage_excess(leakage, peak, drain_capacitance, rise)) ** 0.5
    commutation = leakage * left / rise
    average = voltage / resistance
    square = left**2 * commutation * frequency / 3 - average**2  # triangle less its mean
    return RcdClamp(
        voltage=voltage,
        ripple=ripple,
        loss=voltage**2 / resistance,  # eq 26
        diode_peak=left,
        diode_average=average,
        commutation=commutation,
        capacitor_rms=max(0.0, square) ** 0.5,
        switch_peak=bulk + voltage + ripple / 2 + stray,
    )
