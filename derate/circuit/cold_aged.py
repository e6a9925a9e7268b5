"""Capacitors when cold, when biased and at the end of their life, and what that leaves of a bulk voltage.

Contents: `grown`, `between_temperatures`, `least_share`, `most_resistance`, `resistance_of`, `Terminal`, `terminal`.

Cold, the electrolyte conducts badly: the series resistance grows by about the same factor for each 10 K, and the pores
of the foil reach less of it, so capacitance is lost. A maker's figure at one temperature is carried to others on a
logarithmic scale. Source: own, the exponential law is that of the makers' diagrams between 20 and -40 degC.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf, pi, sqrt
from typing import NamedTuple

from derate.circuit.bands import Band, in_range

REFERENCE = 20.0  # temperature at which a maker states capacitance and series resistance [degC]

# true / computed - 1 of the voltage at the terminals, beyond that of the solver beneath: 200 random stages against 60
# rounds lie within 0.05 % (tests/circuit/test_cold_aged.py); twice that is allowed.
ERROR: dict[str, Band] = {"bulk_min": (-0.001, 0.001)}
SIGNS: dict[str, dict[str, int]] = {
    "grown": {"value": 1, "per_step": 1},
    "resistance_of": {"dissipation": 1, "capacitance": -1},
    "terminal": {"slow": -1, "fast": -1, "duty": 1},
}
_ROUNDS = 12


def grown(value: float, per_step: float, temperature: float, at: float = REFERENCE) -> float:
    """A value at `at` [degC] carried to a temperature [degC]: times `per_step` [-] for each 10 K that is colder.

    >>> round(grown(0.04, 1.5, -10.0), 3)
    0.135
    """
    in_range("factor for 10 K", per_step, 0.1, 10.0, "", open_low=True)
    return float(value * per_step ** (max(0.0, at - temperature) / 10.0))


def between_temperatures(warm: float, cold: float, cold_at: float, temperature: float, warm_at: float) -> float:
    """Straight line on a logarithmic scale between two temperatures [degC]; the ends themselves beyond them.

    >>> round(between_temperatures(0.04, 0.12, -10.0, 5.0, 20.0), 4)
    0.0693
    """
    share = min(1.0, max(0.0, (warm_at - temperature) / (warm_at - cold_at)))
    if share in (0.0, 1.0) or warm <= 0.0 or cold <= 0.0:
        return cold if share == 1.0 else warm if share == 0.0 else max(warm, cold)
    return float(warm * (cold / warm) ** share)


def least_share(ratio: float, dissipation: float) -> float:
    """Least share of its capacitance that a maker's impedance ratio leaves [-] = 1 / (ratio sqrt(1 + tan^2)).

    ratio: impedance cold over warm, at 100 or 120 Hz [-]; dissipation: tan d warm, at that frequency [-]
    No impedance is smaller than its reactance, so 1 / (w C) cold is at most ratio times the impedance warm.

    >>> round(least_share(3.0, 0.2), 3)
    0.327
    """
    return 1.0 / (max(1.0, ratio) * sqrt(1.0 + dissipation**2))


def most_resistance(ratio: float, dissipation: float, capacitance: float, frequency: float) -> float:
    """Greatest series resistance that a maker's impedance ratio leaves [ohm]: no resistance exceeds its impedance.

    As `least_share`; capacitance warm [F], frequency of the ratio [Hz]
    """
    if capacitance <= 0.0:
        return inf
    return max(1.0, ratio) * sqrt(1.0 + dissipation**2) / (2.0 * pi * frequency * capacitance)


def resistance_of(dissipation: float, capacitance: float, frequency: float) -> float:
    """Series resistance from the dissipation factor [ohm] = tan d / (w C).

    >>> round(resistance_of(0.15, 22e-6, 120.0), 2)
    9.04
    """
    in_range("dissipation factor", dissipation, 0.0, 10.0, "")
    in_range("capacitance", capacitance, 0.0, 1.0, "F", open_low=True)
    return dissipation / (2.0 * pi * frequency * capacitance)


class Terminal(NamedTuple):
    """bulk_min: least voltage across the capacitor's terminals while the switch is on [V]; load: with its loss [W]."""

    bulk_min: float
    load: float


def terminal(valley: Callable[[float], float], load: float, slow: float, fast: float, duty: float) -> Terminal | None:
    """Valley at the terminals of a bulk capacitor with series resistance, under a switch that takes pulses.

    valley: least voltage of the capacitance alone for a load [W]; load: power drawn from the terminals [W]
    slow, fast: series resistance at twice the mains frequency and at the switching frequency [ohm]
    duty: share of the period the switch is on [-], 0.05 to 1
    The pulses have the mean I = P / V, and I / D while the switch is on: the mean flows through the slow resistance,
    the rest through the fast one, so that the terminals lie K I below it with K = Rs + Rf (1 / D - 1), and
    V = v - K P / V. The square of a triangle from zero over its duty is I^2 x 4 / (3 D), of which I^2 is slow; a
    trapezoid has less.
    None when the resistance cannot pass that power at all.

    Source: own, from the rms of a triangle over its duty.

    >>> [round(x, 2) for x in terminal(lambda load: 120.0 - load, 20.0, 10.0, 4.0, 0.4)]
    [95.82, 20.84]
    """
    in_range("duty", duty, 0.05, 1.0, "")
    in_range("bulk resistance", slow, 0.0, 1e5, "ohm")
    in_range("bulk resistance", fast, 0.0, 1e5, "ohm")
    drop, heat = slow + fast * (1.0 / duty - 1.0), slow + fast * (4.0 / (3.0 * duty) - 1.0)
    whole, before, step_before = load, 0.0, 0.0
    for turn in range(_ROUNDS):
        lowest = valley(whole)
        square = lowest**2 - 4.0 * drop * load
        if square < 0.0:
            return None
        at = 0.5 * (lowest + sqrt(square))
        more = load + heat * (load / at) ** 2
        step = more - whole
        if step <= 1e-4 * whole:
            return Terminal(at, more)
        ratio = step / step_before if turn else 1.0
        if ratio < 0.3 and step * ratio <= 1e-3 * whole:  # the rest of the series, with the slope of the last round
            rest = step / (1.0 - ratio)
            return Terminal(at + (at - before) / step_before * rest, whole + rest)
        whole, before, step_before = more, at, step
    return None
