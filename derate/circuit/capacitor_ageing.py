"""Electrolytic capacitors cold, biased and worn; their ripple current and their life."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from math import inf, pi, sqrt

from derate.circuit.numerics import Band, in_range
from derate.terms.tuples import NamedTuple
from derate.terms.values import giving

# Capacitors when cold, when biased and at the end of their life, and what that leaves of a bulk voltage.
#
# Cold, the electrolyte conducts badly: the series resistance grows by about the same factor for each 10 K, and the
# pores of the foil reach less of it, so capacitance is lost. A maker's figure at one temperature is carried to others
# on a logarithmic scale. Source: own derivation, the exponential law that diagrams show between 20 and -40 degC.


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


def cold_resistance_allowed(ratio: float, dissipation: float, capacitance: float, frequency: float) -> float:
    """Series resistance that uses up a maker's impedance ratio [ohm] = sqrt(ratio^2 (1 + tan^2) - 1) / (w C).

    As `least_share`; capacitance warm [F], frequency of the ratio [Hz]. No capacitor has more capacitance cold than
    warm, so the reactance warm is the least part of the impedance cold, and the resistance is at most the rest.

    >>> round(cold_resistance_allowed(4.0, 0.15, 47e-6, 100.0), 1)
    132.7
    """
    if capacitance <= 0.0:
        return inf
    return sqrt(max(1.0, ratio) ** 2 * (1.0 + dissipation**2) - 1.0) / (2.0 * pi * frequency * capacitance)


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


SLOW = 100.0  # frequency at which a dissipation factor is taken to hold [Hz]


def capacitance_wear(marked: float, found: float, change: float) -> float:
    """Loss of capacitance over the loss at which the maker ends the life [-]: (1 - found / marked) / change.

    marked, found [F]; change: share lost at the end of life [-], above 0.  After IEC 60384-4.

    >>> round(capacitance_wear(100e-6, 90e-6, 0.2), 3)
    0.5
    """
    if not change > 0.0 or not marked > 0.0:
        raise ValueError(f"a mark of {marked:.3g} F and a limit of {change:.3g} say nothing about wear")
    return max(0.0, 1.0 - found / marked) / change


def _resistance_wear(found: float, stated: float, ratio: float) -> float:
    return found / (stated * ratio)


def raised(resistance: float, ratio: float) -> float:
    """Series resistance at the end of life [ohm]: that of a new one times the maker's ratio [-], 1 or more.

    >>> raised(0.5, 2.0)
    1.0
    """
    if ratio < 1.0:
        raise ValueError(f"a ratio of {ratio:.3g} is no growth: write 2 for twice the resistance of a new one")
    return resistance * ratio


def share_left(change: float) -> float:
    """Share of the capacitance left at the end of life [-] = 1 - change, the share lost [-] between 0 and 1.

    >>> share_left(0.2)
    0.8
    """
    if not 0.0 < change < 1.0:
        raise ValueError(f"a loss of {change:.3g} of the capacitance is none: write it as 20 %, without a sign")
    return 1.0 - change


def _from_dissipation(dissipation: float, capacitance: float) -> float:
    return resistance_of(dissipation, capacitance, SLOW)


def _cold_resistance(slow: float, cold: float, warm: float) -> float:
    return slow + max(0.0, cold - warm)


_OHMS = (0.01, 20.0)
CAPACITANCE_WEAR = giving(
    "wear",
    capacitance_wear,
    {"marked": 1, "found": -1, "change": -1},
    {"marked": (1e-6, 1e-3), "found": (1e-6, 1e-3), "change": (0.05, 0.5)},
)
# Series resistance as found over the one at which the maker ends the life [-].
RESISTANCE_WEAR = giving(
    "wear",
    _resistance_wear,
    {"found": 1, "stated": -1, "ratio": -1},
    {"found": (0.0, 20.0), "stated": _OHMS, "ratio": (1.0, 4.0)},
)
RAISED = giving("resistance", raised, {"resistance": 1, "ratio": 1}, {"resistance": _OHMS, "ratio": (1.0, 4.0)})
SHARE_LEFT = giving("share", share_left, {"change": -1}, {"change": (0.05, 0.5)})
# Of a dissipation factor; one that holds at 120 Hz reads a fifth high.
FROM_DISSIPATION = giving(
    "resistance",
    _from_dissipation,
    SIGNS["resistance_of"],
    {"dissipation": (0.01, 0.5), "capacitance": (1e-6, 1e-3)},
    (-1.0 / 6.0, 0.0),
)
# Electrolyte and oxide in series, own: what the electrolyte gains in the cold adds to the resistance at 20 degC [ohm].
COLD_RESISTANCE = giving(
    "resistance", _cold_resistance, {"slow": 1, "cold": 1, "warm": -1}, {"slow": _OHMS, "cold": _OHMS, "warm": _OHMS}
)


# Ripple current and life of aluminium electrolytic capacitors.
#
# Lives are in the unit of the rated life (hours in every data sheet). Temperatures are degC, differences K. Sources:
# Technical Note 4 on aluminium electrolytic capacitors (undated; ten-degree rule and its limits), a life formula sheet
# (undated, a garbled copy; core rise), Calculation of capacitor life (undated; ripple and voltage terms of the other
# form), Technical Q&A a0057 (undated; profile by rates).


CREDIBLE = 131400.0  # ceiling of any life claimed [h], 15 years: common practice, no source
RISE_MOST = 20.0  # highest core rise the ripple term holds for [K]; it has a pole at 40 K
VOLTAGE_FLAT = 0.6  # below this ratio of applied to rated voltage nothing more is gained [-] (Calculation of life)
RULE_SPAN = (70.0, 90.0)  # where the ten-degree rule is good [degC]; it deviates below 60 and above 105

# true / computed - 1. Makers' life figures are estimates; a factor of two either way is common practice, no source.
LIFE_ERROR: dict[str, Band] = {
    "life": (-0.5, 1.0),
    "bulk_switching_ripple": (-0.10, 0.05),  # edges and the share of a film or second capacitor left out: reads high
    "combined_ripple": (-0.05, 0.05),
}

LIFE_SIGNS: dict[str, dict[str, int]] = {
    "bulk_switching_ripple": {"switch_rms": 1, "average": -1},
    "combined_ripple": {"current": 1, "factor": -1},
    "life": {"temperature": -1, "ripple": -1, "voltage": -1, "rated_life": 1},
}


class Life(NamedTuple):
    """estimate: by the rule [h]; credible: the same, at most `CREDIBLE` [h]; core_rise: by the ripple [K]
    inside_rule: 1.0 while the temperature is within `RULE_SPAN` widened to 60..105 degC, else 0.0
    """

    estimate: float
    credible: float
    core_rise: float
    inside_rule: float


def bulk_switching_ripple(switch_rms: float, average: float) -> float:
    """Switching-frequency ripple current of the bulk capacitor [A] = sqrt(Isw^2 - (P / Vdc)^2).

    switch_rms: of the primary [A]; average: of the current the converter draws, P / Vdc [A], at most switch_rms
    With two capacitors and a choke all of it goes to the second.
    Source: own derivation, the form of AN-4137 (2004) eq 24.

    >>> round(bulk_switching_ripple(0.146, 0.072), 3)
    0.127
    """
    in_range("switch_rms", switch_rms, 0.0, math.inf, "A")
    in_range("average", average, 0.0, switch_rms, "A")
    return math.sqrt(switch_rms**2 - average**2)


def combined_ripple(parts: Sequence[tuple[float, float]]) -> float:
    """Ripple current at the rated frequency [A] that heats as much as the parts: sqrt(sum of (I / k)^2).

    parts: (current [A], catalogue frequency factor [-] at its frequency), the factor 1 at the rated frequency

    >>> round(combined_ripple([(0.3, 0.6), (0.4, 1.0)]), 4)
    0.6403
    """
    if not parts:
        raise ValueError("no ripple current is stated: state at least one with its frequency factor")
    for current, factor in parts:
        in_range("ripple current", current, 0.0, math.inf, "A")
        in_range("frequency factor", factor, 0.05, 5.0, "")
    return math.sqrt(sum((current / factor) ** 2 for current, factor in parts))


def ripple_rise(ripple: float, rated_ripple: float, rated_rise: float = 5.0) -> float:
    """Core temperature rise [K] = dT0 (I / I0)^2, refused above 20 K.

    ripple: at the rated frequency (`combined_ripple`) [A]; rated_ripple [A]; rated_rise dT0 [K]: 5 for most types
    """
    in_range("ripple", ripple, 0.0, math.inf, "A")
    in_range("rated_ripple", rated_ripple, 0.0, math.inf, "A", open_low=True)
    in_range("rated_rise", rated_rise, 0.0, RISE_MOST, "K", open_low=True)
    rise = rated_rise * (ripple / rated_ripple) ** 2
    if rise > RISE_MOST:
        raise ValueError(
            f"core rise is {rise:.3g} K ({ripple / rated_ripple:.3g} times the rated ripple current): life is not "
            f"assessed above {RISE_MOST:g} K; state a capacitor with a higher rated ripple current"
        )
    return rise


def electrolytic_life(
    rated_life: float,
    rated_temperature: float,
    temperature: float,
    *,
    ripple: float | None = None,
    rated_ripple: float | None = None,
    rated_rise: float = 5.0,
    ripple_form: str = "core rise",
    voltage_ratio: float | None = None,
    voltage_exponent: float | None = None,
) -> Life:
    """Life at a steady temperature [h] = L0 2^((T0 - Ta) / 10) x ripple term x voltage term.

    rated_life L0 [h], given with the rated ripple current flowing where `ripple` is stated
    rated_temperature, temperature: ambient of the can [degC]; from -55 degC to the rated one
    ripple, rated_ripple [A]: neither, and no ripple term; ripple_form "core rise":
    2^(dT0 / (10 - dT0 / 4) - dT / (10 - dT / 4)), or "ratio": Ki^((dT0 - dT) / 10), Ki 2 within the
    rated ripple current and 4 above it
    voltage_ratio: applied over rated [-], with voltage_exponent from the maker [-]: term ratio^-exponent down to 0.6

    >>> electrolytic_life(1000.0, 105.0, 45.0).estimate
    64000.0
    """
    in_range("rated_life", rated_life, 0.0, math.inf, "h", open_low=True)
    in_range("rated_temperature", rated_temperature, 0.0, 200.0, "degC")
    in_range("temperature", temperature, -55.0, rated_temperature, "degC")
    estimate = rated_life * 2 ** ((rated_temperature - temperature) / 10)
    rise = 0.0
    if (ripple is None) != (rated_ripple is None):
        raise ValueError("ripple and rated_ripple belong together: state both or neither")
    if ripple is not None and rated_ripple is not None:
        rise = ripple_rise(ripple, rated_ripple, rated_rise)
        estimate *= _ripple_term(ripple_form, rise, rated_rise)
    if (voltage_ratio is None) != (voltage_exponent is None):
        raise ValueError("voltage_ratio and voltage_exponent belong together: state both, from the maker, or neither")
    if voltage_ratio is not None and voltage_exponent is not None:
        in_range("voltage_ratio", voltage_ratio, 0.0, 1.0, "")
        in_range("voltage_exponent", voltage_exponent, 0.0, 12.0, "")
        estimate *= max(voltage_ratio, VOLTAGE_FLAT) ** -voltage_exponent
    inside = 1.0 if 60.0 <= temperature <= 105.0 else 0.0
    return Life(estimate, min(estimate, CREDIBLE), rise, inside)


def _ripple_term(form: str, rise: float, rated_rise: float) -> float:
    if form == "core rise":
        return float(2 ** (rated_rise / (10 - 0.25 * rated_rise) - rise / (10 - 0.25 * rise)))
    if form == "ratio":
        return float((2 if rise <= rated_rise else 4) ** ((rated_rise - rise) / 10))
    raise ValueError(f"ripple_form {form!r} is not known: state 'core rise' or 'ratio'")


def profile_life(profile: Sequence[tuple[float, float]]) -> float:
    """Life over a repeated profile [h]: 1 / L = sum of share / life.

    profile: (share of the time or hours of it, life at that condition [h])

    >>> round(profile_life([(8.0, 64000.0), (8.0, 32000.0), (8.0, 16000.0)]), 1)
    27428.6
    """
    if not profile:
        raise ValueError("no condition is stated: state at least one share with its life")
    for share, life in profile:
        in_range("share", share, 0.0, math.inf, "")
        in_range("life", life, 0.0, math.inf, "h", open_low=True)
    total = sum(share for share, _ in profile)
    if not total > 0:
        raise ValueError("all shares are 0: state how long each condition lasts")
    return total / sum(share / life for share, life in profile)


def equivalent_temperature(rated_life: float, rated_temperature: float, life: float) -> float:
    """Steady temperature that gives the same life by the ten-degree rule [degC].

    >>> round(equivalent_temperature(1000.0, 105.0, 27428.6), 1)
    57.2
    """
    in_range("rated_life", rated_life, 0.0, math.inf, "h", open_low=True)
    in_range("life", life, 0.0, math.inf, "h", open_low=True)
    return rated_temperature - 10 * math.log2(life / rated_life)


def _core_temperature(outside: float, ripple: float, rated_ripple: float, core_rise: float, share: float) -> float:
    return outside + share * ripple_rise(ripple, rated_ripple, core_rise)


def _combined(slow: float, slow_factor: float, fast: float, fast_factor: float) -> float:
    return combined_ripple([(slow, slow_factor), (fast, fast_factor)])


# Core [degC]: air or case, plus the share of the rise [-] that lies between there and the core.
CORE_TEMPERATURE = giving(
    "core",
    _core_temperature,
    {"outside": 1, "ripple": 1, "rated_ripple": -1, "core_rise": 1, "share": 1},
    {
        "outside": (-10.0, 100.0),
        "ripple": (0.0, 0.6),
        "rated_ripple": (0.2, 1.0),
        "core_rise": (3.0, 10.0),
        "share": (0.0, 1.0),
    },
)
COMBINED_RIPPLE = giving(
    "rms",
    _combined,
    {"slow": 1, "slow_factor": -1, "fast": 1, "fast_factor": -1},
    {"slow": (0.0, 1.0), "slow_factor": (0.4, 1.5), "fast": (0.0, 1.0), "fast_factor": (0.4, 1.5)},
)
