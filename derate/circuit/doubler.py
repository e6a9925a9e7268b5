"""Voltage doubler: two capacitors in series, each charged by its own half cycle, constant-power load across both.

    line - R - two diodes - C, C in series - P;  the other line conductor joins the capacitors

Contents: `Doubled`, `doubler_steady_state`, `doubler_switch_on`.

While one diode conducts, R C da/dt = Vp cos(wt) - Vd - a - R I and C db/dt = -I with I = P/(a + b); blocked, both fall
alike and (a + b)^2 falls in a straight line. Half a cycle later the capacitors have changed places.

Source: own derivation from Kirchhoff's laws; checked against ngspice in tests/circuit/test_doubler.py.
"""

from __future__ import annotations

from math import acos, cos, exp, log, pi, sin, sqrt
from typing import NamedTuple

from derate.circuit.inrush import Inrush, switch_on
from derate.circuit.numerics import Band, fixed_point, in_range
from derate.circuit.rectifier import STOP

# true / computed - 1: near-ideal diodes within 0.3 % of ngspice (10 random supplies); a real diode taken as a fixed
# drop adds what rectifier.ERROR states, which is included.
ERROR: dict[str, Band] = {
    "bulk_max": (-0.003, 0.004),
    "bulk_min": (-0.003, 0.008),
    "bulk_mean": (-0.003, 0.006),
    "capacitor_max": (-0.003, 0.004),
    "capacitor_min": (-0.003, 0.01),
    "line_rms": (-0.02, 0.004),
    "line_peak": (-0.035, 0.005),
    "capacitor_rms": (-0.022, 0.004),
    "diode_average": (-0.005, 0.01),
    "diode_rms": (-0.02, 0.004),
    "diode_reverse": (-0.003, 0.004),
    "line_power": (-0.005, 0.01),
    "resistor_power": (-0.04, 0.008),
}
# +1 the output rises with the input, -1 it falls, 0 no single sign (run every corner). Proved over random supplies by
# the test, for valleys above half of the doubled crest; below it run every corner.
SIGNS: dict[str, dict[str, int]] = {
    "bulk_min": {"mains": 1, "frequency": 1, "series_resistance": -1, "capacitance": 1, "load": -1, "drop": -1},
    "bulk_max": {"mains": 1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": -1, "drop": -1},
    "capacitor_max": {"mains": 1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": -1, "drop": -1},
    "line_rms": {"mains": -1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": 1, "drop": 1},
    "line_peak": {"mains": -1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": 1, "drop": 1},
    "capacitor_rms": {"mains": -1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": 1, "drop": 1},
    "resistor_power": {"mains": -1, "frequency": 0, "series_resistance": 1, "capacitance": 0, "load": 1, "drop": 1},
    "diode_average": {"mains": -1, "frequency": -1, "series_resistance": 1, "capacitance": -1, "load": 1, "drop": 1},
}
_PIECES = 32


class Doubled(NamedTuple):
    """Steady state of a doubler [V, A, W]. bulk: across both capacitors; capacitor: each one alone."""

    bulk_max: float
    bulk_min: float
    bulk_mean: float
    capacitor_max: float
    capacitor_min: float
    capacitor_rms: float  # current at the line frequency and its harmonics; no switching part
    line_rms: float
    line_peak: float
    diode_average: float
    diode_rms: float
    diode_peak: float
    diode_reverse: float  # the whole bulk voltage and one drop
    line_power: float
    resistor_power: float
    diode_power: float


class _Sums:
    __slots__ = ("a_high", "bulk", "charge", "high", "low", "low_one", "peak", "real", "ripple", "square")

    def __init__(self) -> None:
        self.bulk = self.charge = self.square = self.ripple = self.real = self.peak = self.high = self.a_high = 0.0
        self.low = self.low_one = 9.0


def doubler_steady_state(
    mains: float, frequency: float, series_resistance: float, capacitance: float, load: float, drop: float = 0.0
) -> Doubled | None:
    """Steady state of the doubler.

    mains [V rms], 10 to 600; frequency [Hz], 10 to 1000; series_resistance [ohm], 0.001 to 1000
    capacitance: of each capacitor [F], 1e-8 to 0.01; load: drawn from both in series [W], 1e-6 to 10000
    drop: of the one diode that conducts [V], 0 to a tenth of the crest
    returns: the state, or None when the load cannot be carried (the bulk below a quarter of the doubled crest)
    raises: ValueError with the range, for a value outside it; for a circuit too slow to settle

    Source: module docstring.
    """
    in_range("mains voltage", mains, 10.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("series resistance", series_resistance, 1e-3, 1e3, "ohm")
    in_range("capacitance", capacitance, 1e-8, 0.01, "F")
    in_range("load", load, 1e-6, 1e4, "W")
    crest = sqrt(2.0) * mains
    in_range("diode drop", drop, 0.0, crest / 10.0, "V")
    omega = 2.0 * pi * frequency
    unit = omega * capacitance * crest
    rho, power, delta = omega * series_resistance * capacitance, load / (unit * crest), drop / crest

    def advance(state: tuple[float, ...]) -> tuple[float, ...] | None:
        return _half_cycle(rho, power, delta, state[0], state[1], None)

    full = 1.0 - delta
    # R-limited guess: (2/3) x^3 / rho is the charge of an arc of half width x, pi P the load's in crests squared
    depth = min(0.3, 0.5 * (1.5 * pi * rho * power) ** (2.0 / 3.0))
    start = (full - depth - min(0.4, 2.36 * power), full - depth - min(0.2, 0.79 * power))
    small = 1e-4 * (depth + power)
    found = fixed_point(advance, start, small, 0.3)
    if found is None:
        return None
    sums = _Sums()
    if _half_cycle(rho, power, delta, found[0], found[1], sums) is None:
        return None
    rms, mean = sqrt(sums.square / pi) * unit, sums.charge / pi * unit
    return Doubled(
        bulk_max=sums.high * crest,
        bulk_min=sums.low * crest,
        bulk_mean=sums.bulk / pi * crest,
        capacitor_max=sums.a_high * crest,
        capacitor_min=sums.low_one * crest,
        capacitor_rms=sqrt(sums.ripple / (2.0 * pi)) * unit,
        line_rms=rms,
        line_peak=sums.peak * unit,
        diode_average=mean / 2.0,
        diode_rms=rms / sqrt(2.0),
        diode_peak=sums.peak * unit,
        diode_reverse=sums.high * crest + drop,
        line_power=sums.real / pi * unit * crest,
        resistor_power=series_resistance * rms * rms,
        diode_power=drop * mean,
    )


def _half_cycle(
    rho: float, power: float, delta: float, a: float, b: float, sums: _Sums | None
) -> tuple[float, float] | None:
    """From one zero crossing to the next, a charged: the two in their next roles (b, a); None on collapse."""
    entry = _entry(power, delta, a, b)
    if entry is None:
        return None
    a, b = _fall(power, a, b, entry + pi / 2.0, sums)
    theta, j, rate = entry, 0.0, 1.0 / rho
    c, s = cos(theta), sin(theta)
    k = 1.0 / (rho * (rate * rate + 1.0))
    full = -entry / _PIECES if entry < 0.0 else pi / 64.0
    h = min(full, 0.5 * rho)
    while theta < pi / 2.0 - 1e-12:
        h = min(h, pi / 2.0 - theta)
        middle = a + b + 0.5 * h * (j - 2.0 * power / (a + b))
        i = power / middle
        base = -(delta / rho + i) / rate
        rest = a - k * (rate * c + s) - base
        end = h
        a1 = k * (rate * cos(theta + h) + sin(theta + h)) + base + rest * exp(-rate * h)
        done = cos(theta + h) - delta <= a1 and theta + h > -0.999 * abs(entry)
        if done:
            low, high = 0.0, h
            for _ in range(40):
                end = 0.5 * (low + high)
                x = theta + end
                ended = cos(x) - delta <= k * (rate * cos(x) + sin(x)) + base + rest * exp(-rate * end)
                low, high = (low, end) if ended else (end, high)
            end = high
        c1, s1 = cos(theta + end), sin(theta + end)
        a1 = k * (rate * c1 + s1) + base + rest * exp(-rate * end)
        b1 = b - i * end
        j1 = 0.0 if done else max(0.0, (c1 - delta - a1) / rho)
        if sums is not None:
            x = theta + 0.5 * end
            cm, sm = cos(x), sin(x)
            am = k * (rate * cm + sm) + base + rest * exp(-rate * 0.5 * end)
            jm = max(0.0, (cm - delta - am) / rho)
            _add(sums, end, (c, cm, c1), (j, jm, j1), (a, am, a1), (b, b - 0.5 * i * end, b1), i)
        theta, c, s, a, b, j = theta + end, c1, s1, a1, b1, j1
        if a + b < 2.0 * STOP or min(a, b) < 0.02:
            return None
        if done:
            break
        h = min(full, 1.5 * h)
    if pi / 2.0 - theta > 0.0:
        if (a + b) ** 2 - 4.0 * power * (pi / 2.0 - theta) < (2.0 * STOP) ** 2:
            return None
        a, b = _fall(power, a, b, pi / 2.0 - theta, sums)
    return (b, a) if min(a, b) > 0.02 else None


def _entry(power: float, delta: float, a: float, b: float) -> float | None:
    """Phase at which the rising line reaches the falling capacitor; None when the bulk collapses before."""
    total = a + b
    low, high = -pi / 2.0, 0.0
    for _ in range(45):
        x = 0.5 * (low + high)
        square = total * total - 4.0 * power * (x + pi / 2.0)
        if square < (2.0 * STOP) ** 2:
            high = x
            continue
        gap = a - 0.5 * (total - sqrt(square)) + delta - cos(x)
        low, high = (x, high) if gap > 0.0 else (low, x)
    square = total * total - 4.0 * power * (high + pi / 2.0)
    if square < (2.0 * STOP) ** 2:
        return None
    return max(high, -acos(max(-1.0, min(1.0, delta))))


def _fall(power: float, a: float, b: float, span: float, sums: _Sums | None) -> tuple[float, float]:
    """Both capacitors discharged alike for a span of phase."""
    total = a + b
    after = sqrt(total * total - 4.0 * power * span)
    step = 0.5 * (total - after)
    if sums is not None and span > 0.0:
        sums.bulk += 2.0 / 3.0 * span * (total * total + total * after + after * after) / (total + after)
        sums.ripple += 2.0 * 0.5 * power * log(total / after)  # both capacitors carry P/(a + b)
        sums.high, sums.low = max(sums.high, total), min(sums.low, after)
        sums.a_high = max(sums.a_high, a, b)
        sums.low_one = min(sums.low_one, a - step, b - step)
    return a - step, b - step


def _add(
    sums: _Sums,
    h: float,
    c: tuple[float, float, float],
    j: tuple[float, float, float],
    a: tuple[float, float, float],
    b: tuple[float, float, float],
    i: float,
) -> None:
    w = (h / 6.0, 4.0 * h / 6.0, h / 6.0)
    for n in range(3):
        sums.bulk += w[n] * (a[n] + b[n])
        sums.charge += w[n] * j[n]
        sums.square += w[n] * j[n] * j[n]
        sums.real += w[n] * c[n] * j[n]
        sums.ripple += w[n] * ((j[n] - i) ** 2 + i * i)
        sums.peak = max(sums.peak, j[n])
        sums.high, sums.low = max(sums.high, a[n] + b[n]), min(sums.low, a[n] + b[n])
        sums.a_high = max(sums.a_high, a[n], b[n])
        sums.low_one = min(sums.low_one, a[n], b[n])


def doubler_switch_on(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    *,
    angle: float = pi / 2,
    start: float = 0.0,
    drop: float = 0.0,
    inductance: float = 0.0,
) -> Inrush:
    """Switch-on of a doubler: one capacitor in the first half cycle, the other in the next, from its zero crossing.

    capacitance: of each; start: voltage of each before [V]; others, ranges and errors as inrush.switch_on
    i2t and energy add both capacitors; peak is the greater; bulk_peak is the sum of both. No load, and the two currents
    are taken not to overlap (an inductance that carries one current into the other's half cycle is left out).
    """
    first = switch_on(
        mains,
        frequency,
        series_resistance,
        capacitance,
        angle=angle,
        start=start,
        drop=drop,
        inductance=inductance,
        half_wave=True,
    )
    second = switch_on(
        mains,
        frequency,
        series_resistance,
        capacitance,
        angle=0.0,
        start=start,
        drop=drop,
        inductance=inductance,
        half_wave=True,
    )
    i2t = first.i2t + second.i2t
    sharp = first if first.peak >= second.peak else second
    wait = 0.0 if sharp is first else (pi - angle) / (2.0 * pi * frequency)
    width = i2t / sharp.peak**2 if sharp.peak > 0.0 else 0.0
    return Inrush(
        sharp.peak,
        i2t,
        first.energy + second.energy,
        wait + sharp.time_to_peak,
        width,
        first.bulk_peak + second.bulk_peak,
    )
