"""Switch-on of a mains rectifier into its bulk capacitor, with or without inductance ahead of the bridge.

Contents: `Inrush`, `switch_on` (one closing angle), `WorstInrush`, `worst_switch_on` (the angle scanned),
`step_current` (a charged X capacitor plugged in again).

While the diodes conduct the circuit is linear and is solved in closed form:

    L di/dt = Vp sin(wt + angle) - Vd - R i - v,    C dv/dt = i

so i is a sum of exponentials (a phasor pair and one or two decays) and its squared integral is exact. Conduction ends
where i reaches zero; the bridge then blocks, so an overshoot stays on the capacitor. No load is drawn: the converter
has not started. Later refill pulses are followed until they add nothing.

Source: own derivation from Kirchhoff's laws; checked against ngspice in tests/circuit/test_inrush.py.
"""

from __future__ import annotations

from math import asin, atan2, exp, log, pi, sqrt
from typing import NamedTuple

from derate.circuit.numerics import Band, charging_terms, in_range, integral, square_integral, until_zero

# true / computed - 1. 24 ngspice rows read 0.0..+0.5 % high with no drop stated, 20 random ones with inductance within
# 0.3 % (bulk 0.2 %). worst_switch_on finds the maximum over the angle to -0.2 %, of the bulk to -0.3 %.
ERROR: dict[str, Band] = {
    "peak": (-0.01, 0.005),
    "i2t": (-0.01, 0.005),
    "energy": (-0.01, 0.005),
    "bulk_peak": (-0.005, 0.005),
    "time_to_peak": (-0.05, 0.05),
    "equivalent_width": (-0.03, 0.03),
}
# +1 the output never falls as the input rises, -1 it never rises, 0 no single sign (run every corner). For the worst
# closing angle; proved over random supplies by tests/circuit/test_inrush.py.
SIGNS: dict[str, dict[str, int]] = {  # no inductance
    "peak": {"mains": 1, "frequency": -1, "series_resistance": -1, "capacitance": 1, "drop": -1, "start": -1},
    "i2t": {"mains": 1, "frequency": -1, "series_resistance": -1, "capacitance": 1, "drop": -1, "start": -1},
    "energy": {"mains": 1, "frequency": -1, "series_resistance": -1, "capacitance": 1, "drop": -1, "start": -1},
}
SIGNS_INDUCTANCE: dict[str, dict[str, int]] = {
    "peak": SIGNS["peak"] | {"inductance": -1},
    "i2t": SIGNS["i2t"] | {"inductance": 0},
    "energy": SIGNS["energy"] | {"series_resistance": 0, "inductance": 0},
    "bulk_peak": {
        "mains": 1,
        "frequency": 0,
        "series_resistance": -1,
        "capacitance": -1,
        "drop": -1,
        "start": -1,
        "inductance": 0,
    },
}
_REFILLS = 60  # half cycles followed at most


class Inrush(NamedTuple):
    """A switch-on. peak [A]; i2t [A2s]; energy in all the series resistance [J]; times [s]; bulk_peak [V]."""

    peak: float
    i2t: float
    energy: float
    time_to_peak: float  # from closing
    equivalent_width: float  # of a rectangle with the same peak and i2t
    bulk_peak: float


class WorstInrush(NamedTuple):
    """Largest of each quantity over the closing angles, with its angle from the zero crossing [rad]."""

    peak: float
    peak_angle: float
    i2t: float
    i2t_angle: float
    energy: float
    equivalent_width: float  # i2t / peak^2 at the angle of the greatest i2t
    bulk_peak: float
    bulk_peak_angle: float


def switch_on(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    *,
    angle: float = pi / 2,
    start: float = 0.0,
    drop: float = 0.0,
    inductance: float = 0.0,
    half_wave: bool = False,
    refills: bool = True,
) -> Inrush:
    """Current into the bulk capacitor from closing at one phase of the line.

    mains [V rms], 1 to 1000; frequency [Hz], 10 to 1000
    series_resistance: all of it, cold, source included [ohm], 0.001 to 1e5; capacitance [F], 1e-9 to 0.1
    angle: phase of the line at closing, from its zero crossing [rad], 0 to pi (pi / 2 is the crest)
    start: bulk voltage before closing [V], 0 to 2000; drop of the diodes in the path [V], 0 to 20
    inductance: ahead of the bridge, mains and line choke [H], 0 to 1
    refills: follow the later half cycles too; their i2t and peak count
    raises: ValueError with the range, for a value outside it

    Source: module docstring; closed form of each conduction interval.
    """
    in_range("mains voltage", mains, 1.0, 1000.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("series resistance", series_resistance, 1e-3, 1e5, "ohm")
    in_range("bulk capacitance", capacitance, 1e-9, 0.1, "F")
    in_range("closing angle", angle, 0.0, pi, "rad")
    in_range("starting voltage", start, 0.0, 2000.0, "V")
    in_range("diode drop", drop, 0.0, 20.0, "V")
    in_range("inductance", inductance, 0.0, 1.0, "H")
    crest, omega = sqrt(2.0) * mains, 2.0 * pi * frequency
    period = 2.0 * pi if half_wave else pi
    v, phase, clock = start, angle, 0.0
    peak = i2t = at = 0.0
    for turn in range(_REFILLS):
        wait = _next_conduction(phase, (v + drop) / crest, period)
        if wait is None:
            break
        clock += wait / omega
        phase = (phase + wait) % period
        terms = charging_terms(crest, omega, phase, series_resistance, inductance, capacitance, drop, v)
        end, high, when = until_zero(terms, omega)
        added = square_integral(terms, end)
        i2t += added
        if high > peak:
            peak, at = high, clock + when
        v_new = v + integral(terms, end) / capacitance
        if turn and added < 1e-6 * i2t:
            v = v_new
            break
        v, clock, phase = v_new, clock + end, phase + omega * end
        if not refills:
            break
    if refills:  # without load the refills end at the crest, however slowly
        v = max(v, crest - drop)
    width = i2t / (peak * peak) if peak > 0.0 else 0.0
    return Inrush(peak, i2t, series_resistance * i2t, at, width, max(v, start))


def worst_switch_on(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    *,
    start: float = 0.0,
    drop: float = 0.0,
    inductance: float = 0.0,
    half_wave: bool = False,
) -> WorstInrush:
    """Largest peak, i2t and bulk voltage over the closing angle: five from 45 to 105 degrees, then the vertex of each.

    Where one of them is greatest at the first or last of the five, as with much inductance, the walk goes on by the
    same step until it falls or the half cycle ends.
    Arguments, ranges and errors as `switch_on`. The vertex is solved again, so what is returned is a real solution; the
    maximum lies at most 0.2 % above it, of the bulk voltage 0.3 % (tests/circuit/test_inrush.py, against every degree).
    """

    def at(angle: float) -> Inrush:
        return switch_on(
            mains,
            frequency,
            series_resistance,
            capacitance,
            angle=angle,
            start=start,
            drop=drop,
            inductance=inductance,
            half_wave=half_wave,
        )

    step = pi / 12.0
    tried = [(angle, at(angle)) for angle in (k * step for k in range(3, 8))]
    grid = list(tried)

    def walk_on(name: str) -> None:
        while grid[0][0] > 0.5 * step and getattr(grid[0][1], name) > getattr(grid[1][1], name):
            angle = max(0.0, grid[0][0] - step)
            grid.insert(0, (angle, at(angle)))
            tried.append(grid[0])
        while grid[-1][0] < pi - 0.5 * step and getattr(grid[-1][1], name) > getattr(grid[-2][1], name):
            angle = min(pi, grid[-1][0] + step)
            grid.append((angle, at(angle)))
            tried.append(grid[-1])

    for quantity in ("peak", "i2t", "bulk_peak"):
        walk_on(quantity)

    def best(name: str) -> tuple[float, Inrush]:
        values = [getattr(one, name) for _, one in grid]
        k = max(range(len(values)), key=values.__getitem__)
        if 0 < k < len(values) - 1:
            left, mid, right = values[k - 1 : k + 2]
            bend = left - 2.0 * mid + right
            if bend < 0.0:
                angle = grid[k][0] + 0.5 * step * (left - right) / bend
                tried.append((angle, at(angle)))
        return max(tried, key=lambda pair: getattr(pair[1], name))

    peak, i2t, bulk = best("peak"), best("i2t"), best("bulk_peak")
    return WorstInrush(
        peak[1].peak, peak[0], i2t[1].i2t, i2t[0], i2t[1].energy, i2t[1].equivalent_width, bulk[1].bulk_peak, bulk[0]
    )


def step_current(step: float, resistance: float, capacitance: float, inductance: float = 0.0) -> Inrush:
    """A voltage step into R, L and C in series, no diode: what a capacitor ahead of the bridge draws at plug-in.

    step [V], 0 to 4000: the crest for an empty capacitor; twice the crest for one left charged and plugged in against
    the opposite crest, which makes the i2t four times as great
    resistance [ohm], 0.001 to 1e5; capacitance [F], 1e-12 to 0.01; inductance [H], 0 to 1
    The line is taken as constant at its crest: valid while R C and the ringing are short against a quarter cycle.
    bulk_peak is the greatest change of the capacitor's voltage.

    Source: step response of a series R-L-C circuit (any circuit text); i2t = C step^2 / (2 R), all energy ends in R.
    """
    in_range("voltage step", step, 0.0, 4000.0, "V")
    in_range("resistance", resistance, 1e-3, 1e5, "ohm")
    in_range("capacitance", capacitance, 1e-12, 0.01, "F")
    in_range("inductance", inductance, 0.0, 1.0, "H")
    i2t = capacitance * step * step / (2.0 * resistance)
    high = step
    if inductance == 0.0:
        peak, when = step / resistance, 0.0
    else:
        alpha = resistance / (2.0 * inductance)
        square = 1.0 / (inductance * capacitance) - alpha * alpha
        if square > 0.0:
            ring = sqrt(square)
            when = atan2(ring, alpha) / ring
            peak = step * sqrt(capacitance / inductance) * exp(-alpha * when)
            high = step * (1.0 + exp(-alpha * pi / ring))
        else:
            root = sqrt(-square)
            fast, slow = alpha + root, 1.0 / (inductance * capacitance * (alpha + root))
            when = log(fast / slow) / (fast - slow) if fast - slow > 1e-9 * fast else 1.0 / alpha
            peak = step / resistance * (fast + slow) * exp(-slow * when) / fast  # at the maximum s2 e^-s2t = s1 e^-s1t
    width = i2t / (peak * peak) if peak > 0.0 else 0.0
    return Inrush(peak, i2t, resistance * i2t, when, width, high)


def _next_conduction(phase: float, level: float, period: float) -> float | None:
    """Phase to wait from `phase` of the present polarity until the line exceeds `level` of its crest; None: never."""
    if level >= 1.0:
        return None
    first = asin(level) if level > 0.0 else 0.0
    inside = phase % period
    if inside < first:
        return first - inside
    if inside < pi - first - 1e-6:  # the very end of conduction is not a new beginning
        return 0.0
    return first + period - inside
