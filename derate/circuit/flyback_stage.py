"""A whole flyback stage at one operating point: primary, clamp and secondary worked out together.

Contents: `Stage`, `stage_at_load` (regulated, power given), `stage_at_limit` (overload or start-up, peak given),
`ringing_loss`.

The clamp burns part of the power and the peak current decides how much: a short fixed-point iteration.
Sources and error bands: `flyback`, `clamp`, `secondary_current`.
"""

from __future__ import annotations

from dataclasses import dataclass

from derate.circuit.clamp import RcdClamp, rcd_clamp
from derate.circuit.flyback import PrimaryPoint, lifted_peak, limit_power, operating_point
from derate.circuit.secondary_current import SecondaryCurrent, secondary_current

SIGNS: dict[str, dict[str, int]] = {
    "peak": {"bulk": -1, "delivered": 1, "magnetising": -1, "frequency": -1, "resistance": -1},
    "switch_peak": {"bulk": 0, "delivered": 1, "leakage": 1},
    "limit_switch_peak": {"bulk": 1, "peak": 1, "leakage": 1, "resistance": 0, "reflected": 1},
}


@dataclass(frozen=True, slots=True)
class Stage:
    """primary, clamp and secondary of one point; delivered: to the rectifiers and their outputs [W]"""

    primary: PrimaryPoint
    clamp: RcdClamp
    secondary: SecondaryCurrent
    delivered: float


def ringing_loss(drain_capacitance: float, rise: float, frequency: float) -> float:
    """Loss of the drain's ringing after the clamp lets go [W] = C x^2 f / 2.  [F], x = Vc - VR [V], [Hz].  Own.

    >>> round(ringing_loss(1e-10, 115.0, 65e3), 4)
    0.043
    """
    return 0.5 * drain_capacitance * rise**2 * frequency


def stage_at_load(
    bulk: float,
    delivered: float,
    magnetising: float,
    leakage: float,
    reflected: float,
    turns_ratio: float,
    frequency: float,
    resistance: float,
    capacitance: float,
    *,
    drain_capacitance: float = 0.0,
    stray: float = 0.0,
) -> Stage:
    """Stage that hands `delivered` [W], sum of (Vo + Vf) Io, to its outputs at a fixed frequency [Hz].

    bulk, reflected [V]; magnetising and leakage inductance [H], their sum is what a meter reads with windings open
    resistance [ohm] and capacitance [F] of the clamp; the rest as `operating_point` and `rcd_clamp`.

    >>> stage = stage_at_load(92.0, 66.0, 671e-6, 4.5e-6, 85.0, 22.4, 66e3, 33e3, 10e-9)
    >>> round(stage.primary.peak, 2), round(stage.clamp.loss, 2)
    (2.01, 1.09)
    """
    inductance, loss = magnetising + leakage, 0.0
    for _ in range(200):
        power = delivered + loss
        primary = operating_point(
            bulk, power, inductance, reflected, frequency, leakage=leakage, drain_capacitance=drain_capacitance
        )
        lifted = lifted_peak(primary.peak, bulk, reflected, inductance, drain_capacitance)
        clamp = rcd_clamp(
            bulk,
            reflected,
            leakage,
            lifted,
            frequency,
            resistance,
            capacitance,
            drain_capacitance=drain_capacitance,
            stray=stray,
        )
        burnt = clamp.loss + ringing_loss(drain_capacitance, clamp.voltage - reflected, frequency)
        if abs(burnt - loss) <= 1e-10 * (delivered + loss):
            break
        loss = burnt
    else:
        raise ValueError(
            f"clamp loss does not settle ({loss:.3g} W for {delivered:.3g} W delivered): "
            "state a smaller leakage or a higher clamp resistance"
        )
    secondary = secondary_current(
        primary,
        bulk,
        inductance,
        reflected,
        turns_ratio,
        leakage=leakage,
        clamp_rise=clamp.voltage - reflected,
        drain_capacitance=drain_capacitance,
    )
    return Stage(primary, clamp, secondary, delivered)


def stage_at_limit(
    bulk: float,
    peak: float,
    magnetising: float,
    leakage: float,
    reflected: float,
    turns_ratio: float,
    frequency: float,
    resistance: float,
    capacitance: float,
    *,
    drain_capacitance: float = 0.0,
    stray: float = 0.0,
) -> Stage:
    """Stage whose peak current is held at `peak` [A] (`peak_at_limit`): the largest load before shut-down, or start-up.

    Other inputs as `stage_at_load`.  The output is taken as still regulated; during start-up a lower output reflects
    less, so this is the upper figure for switch and clamp.

    >>> stage = stage_at_limit(375.0, 2.8, 671e-6, 4.5e-6, 85.0, 22.4, 66e3, 33e3, 10e-9)
    >>> round(stage.clamp.switch_peak), round(stage.delivered)
    (624, 139)
    """
    inductance = magnetising + leakage
    power = limit_power(peak, bulk, inductance, reflected, frequency, leakage)
    power += 0.5 * drain_capacitance * (bulk**2 - reflected**2) * frequency
    primary = operating_point(
        bulk, power, inductance, reflected, frequency, leakage=leakage, drain_capacitance=drain_capacitance
    )
    lifted = lifted_peak(primary.peak, bulk, reflected, inductance, drain_capacitance)
    clamp = rcd_clamp(
        bulk,
        reflected,
        leakage,
        lifted,
        frequency,
        resistance,
        capacitance,
        drain_capacitance=drain_capacitance,
        stray=stray,
    )
    secondary = secondary_current(
        primary,
        bulk,
        inductance,
        reflected,
        turns_ratio,
        leakage=leakage,
        clamp_rise=clamp.voltage - reflected,
        drain_capacitance=drain_capacitance,
    )
    ringing = ringing_loss(drain_capacitance, clamp.voltage - reflected, frequency)
    return Stage(primary, clamp, secondary, power - clamp.loss - ringing)
