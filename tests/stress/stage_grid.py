"""A flyback stage on arrays: the equations of `flyback_stage` for many bulk voltages and loads at once.

For the grid of the acceptance test. Every design's points are held to `flyback_stage` at a sample, which is held to
ngspice; the balances of charge and energy are taken here from the shapes of the currents, at all points.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from flyback_stage import ClampParts, Transformer

Array = np.ndarray[Any, np.dtype[np.float64]]


class Points(NamedTuple):
    """One stage at each point; fields as `PrimaryPoint`, `RcdClamp` and `SecondaryCurrent`, drain: its capacitance."""

    frequency: Array
    duty: Array
    secondary_duty: Array
    peak: Array
    valley: Array
    rms: Array
    power: Array
    clamp_voltage: Array
    clamp_loss: Array
    switch_peak: Array
    secondary_average: Array
    secondary_rms: Array
    drain: Array
    continuous: Array
    # for the balances
    lifted: Array
    main: Array  # on-time without the commutation, as a share of the period
    left: Array  # what is left in the leakage inductance when the clamp begins to conduct [A]


def stages(
    bulk: Array, delivered: Array, frequency: float, boundary: bool, transformer: Transformer, parts: ClampParts
) -> Points:
    """The stage at each bulk voltage [V] and power to the outputs [W]; boundary: up to `frequency`, else at it [Hz].

    Where the drain capacitance alone would carry the load (outside the range) it is left out, which reads high.
    """
    drain = np.full_like(bulk, transformer.drain_capacitance)
    found, light = _settled(bulk, delivered, frequency, boundary, transformer, parts, drain)
    if light.any():
        drain = np.where(light, 0.0, drain)
        found, light = _settled(bulk, delivered, frequency, boundary, transformer, parts, drain)
    assert not light.any()
    return found


def _settled(
    bulk: Array, delivered: Array, most: float, boundary: bool, t: Transformer, parts: ClampParts, drain: Array
) -> tuple[Points, Array]:
    inductance, leakage, reflected = t.inductance, t.leakage, t.reflected
    magnetising, resistance = inductance - leakage, parts.resistance
    step = drain * (bulk**2 - reflected**2)  # twice the energy the drain capacitance brings in a cycle
    pace = 1.0 / bulk + magnetising / inductance / reflected
    loss, wait = np.zeros_like(bulk), np.zeros_like(bulk)
    along = np.zeros_like(bulk)  # peak of the continuous current, as it settles
    light = np.zeros(len(bulk), dtype=bool)
    for _ in range(400):
        power = delivered + loss
        frequency = np.full_like(bulk, most)
        free, at_edge, waits = np.zeros(len(bulk), dtype=bool), along, wait
        if boundary:  # L I² / 2 + brought = P (L I pace + wait): as fast as that, but no faster than `most`
            root = (power * pace) ** 2 + 2.0 * (power * wait - 0.5 * step) / inductance
            at_edge = power * pace + np.sqrt(np.maximum(root, 0.0))
            light |= root < 0.0
            waits = magnetising * (_lifted(at_edge, step, inductance) - at_edge) / reflected
            natural = 1.0 / (inductance * at_edge * pace + wait)
            free = natural <= most
            frequency = np.where(free, natural, most)
        carried = power - 0.5 * step * frequency
        light |= carried <= 0.0
        carried = np.maximum(carried, 1e-9)
        # discontinuous
        alone = np.sqrt(2.0 * carried / (inductance * most))
        duty, lifted = alone * inductance * most / bulk, _lifted(alone, step, inductance)
        conduction = lifted * magnetising * most / reflected
        continuous = ~free & (duty + conduction > 1.0 + 1e-12)
        # continuous: mean current = commutation triangle + trapezoid
        along = np.where(along > 0.0, along, alone)
        lift = _lifted(along, step, inductance) - along
        main = (reflected - magnetising * lift * most) / (reflected + bulk * magnetising / inductance)
        ripple = bulk * main / (inductance * most)
        slope, rest = 0.5 * leakage * most / (bulk + reflected), np.maximum(0.0, carried / bulk - main * ripple / 2.0)
        valley = 2.0 * rest / (main + np.sqrt(main**2 + 4.0 * slope * rest))
        new = valley + ripple
        peak = np.where(free, at_edge, np.where(continuous, new, alone))
        lifted = _lifted(peak, step, inductance)
        # clamp: x (x + VR) = R f (Llk I² - C x²) / 2
        lead, drive = 1.0 + 0.5 * resistance * frequency * drain, 0.5 * resistance * frequency * leakage * lifted**2
        rise = 2.0 * drive / (reflected + np.sqrt(reflected**2 + 4.0 * lead * drive))
        burnt = (reflected + rise) ** 2 / resistance + 0.5 * drain * rise**2 * frequency
        off = np.abs(burnt - loss) + power * np.where(continuous, np.abs(new / along - 1.0), 0.0)
        off += power * np.abs(waits - wait) * frequency
        loss, along, wait = burnt, np.where(continuous, new, 0.0), waits
        if (off[~light] <= 1e-11 * (delivered + loss)[~light]).all():
            break
    else:
        raise AssertionError("the stage does not settle")
    valley = np.where(continuous, valley, 0.0)
    main = np.where(continuous, main, peak * inductance * frequency / bulk)
    fall = leakage * valley / (bulk + reflected)
    duty = main + fall * frequency
    rms = np.sqrt(_square(valley, peak, main) + fall * frequency * valley**2 / 3.0)
    conduction = np.where(continuous, 1.0 - duty, lifted * magnetising * frequency / reflected)
    clamp = reflected + rise
    ripple = clamp / (resistance * parts.capacitance * frequency)
    left = np.sqrt(np.maximum(0.0, lifted**2 - drain * rise**2 / leakage))
    # secondary: takes over while the leakage's current dies in the clamp, gives over while the next cycle's rises
    ratio, start = t.turns_ratio, leakage * left / rise
    end, length = ratio * valley, np.where(continuous, (1.0 - duty) / frequency + fall, conduction / frequency)
    top = ratio * (lifted - reflected * start / magnetising)
    charge = 0.5 * (ratio * lifted + end) * length - ratio * 0.5 * left * start - 0.5 * end * fall
    square = _square(top, end, (length - start - fall) * frequency) + (top**2 * start + end**2 * fall) * frequency / 3.0
    return Points(
        frequency, duty, conduction, peak, valley, rms, power, clamp, clamp**2 / resistance,
        bulk + clamp + ripple / 2.0 + parts.stray, charge * frequency, np.sqrt(square), drain, continuous,
        lifted, main, left,
    ), light  # fmt: skip


def _lifted(peak: Array, step: Array, inductance: float) -> Array:
    return np.sqrt(np.maximum(0.0, peak**2 + step / inductance))


def _square(start: Array, end: Array, duty: Array) -> Array:
    return duty * (start**2 + start * end + end**2) / 3.0


def left_over(points: Points, bulk: Array, delivered: Array, t: Transformer, parts: ClampParts) -> dict[str, float]:
    """What is left over of each balance, as a share of the whole: greatest over the points.

    energy: what comes from the bulk, by the shape of the switch current, is what goes to the outputs, by the charge of
    the secondary, into the clamp's resistor and into the ringing of the drain
    flux: volt-seconds of the magnetising inductance over a period
    clamp: charge that the leakage brings to the clamp's capacitor, and what its resistor takes: mean current zero
    """
    f, fall = points.frequency, t.leakage * points.valley / (bulk + t.reflected)
    drawn = 0.5 * (points.valley + points.peak) * points.main + 0.5 * points.valley * fall * f
    rise = points.clamp_voltage - t.reflected
    rung = 0.5 * points.drain * rise**2 * f
    # the drain capacitance takes its charge from the bulk as it rises to the plateau, and the switch burns what it held
    brought = 0.5 * points.drain * (bulk**2 - t.reflected**2) * f
    out = points.secondary_average / t.turns_ratio * t.reflected
    energy = (bulk * drawn + brought) / (out + points.clamp_voltage**2 / parts.resistance + rung) - 1.0
    magnetising = t.inductance - t.leakage
    up = bulk * points.main * magnetising / t.inductance + magnetising * (points.lifted - points.peak) * f
    down = t.reflected * np.where(points.continuous, 1.0 - points.main, points.secondary_duty)
    start = t.leakage * points.left / rise
    clamp = 0.5 * points.left * start * f / (points.clamp_voltage / parts.resistance) - 1.0
    asked = out / delivered - 1.0
    return {name: float(np.abs(one).max()) for name, one in (
        ("energy", energy), ("flux", up / down - 1.0), ("clamp", clamp), ("load", asked))}  # fmt: skip
