"""Ripple current and life of aluminium electrolytic capacitors.

Contents: `bulk_switching_ripple`, `combined_ripple`, `ripple_rise`, `Life`, `electrolytic_life`, `profile_life`,
`equivalent_temperature`.

Lives are in the unit of the rated life (hours in every data sheet). Temperatures are degC, differences K.
Sources: Rubycon technical note 4 (ten-degree rule and its limits) and life sheet (core rise; read from a garbled copy);
Jianghai model (ripple and voltage terms of the other form); Cosel Technical Q&A a0057 (profile by rates).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from derate.circuit.bands import Band, in_range

CREDIBLE = 131400.0  # ceiling of any life claimed [h], 15 years: common practice, no source
RISE_MOST = 20.0  # highest core rise the ripple term holds for [K]; it has a pole at 40 K
VOLTAGE_FLAT = 0.6  # below this ratio of applied to rated voltage nothing more is gained [-] (Jianghai model)
RULE_SPAN = (70.0, 90.0)  # where the ten-degree rule is good [degC] (Rubycon); it deviates below 60 and above 105

# true / computed - 1. Makers' life figures are estimates; a factor of two either way is common practice, no source.
ERROR: dict[str, Band] = {
    "life": (-0.5, 1.0),
    "bulk_switching_ripple": (-0.10, 0.05),  # edges and the share of a film or second capacitor left out: reads high
    "combined_ripple": (-0.05, 0.05),
}

SIGNS: dict[str, dict[str, int]] = {
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
    With two capacitors and a choke all of it goes to the second.  Source: text-book, the form of AN-4137 eq 24.

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
    ripple, rated_ripple [A]: neither, and no ripple term; ripple_form "core rise" (Rubycon):
    2^(dT0 / (10 - dT0 / 4) - dT / (10 - dT / 4)), or "ratio" (Jianghai model): Ki^((dT0 - dT) / 10), Ki 2 within the
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
