"""A whole flyback stage at one operating point: primary, clamp and secondary worked out together.

Contents: `Transformer`, `ClampParts`, `Stage`, `stage_at_load` (fixed frequency, power given), `stage_at_boundary`
(self-oscillating, power given), `stage_at_limit` (overload or start-up, peak given), `ringing_loss`.

The clamp burns part of the power and the peak current decides how much: a short fixed-point iteration.
Sources and error bands: `flyback`, `clamp`, `secondary_current`.  Nothing of `derate lint` solves a stage this way: the
ledger works it out row by row, with ranges.  Here the same formulas are put together at one point, so that they can
be held to ngspice as a whole, and so that the ledger's ranges can be held to the stage at every point of a grid.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from derate.circuit.clamp import RcdClamp, rcd_clamp
from derate.circuit.flyback import (
    PrimaryPoint,
    boundary_point,
    lifted_peak,
    limit_power,
    operating_point,
)
from derate.circuit.secondary import SecondaryCurrent, secondary_current


class Transformer(NamedTuple):
    """magnetising, leakage inductance at the primary [H]: their sum is what a meter reads with the other windings open
    reflected: n (Vo + Vf) [V]; turns_ratio: Np/Ns of the secondary looked at [-]; drain_capacitance: lumped [F]
    """

    magnetising: float
    leakage: float
    reflected: float
    turns_ratio: float
    drain_capacitance: float = 0.0

    @property
    def inductance(self) -> float:
        """Primary inductance with the other windings open [H]."""
        return self.magnetising + self.leakage


class ClampParts(NamedTuple):
    """resistance [ohm], capacitance [F] of the clamp; stray: forward recovery and stray inductance [V]"""

    resistance: float
    capacitance: float
    stray: float = 0.0


class Stage(NamedTuple):
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
    bulk: float, delivered: float, frequency: float, transformer: Transformer, parts: ClampParts
) -> Stage:
    """Stage that hands `delivered` [W], sum of (Vo + Vf) Io, to its outputs at a fixed frequency [Hz]; bulk [V].

    >>> stage = stage_at_load(92.0, 66.0, 66e3, Transformer(671e-6, 4.5e-6, 85.0, 22.4), ClampParts(33e3, 10e-9))
    >>> round(stage.primary.peak, 2), round(stage.clamp.loss, 2)
    (2.01, 1.09)
    """

    def point(power: float) -> PrimaryPoint:
        return operating_point(
            bulk,
            power,
            transformer.inductance,
            transformer.reflected,
            frequency,
            leakage=transformer.leakage,
            drain_capacitance=transformer.drain_capacitance,
        )

    return _settled(point, bulk, delivered, transformer, parts)


def stage_at_boundary(
    bulk: float,
    delivered: float,
    transformer: Transformer,
    parts: ClampParts,
    *,
    idle: float = 0.0,
    frequency_range: tuple[float, float] = (0.0, math.inf),
) -> Stage:
    """As `stage_at_load` with the frequency following the load; idle [s] and frequency_range [Hz] as `boundary_point`.

    >>> stage = stage_at_boundary(300.0, 20.0, Transformer(8e-4, 1e-5, 100.0, 8.0), ClampParts(1e5, 4.7e-9))
    >>> round(stage.primary.frequency / 1e3), stage.primary.mode
    (173, 'boundary')
    """

    def point(power: float) -> PrimaryPoint:
        return boundary_point(
            bulk,
            power,
            transformer.inductance,
            transformer.reflected,
            idle=idle,
            frequency_range=frequency_range,
            leakage=transformer.leakage,
            drain_capacitance=transformer.drain_capacitance,
        )

    return _settled(point, bulk, delivered, transformer, parts)


def stage_at_limit(bulk: float, peak: float, frequency: float, transformer: Transformer, parts: ClampParts) -> Stage:
    """Stage whose switch opens at `peak` [A] (`peak_at_limit`): the largest load before shut-down, or start-up.

    The output is taken as still regulated; during start-up a lower output reflects less, so this is the upper figure
    for switch and clamp.  bulk [V]; frequency [Hz].

    >>> stage = stage_at_limit(375.0, 2.8, 66e3, Transformer(671e-6, 4.5e-6, 85.0, 22.4), ClampParts(33e3, 10e-9))
    >>> round(stage.clamp.switch_peak), round(stage.delivered)
    (624, 139)
    """
    t = transformer
    power = limit_power(peak, bulk, t.inductance, t.reflected, frequency, t.leakage, t.drain_capacitance)
    primary = operating_point(
        bulk,
        power,
        t.inductance,
        t.reflected,
        frequency,
        leakage=t.leakage,
        drain_capacitance=t.drain_capacitance,
    )
    clamp = _clamp(primary, bulk, t, parts)
    burnt = clamp.loss + ringing_loss(t.drain_capacitance, clamp.voltage - t.reflected, frequency)
    return Stage(primary, clamp, _secondary(primary, clamp, bulk, t), power - burnt)


def _settled(
    point: Callable[[float], PrimaryPoint], bulk: float, delivered: float, transformer: Transformer, parts: ClampParts
) -> Stage:
    loss = 0.0
    for _ in range(200):
        primary = point(delivered + loss)
        clamp = _clamp(primary, bulk, transformer, parts)
        rise = clamp.voltage - transformer.reflected
        burnt = clamp.loss + ringing_loss(transformer.drain_capacitance, rise, primary.frequency)
        if abs(burnt - loss) <= 1e-10 * (delivered + loss):
            return Stage(primary, clamp, _secondary(primary, clamp, bulk, transformer), delivered)
        loss = burnt
    raise ValueError(
        f"clamp loss does not settle ({loss:.3g} W for {delivered:.3g} W delivered): "
        "state a smaller leakage or a higher clamp resistance"
    )


def _clamp(primary: PrimaryPoint, bulk: float, transformer: Transformer, parts: ClampParts) -> RcdClamp:
    t = transformer
    return rcd_clamp(
        bulk,
        t.reflected,
        t.leakage,
        lifted_peak(primary.peak, bulk, t.reflected, t.inductance, t.drain_capacitance),
        primary.frequency,
        parts.resistance,
        parts.capacitance,
        drain_capacitance=t.drain_capacitance,
        stray=parts.stray,
    )


def _secondary(primary: PrimaryPoint, clamp: RcdClamp, bulk: float, transformer: Transformer) -> SecondaryCurrent:
    t = transformer
    return secondary_current(
        primary,
        bulk,
        t.inductance,
        t.reflected,
        t.turns_ratio,
        leakage=t.leakage,
        clamp_rise=clamp.voltage - t.reflected,
        drain_capacitance=t.drain_capacitance,
    )
