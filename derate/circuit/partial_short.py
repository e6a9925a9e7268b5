"""A partial short across the bulk: power in the series element against the fault's resistance, and the dead zone.

A fusible element opens only above its opening power. A fault that leaves it between its rating and that power overheats
it without opening: the dead zone, as a band of fault resistance. Here of exact figures, with the bulk capacitor or
without; of ranges in `dead_zone`.

Source: pure resistance, P = R (V / (R + r))^2; with a bulk capacitor, own derivation: both the charging and the
discharging bulk are exponentials, walked in exact steps. Checked in tests/circuit/test_line_faults.py.
"""

from __future__ import annotations

from collections.abc import Callable
from math import cos, exp, log, pi, sin, sqrt
from typing import NamedTuple

from derate.circuit.bands import Band, in_range
from derate.circuit.fixed_point import fixed_point

# true / computed - 1, the diodes' drop left out: up to 2 % of the current
ERROR: dict[str, Band] = {"power": (-0.04, 0.02)}
# +1 never falls as the input rises, -1 never rises, 0 no single sign (run every corner)
SIGNS: dict[str, dict[str, int]] = {"power": {"mains": 1, "series_resistance": 0, "fault_resistance": -1}}
_STEPS = 240  # a half cycle


class DeadZone(NamedTuple):
    """Fault resistances [ohm] at which the element runs above its rating and below its opening power.

    lowest 0: even a dead short does not reach the opening power.
    """

    lowest: float
    highest: float


def series_power(mains: float, series_resistance: float, fault_resistance: float, *, frequency: float = 50.0,
                 capacitance: float = 0.0) -> float:  # fmt: skip
    """Power in the series element [W] with a resistance across the bulk and the converter stopped.

    mains [V rms], 1 to 1000; series_resistance: the element [ohm], 0.01 to 1e5; fault_resistance [ohm], 0 to 1e7
    capacitance: bulk that is still there [F], 0 (none) or 1e-9 to 0.01; it makes the current peaky, the power greater
    frequency [Hz], 10 to 1000
    """
    in_range("mains voltage", mains, 1.0, 1000.0, "V")
    in_range("series resistance", series_resistance, 0.01, 1e5, "ohm")
    in_range("fault resistance", fault_resistance, 0.0, 1e7, "ohm")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    if capacitance != 0.0:
        in_range("bulk capacitance", capacitance, 1e-9, 0.01, "F")
    plain = series_resistance * (mains / (series_resistance + fault_resistance)) ** 2
    omega = 2.0 * pi * frequency
    slow = omega * fault_resistance * capacitance
    if slow < 0.01:  # the capacitor holds nothing between the half cycles: under 0.1 % of the power
        return plain
    return _with_bulk(sqrt(2.0) * mains, omega, series_resistance, fault_resistance, capacitance)


def _with_bulk(crest: float, omega: float, series: float, fault: float, capacitance: float) -> float:
    h = pi / _STEPS
    rho, leak = omega * series * capacitance, omega * fault * capacitance
    rate = 1.0 / rho + 1.0 / leak
    charge, decay = exp(-rate * h), exp(-h / leak)
    gain = 1.0 / (rho * (rate * rate + 1.0))  # of the forced part: gain (rate cos + sin), phase from the crest

    def half_cycle(u: float) -> tuple[float, float]:
        square, j = 0.0, 0.0
        theta, c, s = -pi / 2.0, 0.0, -1.0
        for _ in range(_STEPS):
            c1, s1 = cos(theta + h), sin(theta + h)
            off = u * decay
            new = off
            if c > u or c1 > off:
                new = gain * (rate * c1 + s1) + (u - gain * (rate * c + s)) * charge
            j1 = max(0.0, (c1 - new) / rho)
            square += 0.5 * h * (j * j + j1 * j1)
            theta, c, s, u, j = theta + h, c1, s1, new, j1
        return u, square

    found = fixed_point(lambda x: (half_cycle(x[0])[0],), (0.9 * fault / (fault + series),), 1e-6, 0.5)
    if found is None:
        raise ValueError("the fault does not settle with this bulk capacitor: state capacitance 0 F, the bulk gone")
    square = half_cycle(found[0])[1]
    current = omega * capacitance * crest
    return series * square / pi * current * current


def dead_zone(mains: float, series_resistance: float, rated_power: float, opening_power: float, *,
              frequency: float = 50.0, capacitance: float = 0.0) -> DeadZone | None:  # fmt: skip
    """The band of fault resistance that overheats the series element without opening it; None when it is empty.

    rated_power [W], 1e-3 to 1e4; opening_power: above which it is sure to open [W], 1e-3 to 1e7
    others as `series_power`; a bulk capacitor that is still there widens the band upwards, so run it with and without
    An element that a dead short does not overload (V^2 / R below the rating) has no dead zone.
    """
    in_range("rated power", rated_power, 1e-3, 1e4, "W")
    in_range("opening power", opening_power, 1e-3, 1e7, "W")

    def power(fault: float) -> float:
        return series_power(mains, series_resistance, fault, frequency=frequency, capacitance=capacitance)

    if opening_power <= rated_power or power(0.0) <= rated_power:
        return None
    highest = _where(power, rated_power, series_resistance)
    lowest = 0.0 if power(0.0) <= opening_power else _where(power, opening_power, series_resistance)
    return DeadZone(lowest, highest) if lowest < highest else None


def _where(power: Callable[[float], float], wanted: float, scale: float) -> float:
    """Fault resistance at which the power has fallen to `wanted`: bracketed, then false position in the logarithms."""
    low = 1e-3 * scale
    if power(low) <= wanted:
        return low
    high = scale
    while power(high) > wanted:
        low, high = high, 4.0 * high
        if high > 1e7:
            return 1e7
    x0, x1 = log(low), log(high)
    y0, y1 = log(power(low) / wanted), log(power(high) / wanted)
    for _ in range(40):
        x = x0 + (x1 - x0) * y0 / (y0 - y1)
        y = log(power(exp(x)) / wanted)
        if abs(y) < 1e-4:
            return exp(x)
        if y > 0.0:
            x0, y0, y1 = x, y, 0.5 * y1
        else:
            x1, y1, y0 = x, y, 0.5 * y0
    return exp(0.5 * (x0 + x1))
