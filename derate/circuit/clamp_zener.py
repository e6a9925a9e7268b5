"""Zener clamp of a flyback primary, no clamp at all, and the energy of a switch that breaks down.

Contents: `ZenerClamp`, `zener_clamp`, `unclamped_switch_peak`, `avalanche_energy`.

Sources: the derivation of AN-4137 (Fairchild, 2004) eq 26; with a series resistor: own, exponential decay.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from derate.circuit.bands import Band, in_range
from derate.circuit.clamp import leakage_excess

# true / computed - 1, against 16 random ngspice rows (tests/data/ngspice_clamp_zener.json). Zener alone: loss
# -4.5..-2.0 %, switch peak within 0.1 %. With a series resistor the drain capacitance, not in that part of the formula,
# rounds the pulse: loss -2.5..+4.3 %, resistor -4.4..+0.7 %, switch peak -4.1..0 %. Breakdown: energy -6.1..-1.0 %.
ERROR: dict[str, Band] = {
    "loss": (-0.06, 0.02),
    "switch_peak": (-0.01, 0.01),
    "unclamped_switch_peak": (-0.20, 0.01),  # undamped bound; the low end is common practice, no source
    "avalanche_energy": (-0.10, 0.02),
}
ERROR_SERIES: dict[str, Band] = ERROR | {
    "loss": (-0.06, 0.08),
    "series_loss": (-0.08, 0.03),
    "switch_peak": (-0.08, 0.01),
}

# With a series resistor the Zener's voltage has no single sign: a higher one shortens the pulse.
SIGNS: dict[str, dict[str, int]] = {
    "loss": {
        "reflected": 1,
        "leakage": 1,
        "peak": 1,
        "frequency": 1,
        "zener": 0,
        "series": -1,
        "drain_capacitance": -1,
    },
    "switch_peak": {"bulk": 1, "leakage": 1, "peak": 1, "zener": 0, "series": 1, "drain_capacitance": -1},
    "unclamped_switch_peak": {"bulk": 1, "reflected": 1, "peak": 1, "leakage": 1, "drain_capacitance": -1},
    "avalanche_energy": {"bulk": 1, "reflected": 1, "peak": 1, "leakage": 1, "breakdown": -1, "drain_capacitance": -1},
}


class ZenerClamp(NamedTuple):
    """conducts: 1.0 or 0.0; loss: of the Zener, series_loss: of the resistor with it [W]; charge a pulse [C];
    commutation: time of conduction [s]; switch_peak [V]
    """

    conducts: float
    loss: float
    series_loss: float
    charge: float
    commutation: float
    switch_peak: float


def zener_clamp(
    bulk: float,
    reflected: float,
    leakage: float,
    peak: float,
    frequency: float,
    zener: float,
    *,
    series: float = 0.0,
    drain_capacitance: float = 0.0,
    diode_drop: float = 0.0,
) -> ZenerClamp:
    """Zener or suppressor clamp with an optional series resistor, from drain to bulk plus.

    zener: voltage at the peak current, upper end for the switch, lower for the loss [V], above `reflected`
    series [ohm]; diode_drop: of the blocking diode [V]; the rest as `rcd_clamp`.
    A capacitor across the Zener takes the spike first and is not in this formula.

    >>> clamp = zener_clamp(375.0, 85.0, 5e-6, 1.0, 100e3, 170.0)
    >>> round(clamp.loss, 3), clamp.switch_peak
    (0.5, 545.0)
    """
    for name, value in {"bulk": bulk, "leakage": leakage, "peak": peak, "frequency": frequency}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    for name, value in {"series": series, "drain_capacitance": drain_capacitance, "diode_drop": diode_drop}.items():
        in_range(name, value, 0.0, math.inf, "")
    in_range("reflected", reflected, 0.0, math.inf, "V")
    level = zener + diode_drop
    rise = level - reflected
    if not (math.isfinite(rise) and rise > 0):
        raise ValueError(
            f"zener {zener:g} V is not above the reflected {reflected:g} V: it would conduct all the off-time; "
            "state a higher clamp voltage"
        )
    excess = leakage_excess(leakage, peak, drain_capacitance, rise)
    if excess <= 0:
        top = unclamped_switch_peak(bulk, reflected, leakage, peak, drain_capacitance)
        return ZenerClamp(0.0, 0.0, 0.0, 0.0, 0.0, top)
    left = excess**0.5
    drop = series * left / rise  # ratio of the resistor's voltage to the driving one
    if drop < 1e-4:  # Rs i small: the current falls in a straight line
        charge = 0.5 * leakage * excess / rise
        commutation = leakage * left / rise
        heat = series * excess * commutation / 3
    else:  # Llk di/dt = -(rise + Rs i)
        charge = leakage * (left - rise / series * math.log1p(drop)) / series
        commutation = leakage / series * math.log1p(drop)
        heat = 0.5 * leakage * excess - rise * charge  # what the leakage held less what the Zener takes of it
    return ZenerClamp(
        conducts=1.0,
        loss=level * charge * frequency,
        series_loss=heat * frequency,
        charge=charge,
        commutation=commutation,
        switch_peak=bulk + level + series * left,
    )


def unclamped_switch_peak(
    bulk: float, reflected: float, leakage: float, peak: float, drain_capacitance: float
) -> float:
    """Drain voltage with no clamp conducting [V] = Vdc + VR + Ipk sqrt(Llk / Coss): the undamped bound.

    Inputs [V], [V], [H], [A], [F]; the capacitance must be known.  Source: text-book.

    >>> unclamped_switch_peak(300.0, 100.0, 10e-6, 1.0, 1e-9)
    500.0
    """
    in_range("drain_capacitance", drain_capacitance, 0.0, math.inf, "F", open_low=True)
    for name, value in {"bulk": bulk, "reflected": reflected, "leakage": leakage, "peak": peak}.items():
        in_range(name, value, 0.0, math.inf, "")
    return bulk + reflected + peak * math.sqrt(leakage / drain_capacitance)


def avalanche_energy(
    bulk: float,
    reflected: float,
    leakage: float,
    peak: float,
    breakdown: float,
    drain_capacitance: float = 0.0,
) -> float:
    """Energy one turn-off puts into a switch that breaks down [J]: Llk I^2 / 2 x BV / (BV - Vdc - VR).

    breakdown: drain voltage in avalanche [V], above bulk plus reflected.  Zero when the drain capacitance takes it all.
    Source: text-book single-pulse avalanche energy, the source being Vdc + VR.

    >>> round(1e6 * avalanche_energy(300.0, 100.0, 10e-6, 1.0, 800.0), 2)
    10.0
    """
    for name, value in {"bulk": bulk, "reflected": reflected, "peak": peak, "Coss": drain_capacitance}.items():
        in_range(name, value, 0.0, math.inf, "")
    in_range("leakage", leakage, 0.0, math.inf, "H", open_low=True)
    rise = breakdown - bulk - reflected
    if not (math.isfinite(rise) and rise > 0):
        raise ValueError(
            f"breakdown {breakdown:g} V is not above bulk plus reflected, {bulk + reflected:g} V: "
            "the switch breaks down with no leakage at all; state a higher breakdown voltage"
        )
    excess = max(0.0, leakage_excess(leakage, peak, drain_capacitance, rise))
    return 0.5 * leakage * excess * breakdown / rise
