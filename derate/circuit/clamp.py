"""Clamps of a flyback primary and the voltage of the switch: resistor-capacitor-diode, zener, none at all."""

from __future__ import annotations

import math

from derate.circuit.numerics import Band, in_range
from derate.terms.tuples import NamedTuple

# Resistor-capacitor-diode clamp of a flyback primary and the voltage of the switch.
#
# Sources: AN-4137 (2004) eq 26 to 28; the drain capacitance in them: own, from the energy left in the
# leakage inductance when the drain has risen from the plateau to the clamp.


# true / computed - 1, against ngspice with the drain capacitance given: ten rows (tests/data/ngspice_flyback.json) and
# 36 random ones (ngspice_flyback_random.json). Voltage -4.4..-0.5 % (-6.2 % with a clamp diode of 0.5 us transit time),
# loss -8.4..-1.0 % (-12 %), switch peak -1.7..-0.1 %: all read high, for the ringing and the clamp diode's drop are
# left out. The upper end of the switch peak is what a diode's forward recovery is allowed without `stray`.
# The lower ends reach further: a leakage that rings in a tank of quality 4 has lost a fifth of its energy before the
# clamp conducts, and what is left after the drain has taken its part is a difference. Live over random stages, a third
# of them damped to a quality of 4 (tests/stress/test_converter_live.py): voltage to -11 %, loss -17 %, switch peak
# -4.6 %, diode peak -15 %.
ERROR: dict[str, Band] = {
    "voltage": (-0.13, 0.005),
    "loss": (-0.20, 0.01),
    "switch_peak": (-0.055, 0.01),
    "diode_average": (-0.10, 0.005),
    "diode_peak": (-0.20, 0.02),
}
# Clamp diode with slow recovery (0.5 us or more): it hands charge back to the primary.
ERROR_SLOW_DIODE: dict[str, Band] = ERROR | {
    "voltage": (-0.16, 0.005),
    "loss": (-0.26, 0.01),
    "diode_average": (-0.13, 0.005),
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
    "voltage": {"reflected": 1, "leakage": 1, "peak": 1, "frequency": 1, "resistance": 1, "drain_capacitance": -1},
    "loss": {"reflected": 1, "leakage": 1, "peak": 1, "frequency": 1, "resistance": -1, "drain_capacitance": -1},
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
        "peak": peak,
        "frequency": frequency,
        "resistance": resistance,
        "capacitance": capacitance,
    }.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("leakage", leakage, 0.0, math.inf, "H")
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
    # without leakage the clamp stays at the reflected voltage and takes nothing but what its resistor draws
    left = max(0.0, leakage_excess(leakage, peak, drain_capacitance, rise)) ** 0.5 if rise > 0.0 else 0.0
    commutation = leakage * left / rise if rise > 0.0 else 0.0
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


# Zener clamp of a flyback primary, no clamp at all, and the energy of a switch that breaks down.
#
# Sources: the derivation of AN-4137 (2004) eq 26; with a series resistor: own, exponential decay.


# true / computed - 1, against 16 random ngspice rows (tests/data/ngspice_clamp_zener.json). Zener alone: loss
# -4.5..-2.0 %, switch peak within 0.1 %. With a series resistor the drain capacitance, not in that part of the formula,
# rounds the pulse: loss -2.5..+4.3 %, resistor -4.4..+0.7 %, switch peak -4.1..0 %. Breakdown: energy -6.1..-1.0 %.
ZENER_ERROR: dict[str, Band] = {
    "loss": (-0.06, 0.02),
    "switch_peak": (-0.01, 0.01),
    "unclamped_switch_peak": (-0.20, 0.01),  # undamped bound; the low end is common practice, no source
    "avalanche_energy": (-0.10, 0.02),
}
ERROR_SERIES: dict[str, Band] = ZENER_ERROR | {
    "loss": (-0.06, 0.08),
    "series_loss": (-0.08, 0.03),
    "switch_peak": (-0.08, 0.01),
}

# With a series resistor the Zener's voltage has no single sign: a higher one shortens the pulse.
ZENER_SIGNS: dict[str, dict[str, int]] = {
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
    for name, value in {"bulk": bulk, "peak": peak, "frequency": frequency}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("leakage", leakage, 0.0, math.inf, "H")
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
    excess = leakage_excess(leakage, peak, drain_capacitance, rise) if leakage > 0.0 else 0.0
    if excess <= 0:
        top = bulk + reflected
        if leakage > 0.0:
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

    Inputs [V], [V], [H], [A], [F]; the capacitance must be known.  Source: own derivation.

    >>> unclamped_switch_peak(300.0, 100.0, 10e-6, 1.0, 1e-9)
    500.0
    """
    in_range("drain_capacitance", drain_capacitance, 0.0, math.inf, "F", open_low=True)
    for name, value in {"bulk": bulk, "reflected": reflected, "leakage": leakage, "peak": peak}.items():
        in_range(name, value, 0.0, math.inf, "")
    return bulk + reflected + peak * math.sqrt(leakage / drain_capacitance)


def avalanche_energy(
    bulk: float, reflected: float, leakage: float, peak: float, breakdown: float, drain_capacitance: float = 0.0
) -> float:
    """Energy one turn-off puts into a switch that breaks down [J]: Llk I^2 / 2 x BV / (BV - Vdc - VR).

    breakdown: drain voltage in avalanche [V], above bulk plus reflected.  Zero when the drain capacitance takes it all.
    Source: own derivation of the single-pulse avalanche energy, the source being Vdc + VR.

    >>> round(1e6 * avalanche_energy(300.0, 100.0, 10e-6, 1.0, 800.0), 2)
    10.0
    """
    for name, value in {"bulk": bulk, "reflected": reflected, "peak": peak, "Coss": drain_capacitance}.items():
        in_range(name, value, 0.0, math.inf, "")
    in_range("leakage", leakage, 0.0, math.inf, "H")
    rise = breakdown - bulk - reflected
    if not (math.isfinite(rise) and rise > 0):
        raise ValueError(
            f"breakdown {breakdown:g} V is not above bulk plus reflected, {bulk + reflected:g} V: "
            "the switch breaks down with no leakage at all; state a higher breakdown voltage"
        )
    excess = max(0.0, leakage_excess(leakage, peak, drain_capacitance, rise)) if leakage > 0.0 else 0.0
    return 0.5 * leakage * excess * breakdown / rise
